; Pans what is in video memory by hand: the right and left arrow keys move the start address, a step a frame; Esc ends.
; For the 64 KiB 256-colour class; the picture is what the bench has laid.
;
; The start address is written while the beam displays, so that the next frame takes it over whole.
;       nasm -f bin -o keys.com keys.asm

        cpu 8086
        org 100h

controller equ 3D4h             ; index port; data follows
status  equ 3DAh                ; bit 0: nothing displayed, bit 3: vertical sync

escape  equ 01h                 ; scan codes
left    equ 4Bh
right   equ 4Dh

start:  xor     bx, bx          ; start address
.frame: call    retrace
        call    display
        call    set_start
        mov     ah, 1           ; is there a key?
        int     16h
        jz      .frame
        mov     ah, 0
        int     16h
        cmp     ah, escape
        je      .end
        cmp     ah, right
        jne     .other
        inc     bx
.other: cmp     ah, left
        jne     .frame
        dec     bx
        jmp     .frame
.end:   mov     ax, 4C00h
        int     21h

%include "beam.inc"
