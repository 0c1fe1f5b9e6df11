; A fade through the firmware's block of the DAC, in retrace. WRONG in the middle of the picture.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 0101h
        mov     cx, 32000
        rep     stosw
        push    cs
        pop     es
        mov     bp, 60
.step:  mov     ax, bp
        mov     di, levels
        mov     cx, 24
        rep     stosb
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     ax, 1012h
        mov     bx, 0
        mov     cx, 8
        mov     dx, levels
..@culprit: int    10h
        sub     bp, 10
        jns     .step
        finish
levels: times   24 db 0
