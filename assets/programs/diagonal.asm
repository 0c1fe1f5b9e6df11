; A line of single pixels by set/reset and bit mask: 640 by 480, 16 colours, on VGA-class boards. A pixel is yellow (14)
; where its column is its line, and black elsewhere.
;       nasm -f bin -o diagonal.com diagonal.asm

        cpu 8086
        org 100h

graphics equ 3CEh

        mov     ax, 0012h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        mov     dx, graphics
        mov     ax, 0E00h       ; set/reset: the colour
        out     dx, ax
        mov     ax, 0F01h       ; for all four planes
        out     dx, ax
        xor     di, di
        xor     bx, bx
.pixel: mov     cl, bl
        and     cl, 7
        mov     ah, 80h
        shr     ah, cl
        mov     al, 8
        out     dx, ax
        mov     si, bx
        mov     cl, 3
        shr     si, cl
        add     si, di
        or      [es:si], al     ; reads into the latches and writes
        add     di, 80
        inc     bx
        cmp     bx, 480
        jb      .pixel
        mov     ax, 0001h       ; as it was
        out     dx, ax
        mov     ax, 0FF08h
        out     dx, ax
        mov     ax, 4C00h
        int     21h
