; Changes between the two sets of four colours in each retrace. WRONG in the middle of the picture.
%include "trade.inc"
        mov     ax, 0004h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 1B1Bh
        mov     cx, 2000h
        rep     stosw
        mov     bp, 12
        mov     bl, 0
.frame:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        xor     bl, 20h
        mov     dx, 3D9h
        mov     al, bl
..@culprit: out    dx, al
        dec     bp
        jnz     .frame
        finish
