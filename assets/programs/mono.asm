; 720 by 348 in two colours on a monochrome board: four banks of lines, set up register by register. A pixel is lit where a
; byte column and a line are both even or both odd.
;       nasm -f bin -o mono.com mono.asm

        cpu 8086
        org 100h

controller equ 3B4h

        mov     dx, 3BFh
        mov     al, 1           ; graphics are allowed
        out     dx, al
        mov     dx, 3B8h
        mov     al, 2           ; graphics, dark
        out     dx, al
        mov     dx, controller
        mov     si, table
        xor     bx, bx
.set:   mov     al, bl
        mov     ah, [si + bx]
        out     dx, ax
        inc     bx
        cmp     bx, 12
        jb      .set
        mov     ax, 0B000h
        mov     es, ax
        cld
        xor     dx, dx          ; line
.line:  mov     ax, dx
        shr     ax, 1
        shr     ax, 1
        mov     bx, 90
        push    dx
        mul     bx
        pop     dx
        mov     di, ax
        mov     ax, dx
        and     ax, 3
        mov     cl, 13
        shl     ax, cl
        add     di, ax
        xor     cx, cx
.byte:  mov     al, cl
        xor     al, dl
        and     al, 1
        dec     al              ; FFh where both are alike
        stosb
        inc     cx
        cmp     cx, 90
        jb      .byte
        inc     dx
        cmp     dx, 348
        jb      .line
        mov     dx, 3B8h
        mov     al, 0Ah         ; graphics, shown
        out     dx, al
        mov     ax, 4C00h
        int     21h

table:  db      35h, 2Dh, 2Eh, 07h, 5Bh, 02h, 57h, 57h, 02h, 03h, 00h, 00h
