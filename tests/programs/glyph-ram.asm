; Characters as pixels: an own glyph in plane 2, changed in each retrace, so that all of the screen moves though no text is
; written. WRONG changes it in the middle of the picture.
%include "trade.inc"
        mov     ax, 0003h
        int     10h
        mov     ah, 01h         ; no cursor
        mov     cx, 2000h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 0FDBh       ; character DBh, bright
        mov     cx, 2000
        rep     stosw
        xor     bp, bp
.frame: mov     cx, bp          ; a bar goes round in the glyph
        and     cl, 7
        mov     bl, 80h
        ror     bl, cl
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     dx, sequencer
        mov     ax, 0402h       ; plane 2
        out     dx, ax
        mov     ax, 0704h       ; in a row
        out     dx, ax
        mov     dx, graphics
        mov     ax, 0005h
        out     dx, ax
        mov     ax, 0406h       ; A0000h, 64 KiB
        out     dx, ax
        mov     ax, 0A000h
        mov     es, ax
        mov     di, 0DBh * 32
        mov     al, bl
        mov     cx, 16
..@culprit: rep stosb
        mov     ax, 0E06h       ; B8000h, 32 KiB
        out     dx, ax
        mov     ax, 1005h       ; even and odd again
        out     dx, ax
        mov     dx, sequencer
        mov     ax, 0302h
        out     dx, ax
        mov     ax, 0304h
        out     dx, ax
        inc     bp
        cmp     bp, 16
        jb      .frame
        finish
