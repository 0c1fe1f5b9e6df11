; A water line: colour 0 is dark above it and blue below, and the line sinks by two scan lines a frame. Colour 0 goes back
; in each retrace. WRONG forgets that, and takes another blue each time: no bar, but a colour written in the picture.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     bp, 40          ; scan line
        cli
.frame: call    retrace
%ifndef WRONG
        xor     bl, bl
        call    colour
%endif
        call    display
        mov     cx, bp
        mov     dx, status
.line:  in      al, dx
        test    al, 1
        jz      .line
.gap:   in      al, dx
        test    al, 1
        jnz     .gap
        loop    .line
.last:  in      al, dx
        test    al, 1
        jz      .last
%ifdef WRONG
        mov     bx, bp
        and     bl, 63
%else
        mov     bl, 42
%endif
        call    colour
        add     bp, 2
        cmp     bp, 60
        jb      .frame
        sti
        finish

; Gives colour 0 the blue in BL.
colour: mov     dx, 3C8h
        xor     al, al
        out     dx, al
        inc     dx
        out     dx, al
        out     dx, al
        mov     al, bl
..@culprit: out    dx, al
        ret
