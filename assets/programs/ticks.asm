; Hooks the user's tick (interrupt 1Ch), lets it draw a bar a tick, takes its hook away and ends in text. MASKED masks the
; timer and waits for ever.
;       nasm -f bin -o ticks.com ticks.asm

        cpu 8086
        org 100h

        mov     ax, 0013h
        int     10h
        mov     ax, 351Ch
        int     21h
        mov     [old], bx
        mov     [old + 2], es
        mov     ax, 251Ch
        mov     dx, handler
        int     21h
%ifdef MASKED
        in      al, 21h
        or      al, 3
        out     21h, al
%endif
wait_:  hlt
        cmp     word [count], 8
        jb      wait_
        lds     dx, [old]
        mov     ax, 251Ch
        int     21h
        mov     ax, 0003h
        int     10h
        mov     ax, 4C00h
        int     21h

; Bar n of eight lines is of colour n + 1.
handler:
        push    ax
        push    cx
        push    dx
        push    di
        push    es
        mov     ax, 0A000h
        mov     es, ax
        mov     ax, [cs:count]
        mov     cx, 8 * 320
        mul     cx
        mov     di, ax
        inc     word [cs:count]
        mov     al, [cs:count]
        rep     stosb
        pop     es
        pop     di
        pop     dx
        pop     cx
        pop     ax
        iret

count:  dw      0
old:    dw      0, 0
