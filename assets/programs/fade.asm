; Fades white to black through the DAC, a step a frame, in retrace.
;       nasm -f bin -o fade.com fade.asm

        cpu 8086
        org 100h

status  equ 3DAh
controller equ 3D4h

        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        mov     cx, 32000
        mov     ax, 0F0Fh
        rep     stosw
        mov     bl, 63
.step:  call    display
        call    retrace
        mov     dx, 3C8h
        mov     al, 15
        out     dx, al
        inc     dx
        mov     al, bl
        out     dx, al
        out     dx, al
        out     dx, al
        dec     bl
        jns     .step
        call    display
        call    retrace
        mov     ax, 4C00h
        int     21h

%include "beam.inc"
