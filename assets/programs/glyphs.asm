; Glyphs of its own in text: a chequered letter, and 50 rows of characters eight lines high, on VGA-class boards.
;       nasm -f bin -o glyphs.com glyphs.asm

        cpu 8086
        org 100h

        mov     ax, 0003h
        int     10h
        mov     ax, 1112h       ; eight lines a character
        mov     bl, 0
        int     10h
        mov     ax, ds
        mov     es, ax
        mov     ax, 1100h
        mov     bx, 0800h
        mov     cx, 1
        mov     dx, 'A'
        mov     bp, chequered
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 0F41h
        mov     cx, 80 * 50
        rep     stosw
        mov     ax, 0100h       ; no cursor
        mov     cx, 2000h
        int     10h
        mov     ax, 4C00h
        int     21h

chequered: db   0AAh, 55h, 0AAh, 55h, 0AAh, 55h, 0AAh, 55h
