; Blocks of 16 by 40 in four colours, drawn line by line in both banks of lines. WRONG steps by 90 bytes, the pitch of
; another board.
%include "trade.inc"
%ifdef WRONG
pitch   equ 90
%else
pitch   equ 80
%endif
        mov     ax, 0004h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        mov     bp, 10          ; blocks
        mov     bx, 4 * 80      ; where the next begins: line 8
        mov     al, 55h
.block: mov     di, bx
        call    half
        mov     di, bx
        add     di, 2000h
        call    half
        add     bx, 8
        add     al, 55h
        dec     bp
        jnz     .block
        finish

; Twenty lines of one bank.
half:   mov     dx, 20
.line:  mov     cx, 4
..@culprit: rep    stosb
        add     di, pitch - 4
        dec     dx
        jnz     .line
        ret
