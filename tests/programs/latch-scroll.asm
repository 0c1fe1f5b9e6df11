; A window of 80 by 24 moves up by a row each frame through the latches, in retrace. WRONG while the beam is on it.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        mov     ds, ax
        cld
        mov     dx, sequencer
        mov     ax, 0F02h
        out     dx, ax
        xor     di, di          ; stripes, one more every 40 bytes
        xor     bx, bx
.line:  mov     al, bl
        mov     cx, 40
        rep     stosb
        inc     bx
        cmp     bx, 200
        jb      .line
        mov     dx, graphics
        mov     ax, 0105h       ; write mode 1
        out     dx, ax
        mov     bp, 10
.frame:
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 2437
.on:    loop    .on
%else
        next_retrace
%endif
        mov     di, 88 * 40 + 10
        mov     bx, 24
.row:   lea     si, [di + 40]
        mov     cx, 10
..@culprit: rep    movsb
        add     di, 30
        dec     bx
        jnz     .row
        dec     bp
        jnz     .frame
        mov     dx, graphics
        mov     ax, 0005h
        out     dx, ax
        push    cs
        pop     ds
        finish
