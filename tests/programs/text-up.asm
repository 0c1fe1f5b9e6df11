; 80 columns rolled up by a row every second frame: the row that enters is drawn in retrace, half of it at a time, before
; the start address moves. WRONG draws it when the picture has begun: snow.
%include "trade.inc"
        mov     ax, 0003h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     bx, bx          ; start address
        mov     bp, 0F41h
.step:  add     bx, 80
        mov     di, bx          ; the row below the picture that starts there
        add     di, 24 * 80
        add     di, di
        mov     si, 2
.half:
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 10
.on:    loop    .on
%else
        next_retrace
%endif
        mov     cx, 40
        mov     ax, bp
.cell:
..@culprit: stosw
        loop    .cell
        dec     si
        jnz     .half
        inc     bp
        call    display
        call    set_start
        cmp     bx, 80 * 8
        jb      .step
        finish
