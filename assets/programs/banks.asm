; Four colours in two banks of lines: 320 by 200 on colour-graphics boards and all that follow their layout. A pixel is a
; quarter of its column plus its line, modulo 4.
;       nasm -f bin -o banks.com banks.asm

        cpu 8086
        org 100h

        mov     ax, 0004h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     dx, dx          ; line
.line:  mov     ax, dx
        shr     ax, 1
        mov     bx, 80
        push    dx
        mul     bx
        pop     dx
        mov     di, ax
        test    dl, 1
        jz      .even
        add     di, 2000h
.even:  xor     cx, cx          ; byte column: four pixels
.byte:  mov     bx, cx
        add     bx, dx
        and     bx, 3
        mov     al, [colours + bx]
        stosb
        inc     cx
        cmp     cx, 80
        jb      .byte
        inc     dx
        cmp     dx, 200
        jb      .line
        mov     ax, 4C00h
        int     21h

colours: db     00h, 55h, 0AAh, 0FFh
