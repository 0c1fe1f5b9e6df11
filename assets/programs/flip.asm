; Two pages of planes, one shown while the other is drawn: each frame has one colour, never two. For EGA- and VGA-class
; boards, 320 by 200, 16 colours. VISIBLE draws on the page that is shown: frames of two colours.
;       nasm -f bin -o flip.com flip.asm

        cpu 8086
        org 100h

status  equ 3DAh
controller equ 3D4h
sequencer equ 3C4h

        mov     ax, 000Dh
        int     10h
        cld
        mov     bp, 1           ; colour; its lowest bit chooses the page
.frame: mov     ax, 0A000h      ; page 0
        test    bp, 1
%ifdef VISIBLE
        jnz     .first
%else
        jz      .first
%endif
        mov     ax, 0A200h      ; page 1
.first: mov     es, ax
        mov     bx, 1           ; planes one by one
.plane: mov     dx, sequencer
        mov     al, 2
        mov     ah, bl
        out     dx, ax
        xor     ax, ax
        test    bp, bx
        jz      .dark
        dec     ax
.dark:  xor     di, di
        mov     cx, 4000
        rep     stosw
        shl     bl, 1
        cmp     bl, 16
        jb      .plane
        call    display         ; the address is written while the beam displays, and taken over when retrace begins
        mov     dx, controller
        mov     ax, 000Ch
        test    bp, 1
        jz      .show
        mov     ah, 20h
.show:  out     dx, ax
        call    retrace
        inc     bp
        cmp     bp, 9
        jb      .frame
        call    display
        call    retrace
        mov     ax, 4C00h
        int     21h

%include "beam.inc"
