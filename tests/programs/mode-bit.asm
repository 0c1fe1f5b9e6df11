; Turns four colours off and on again by the mode port (black and white), every frame, in retrace. WRONG in the picture.
%include "trade.inc"
        mov     ax, 0004h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 0E4E4h
        mov     cx, 2000h
        rep     stosw
        mov     bp, 12
        mov     bl, 0Ah
.frame:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        xor     bl, 10h         ; 640 columns of two colours
        mov     dx, 3D8h
        mov     al, bl
..@culprit: out    dx, al
        dec     bp
        jnz     .frame
        finish
