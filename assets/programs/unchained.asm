; 320 by 240 in 256 colours, unchained, on VGA-class boards: plane by plane through the map mask. A pixel is its column plus
; its line.
;       nasm -f bin -o unchained.com unchained.asm

        cpu 8086
        org 100h

sequencer equ 3C4h
controller equ 3D4h

        mov     ax, 0013h
        int     10h
        mov     dx, sequencer
        mov     ax, 0604h       ; four planes, none chained
        out     dx, ax
        mov     ax, 0100h       ; held in reset while the clock changes
        out     dx, ax
        mov     dx, 3C2h
        mov     al, 0E3h        ; 480 lines
        out     dx, al
        mov     dx, sequencer
        mov     ax, 0300h
        out     dx, ax
        mov     dx, controller
        mov     al, 11h         ; registers 0 to 7 are protected
        out     dx, al
        inc     dx
        in      al, dx
        and     al, 7Fh
        out     dx, al
        dec     dx
        mov     si, table
        mov     cx, (table_end - table) / 2
.set:   lodsw
        out     dx, ax
        loop    .set

        mov     ax, 0A000h
        mov     es, ax
        xor     bp, bp          ; plane
.plane: mov     cx, bp
        mov     ah, 1
        shl     ah, cl
        mov     al, 2           ; map mask
        mov     dx, sequencer
        out     dx, ax
        xor     di, di
        xor     dx, dx          ; line
.line:  mov     bx, bp          ; column
.pixel: mov     al, bl
        add     al, dl
        stosb
        add     bx, 4
        cmp     bx, 320
        jb      .pixel
        inc     dx
        cmp     dx, 240
        jb      .line
        inc     bp
        cmp     bp, 4
        jb      .plane
        mov     ax, 4C00h
        int     21h

; Index in the lower byte, value in the upper one.
table:  dw      0D06h, 3E07h, 4109h, 0EA10h, 0AC11h, 0DF12h, 0014h, 0E715h, 0616h, 0E317h
table_end:
