; Palette bars: the blue of colour 0 goes up from bar to bar down the screen, changed while the beam is between lines.
; For boards with a DAC; video memory is cleared to colour 0.
;
; Index, red and green are written ahead; the blue level, which makes the DAC take the colour over, follows as soon as
; the line has ended.
;       nasm -f bin -o bars.com bars.asm

        cpu 8086
        org 100h

%ifndef FRAMES
%define FRAMES 4
%endif

status  equ 3DAh
dac_index equ 3C8h
dac_data equ 3C9h
controller equ 3D4h
bars    equ 16
bar_lines equ 25                ; scan lines of a bar: sixteen fill the screen

start:  mov     ax, 0013h
        int     10h
        cli                     ; no tick may come between the beam and us
        mov     bp, FRAMES
.frame: call    retrace
        xor     bl, bl          ; blue level of the first bar
        call    ahead
        mov     al, bl
        out     dx, al
        call    display         ; the first line is under way
        mov     si, bars - 1
.bar:   add     bl, 4
        call    ahead
        mov     cx, bar_lines - 1
        mov     dx, status
.line:  in      al, dx          ; to the end of this line
        test    al, 1
        jz      .line
.gap:   in      al, dx          ; to the next
        test    al, 1
        jnz     .gap
        loop    .line
        mov     ah, bl
.last:  in      al, dx          ; the bar's last line
        test    al, 1
        jz      .last
        mov     al, ah
        mov     dx, dac_data
        out     dx, al
        mov     dx, status
.next:  in      al, dx
        test    al, 1
        jnz     .next
        dec     si
        jnz     .bar
        dec     bp
        jnz     .frame
        sti
        mov     ax, 4C00h
        int     21h

; Writes index, red and green; DX stays at the port for blue.
ahead:  mov     dx, dac_index
        xor     al, al
        out     dx, al
        mov     dx, dac_data
        out     dx, al
        out     dx, al
        ret

%include "beam.inc"
