; Hooks the keyboard: each key down moves a block, drawn in retrace; the fourth ends the program. WRONG does not end the
; interrupt, so that no second key comes.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 3509h
        int     21h
        mov     [old], bx
        mov     [old + 2], es
        mov     ax, 2509h
        mov     dx, handler
        int     21h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     bx, bx          ; keys drawn
        mov     al, 15
        call    block
.wait:
..@culprit: cmp    bl, [keys]
        je      .wait
        next_retrace
        xor     al, al
        call    block
        inc     bx
        mov     al, 15
        call    block
        cmp     bl, 4
        jb      .wait
        push    ds
        lds     dx, [old]
        mov     ax, 2509h
        int     21h
        pop     ds
        finish

; A block of 8 by 8 at column 16 BX in the colour AL.
block:  mov     di, bx
        mov     cl, 4
        shl     di, cl
        add     di, 100 * 320
        mov     dx, 8
.line:  mov     cx, 8
        rep     stosb
        add     di, 320 - 8
        dec     dx
        jnz     .line
        ret

handler:
        push    ax
        in      al, 60h
        test    al, 80h
        jnz     .up
        inc     byte [cs:keys]
.up:    in      al, 61h
        mov     ah, al
        or      al, 80h
        out     61h, al
        mov     al, ah
        out     61h, al
%ifndef WRONG
        mov     al, 20h
        out     20h, al
%endif
        pop     ax
        iret

keys:   db      0
old:    dw      0, 0
