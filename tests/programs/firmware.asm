; Text and graphics by firmware alone: modes, characters, strings, scrolling, a pixel, back to text. WRONG writes one string
; past it, where the board may be displaying.
%include "trade.inc"
        mov     si, modes
.mode:  lodsb
        cmp     al, 0FFh
        je      .done
        xor     ah, ah
        int     10h
        push    si
        mov     ah, 9
        mov     dx, hello
        int     21h
        mov     ax, 0E41h
        mov     bx, 0001h
        int     10h
        mov     ax, 0942h
        mov     bx, 0003h
        mov     cx, 5
        int     10h
        mov     ax, 0601h
        mov     bh, 0
        mov     cx, 0
        mov     dx, 1827h
        int     10h
        pop     si
        jmp     .mode
.done:  mov     ax, 0003h
        int     10h
        mov     ah, 9
        mov     dx, hello
        int     21h
%ifdef WRONG
        mov     ax, 0B800h
        mov     es, ax
        cld
        mov     bx, 3
.again: mov     di, 160
        mov     ax, 0757h
        mov     cx, 80 * 24
..@culprit: rep    stosw
        dec     bx
        jnz     .again
%endif
        mov     ax, 4C00h
        int     21h

modes:  db      1, 3, 4, 6, 3, 0FFh
hello:  db      'Low water at six.', 13, 10, '$'
