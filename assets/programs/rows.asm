; Text rolled up by the start address, a row a frame: 80 columns on colour-graphics boards. Row n of memory is full of the
; letter n, from A on, each drawn in retrace: a board that snows shows none.
;       nasm -f bin -o rows.com rows.asm

        cpu 8086
        org 100h

status  equ 3DAh
controller equ 3D4h

        mov     ax, 0003h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     bx, 0741h
.row:   call    display
        call    retrace
        mov     ax, bx
        mov     cx, 80
        rep     stosw
        inc     bx
        cmp     bl, 'A' + 40
        jb      .row
        xor     bx, bx
.frame: call    display
        call    set_start
        call    retrace
        add     bx, 80
        cmp     bx, 80 * 16
        jb      .frame
        call    display
        call    retrace
        mov     ax, 4C00h
        int     21h

%include "beam.inc"
