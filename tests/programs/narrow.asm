; Shows 32 characters of 40, centred, on the 64 KiB class. WRONG forgets that the registers are protected.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        xor     dx, dx
.line:  mov     al, dl
        mov     cx, 256
        rep     stosb
        inc     dx
        cmp     dx, 200
        jb      .line
        call    retrace
        mov     dx, controller
%ifndef WRONG
        mov     ax, 0010h
        out     dx, ax
%endif
        mov     ax, 1F01h
..@culprit: out    dx, ax
        mov     ax, 2602h
        out     dx, ax
        mov     ax, 8010h
        out     dx, ax
        finish
