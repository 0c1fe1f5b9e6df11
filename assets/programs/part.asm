; The part that overlay.asm loads: fills 256 colours' screen with the colour in AL.
;       nasm -f bin -o PART.BIN part.asm

        cpu 8086
        org 0

        push    es
        mov     bx, 0A000h
        mov     es, bx
        xor     di, di
        mov     cx, 64000
        rep     stosb
        pop     es
        retf
