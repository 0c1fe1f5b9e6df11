; A tile drawn once beyond the picture and copied all over it through the latches (write mode 1), four planes a byte: for
; EGA- and VGA-class boards in 320 by 200, 16 colours. A pixel is its column exclusive-or its line, modulo 8.
;       nasm -f bin -o latches.com latches.asm

        cpu 8086
        org 100h

sequencer equ 3C4h
graphics equ 3CEh
tile    equ 8000                ; behind the picture

        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        mov     ds, ax
        cld
        mov     dx, graphics    ; write mode 2: a byte is a colour, the bit mask says for which pixels
        mov     ax, 0205h
        out     dx, ax
        xor     bx, bx          ; line of the tile
.line:  mov     cl, 0           ; its column
.pixel: mov     ah, 80h
        shr     ah, cl
        mov     al, 8           ; bit mask
        out     dx, ax
        mov     al, [tile + bx] ; into the latches
        mov     al, cl
        xor     al, bl
        mov     [tile + bx], al
        inc     cl
        cmp     cl, 8
        jb      .pixel
        inc     bx
        cmp     bx, 8
        jb      .line

        mov     ax, 0FF08h
        out     dx, ax
        mov     ax, 0105h       ; write mode 1
        out     dx, ax
        xor     di, di
        xor     bx, bx          ; line of the picture
.row:   mov     si, bx
        and     si, 7
        mov     cx, 40
.byte:  mov     al, [tile + si]
        stosb
        loop    .byte
        inc     bx
        cmp     bx, 200
        jb      .row
        mov     ax, 0005h
        out     dx, ax
        mov     ax, 4C00h
        int     21h
