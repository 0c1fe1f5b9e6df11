; The timer, started in each retrace, turns the background green in the middle of the picture: always at the same line. WRONG
; lets it run on by itself and turns the background to and fro, wherever the beam is.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 3508h
        int     21h
        mov     [old], bx
        mov     [old + 2], es
        mov     ax, 2508h
        mov     dx, handler
        int     21h
%ifdef WRONG
        mov     al, 36h
        out     43h, al
        mov     ax, 23000       ; a frame and a third
        out     40h, al
        mov     al, ah
        out     40h, al
%endif
        mov     bp, 20
.frame:
%ifdef WRONG
        hlt
%else
        next_retrace
        xor     al, al
        call    green
        cli
        mov     al, 30h         ; once
        out     43h, al
        mov     ax, 9000
        out     40h, al
        mov     al, ah
        out     40h, al
        sti
%endif
        dec     bp
        jnz     .frame
        timer_back
        finish

; The background in so much green.
green:  push    dx
        push    ax
        mov     dx, 3C8h
        xor     al, al
        out     dx, al
        inc     dx
        out     dx, al
        pop     ax
        out     dx, al
        xor     al, al
..@culprit: out     dx, al
        pop     dx
        ret

handler:
        push    ax
%ifdef WRONG
        xor     byte [cs:shade], 63
%endif
        mov     al, [cs:shade]
        call    green
        mov     al, 20h
        out     20h, al
        pop     ax
        iret
%ifdef WRONG
shade:  db      0
%else
shade:  db      63
%endif
old:    dw      0, 0
