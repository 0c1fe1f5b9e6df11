; Text of 40 columns rolled up through all of memory and round its end; the row that enters is drawn where the board will
; look for it. WRONG stops drawing: old rows come by again, out of line.
%include "trade.inc"
first   equ 8192 - 40 * 30      ; start address of the first frame, in characters
        mov     ax, 0001h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        mov     bx, first
        xor     bp, bp          ; rows drawn
.fill:  call    row
        add     bx, 40
        inc     bp
        cmp     bp, 25
        jb      .fill
        mov     bx, first
        call    display
        call    set_start
.frame: call    retrace
        push    bx
        add     bx, 25 * 40
%ifdef WRONG
        cmp     bx, 8192
        jae     .no
%endif
        call    row
.no:    pop     bx
        inc     bp
        add     bx, 40
        call    display
        push    bx
        and     bx, 1FFFh
        mov     dx, controller
        mov     al, 0Ch
        mov     ah, bh
        out     dx, ax
        mov     al, 0Dh
        mov     ah, bl
..@culprit: out    dx, ax
        pop     bx
        cmp     bx, first + 40 * 20
        jb      .frame
        finish

; Row BP of the text at address BX.
row:    mov     di, bx
        add     di, di
        and     di, 3FFFh
        mov     ax, bp
        and     al, 15
        add     ax, 0741h
        mov     cx, 40
.cell:  stosw
        and     di, 3FFFh
        loop    .cell
        ret
