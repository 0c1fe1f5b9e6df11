; The interrupt of vertical retrace (request 2): each draws eight pixels more. WRONG does not end the interrupt.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 350Ah
        int     21h
        mov     [old], bx
        mov     [old + 2], es
        mov     ax, 250Ah
        mov     dx, handler
        int     21h
        cli
        in      al, 21h
        and     al, 0FBh
        out     21h, al
        mov     dx, controller
        mov     ax, 0B11h       ; let an old request go, then arm
        out     dx, ax
        mov     ax, 1B11h
        out     dx, ax
        sti
        mov     ax, 0A000h
        mov     es, ax
.wait:  hlt
..@culprit: cmp     word [count], 20
        jb      .wait
        cli
        mov     dx, controller
        mov     ax, 2B11h
        out     dx, ax
        in      al, 21h
        or      al, 4
        out     21h, al
        push    ds
        lds     dx, [old]
        mov     ax, 250Ah
        int     21h
        pop     ds
        sti
        finish

handler:
        push    ax
        push    dx
        push    di
        mov     dx, 3C2h
        in      al, dx
        test    al, 80h         ; is it ours?
        jz      .end
        mov     di, [cs:count]
        mov     byte [es:di], 0FFh
        inc     word [cs:count]
        mov     dx, controller
        mov     ax, 0B11h
        out     dx, ax
        mov     ax, 1B11h
        out     dx, ax
.end:
%ifndef WRONG
        mov     al, 20h
        out     20h, al
%endif
        pop     di
        pop     dx
        pop     ax
        iret
old:    dw      0, 0
count:  dw      0
