; 256 colours, a byte a pixel: every pixel is its column exclusive-or its line.
;       nasm -f bin -o texture.com texture.asm

        cpu 8086
        org 100h

        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        xor     di, di
        xor     dx, dx          ; line
.line:  xor     bx, bx          ; column
.pixel: mov     al, bl
        xor     al, dl
        stosb
        inc     bx
        cmp     bx, 320
        jb      .pixel
        inc     dx
        cmp     dx, 200
        jb      .line
        mov     ax, 4C00h
        int     21h
