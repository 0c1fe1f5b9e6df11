; 160 by 100 in sixteen colours on a colour-graphics board: text of two scan lines a row, every cell a left half in the
; foreground's colour and a right half in the background's. A block is its column plus its row, modulo 16.
;       nasm -f bin -o blocks.com blocks.asm

        cpu 8086
        org 100h

controller equ 3D4h

        mov     ax, 0003h
        int     10h
        mov     dx, 3D8h
        mov     al, 1           ; 80 columns, dark, bright backgrounds
        out     dx, al
        mov     dx, controller
        mov     si, table
        mov     cx, 5
.set:   lodsw
        out     dx, ax
        loop    .set
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        xor     dx, dx          ; row
.row:   xor     bx, bx          ; block
.cell:  mov     al, 0DDh        ; left half
        stosb
        mov     al, bl
        add     al, dl
        and     al, 15          ; the left block
        mov     ah, al
        inc     ah
        mov     cl, 4
        shl     ah, cl          ; the right block
        or      al, ah
        stosb
        add     bx, 2
        cmp     bx, 160
        jb      .cell
        inc     dx
        cmp     dx, 100
        jb      .row
        mov     dx, 3D8h
        mov     al, 9
        out     dx, al
        mov     ax, 4C00h
        int     21h

; Total, displayed, sync of 127 rows of two lines; two lines a row; no cursor.
table:  dw      7F04h, 6406h, 7007h, 0109h, 200Ah
