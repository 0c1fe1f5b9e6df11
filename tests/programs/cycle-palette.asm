; Palette registers 1 to 3 of the attribute controller go round each frame, in retrace. WRONG in the middle of the picture.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     dx, sequencer   ; plane 0 and 1: stripes of colours 0 to 3
        mov     ax, 0102h
        out     dx, ax
        xor     di, di
        mov     ax, 0FF00h
        mov     cx, 4000
        rep     stosw
        mov     ax, 0202h
        out     dx, ax
        xor     di, di
        mov     cx, 2000
.four:  xor     ax, ax
        stosw
        dec     ax
        stosw
        loop    .four
        xor     bp, bp
.frame:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     bx, 1
.entry: mov     al, bl
        out     dx, al          ; the screen is dark meanwhile
        mov     ax, bp
        add     al, bl
        and     al, 7
..@culprit: out    dx, al
        inc     bx
        cmp     bl, 4
        jb      .entry
        mov     al, 20h
        out     dx, al
        inc     bp
        cmp     bp, 12
        jb      .frame
        finish
