; Sixteen entries of the DAC go round by one each frame, in retrace. WRONG writes them whenever it is ready.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        mov     cx, 64000
.pixel: mov     ax, di
        and     al, 15
        add     al, 32
        stosb
        loop    .pixel
        xor     bp, bp
.frame:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     dx, 3C8h
        mov     al, 32
        out     dx, al
        inc     dx
        mov     cx, 16
        mov     bx, bp
.entry: and     bx, 15
        mov     al, bl
        add     al, al
        out     dx, al
        out     dx, al
        add     al, al
..@culprit: out    dx, al
        inc     bx
        loop    .entry
        inc     bp
        cmp     bp, 12
        jb      .frame
        finish
