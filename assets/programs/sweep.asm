; Sweep: shows what is in video memory from one start address after the other, a frame each, then ends.
; For the 64 KiB 256-colour class; the picture is what the bench has laid.
;
; The start address is written while the beam displays, so that the next frame takes it over whole.
;       nasm -f bin -o sweep.com sweep.asm

        cpu 8086
        org 100h

%ifndef STEPS
%define STEPS 64                ; start addresses shown, from 0
%endif

controller equ 3D4h             ; index port; data follows
status  equ 3DAh                ; bit 0: nothing displayed, bit 3: vertical sync

start:  xor     bx, bx          ; start address
.step:  call    retrace
        call    display
        call    set_start
        inc     bx
        cmp     bx, STEPS
        jb      .step
        call    retrace         ; the last one is shown, too
        call    display
        call    retrace
        call    display
        mov     ax, 4C00h
        int     21h

%include "beam.inc"
