; Smooth panning of planes over a screen that is split: the upper 150 lines move by a pixel a frame, the lower 50 stand.
; For VGA-class boards in 320 by 200, 16 colours: four planes, the board in that mode already.
;
; A row of memory has 42 bytes, so that up to 16 pixels beyond the edge are there. Above, at 2000h: byte column c of row y
; has the colour c + y; below, at 0: c xor y (both modulo 16). Every frame: the start address while the beam displays, the
; panning once vertical sync has begun, when the start address has been taken over.
;
;       nasm -f bin -o panning.com panning.asm

        cpu 8086
        org 100h

controller equ 3D4h
status  equ 3DAh
sequencer equ 3C4h
attribute equ 3C0h
video   equ 0A000h
pitch   equ 42
upper   equ 2000h
split   equ 2 * 150 - 1         ; scan line after which the address begins at 0 again

start:  mov     ax, video
        mov     es, ax
        cld
        call    draw
        call    program
        xor     bx, bx          ; pixels moved
.frame: call    display
        push    bx
        mov     cl, 3
        shr     bx, cl
        add     bx, upper
        call    set_start
        pop     bx
        call    retrace
        mov     dx, status      ; the next write to the attribute controller is an index
        in      al, dx
        mov     dx, attribute
        mov     al, 13h + 20h
        out     dx, al
        mov     al, bl
        and     al, 7
        out     dx, al
        inc     bx
        cmp     bx, 16
        jb      .frame
        call    display         ; the last frame is shown whole
        call    retrace
        call    display
        mov     ax, 4C00h
        int     21h

; Draws both pictures, plane by plane.
draw:   mov     bp, 1           ; the plane's bit
.plane: mov     dx, sequencer
        mov     ax, bp
        mov     ah, al
        mov     al, 2           ; map mask
        out     dx, ax
        mov     di, upper
        xor     dx, dx          ; row
.row:   xor     cx, cx          ; byte column
.byte:  mov     ax, cx
        add     ax, dx
        call    put
        inc     cx
        cmp     cx, pitch
        jb      .byte
        inc     dx
        cmp     dx, 200
        jb      .row
        xor     di, di
        xor     dx, dx
.row2:  xor     cx, cx
.byte2: mov     ax, cx
        xor     ax, dx
        call    put
        inc     cx
        cmp     cx, pitch
        jb      .byte2
        inc     dx
        cmp     dx, 50
        jb      .row2
        shl     bp, 1
        cmp     bp, 16
        jb      .plane
        ret

; Puts eight pixels' bits of one plane: all set where colour AX has the bit BP.
put:    test    ax, bp
        mov     al, 0
        jz      .dark
        dec     al
.dark:  stosb
        ret

; Pitch and split.
program:
        mov     dx, controller
        mov     al, 11h         ; registers 0 to 7 are protected
        mov     cx, 7F00h
        call    change
        mov     ax, 13h + (pitch / 2) * 256
        out     dx, ax
        mov     ax, 18h + (split & 255) * 256
        out     dx, ax
        mov     al, 7           ; bit 8 of the split
        mov     cx, 0EF10h
        call    change
        mov     al, 9           ; bit 9 of it
        mov     cx, 0BF00h
        call    change
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 10h + 20h   ; below the split nothing is panned
        out     dx, al
        mov     al, 21h
        out     dx, al
        ret

; Changes controller register AL: keeps the bits of CH, sets those of CL.
change: out     dx, al
        inc     dx
        in      al, dx
        and     al, ch
        or      al, cl
        out     dx, al
        dec     dx
        ret

%include "beam.inc"
