; Smooth scroll with column redraw, two pixels a frame to the right, over a world that has no end.
; For the 64 KiB 256-colour class: 256 by 200, the width at which it scrolls; one byte a pixel, start address in words.
;
; A pixel of the world at column x and line y has the colour x xor y (both modulo 256). Every frame: the new start
; address while the beam displays; it is taken over near the end of the frame. When vertical sync begins, the two
; columns that enter at the right are drawn, from the top, ahead of the beam.
;
;       nasm -f bin -o scroll.com scroll.asm            as it should be
;       nasm -f bin -DLATE -o late.com scroll.asm       the columns are drawn behind the beam
;       nasm -f bin -DTORN -o torn.com scroll.asm       the start address is written across the moment it is taken over

        cpu 8086
        org 100h

%ifndef FRAMES
%define FRAMES 48
%endif
%ifndef FIRST
%define FIRST 0E8h              ; start address of the first frame: a carry into the upper byte comes soon
%endif

controller equ 3D4h
status  equ 3DAh
video   equ 0A000h
width   equ 256
height  equ 200

start:  mov     ax, 0013h       ; 320 by 200, 256 colours
        int     10h
        mov     ax, video
        mov     es, ax
        cld
        call    narrow
        call    first_picture
        mov     bx, FIRST
        call    retrace
        call    display
        call    set_start
        call    retrace
        mov     cx, FRAMES
.frame: push    cx
        inc     bx
        call    display
%ifdef TORN
        call    set_upper
        call    retrace
        call    columns         ; takes longer than the rest of the frame
        call    set_lower
%else
        call    set_start
        call    retrace
%endif
%ifdef LATE
        call    display         ; the frame has begun
        mov     cx, 4000        ; and goes on for a while
.idle:  loop    .idle
%endif
%ifndef TORN
        call    columns
%endif
        pop     cx
        loop    .frame
        call    display         ; the last frame is shown whole
        call    retrace
        call    display
        mov     ax, 4C00h
        int     21h

; Shows 32 characters a line in place of 40, in the middle of the screen; the line keeps its length.
narrow: mov     dx, controller
        mov     al, 10h
        out     dx, al
        inc     dx
        in      al, dx
        and     al, 7Fh         ; bit 7 protects the registers set next
        out     dx, al
        dec     dx
        mov     ax, 1F01h       ; characters shown, less one
        out     dx, ax
        mov     ax, 2602h       ; sync four characters earlier
        out     dx, ax
        mov     al, 10h
        out     dx, al
        inc     dx
        in      al, dx
        or      al, 80h
        out     dx, al
        ret

; Draws the whole picture that the first start address shows.
first_picture:
        mov     di, FIRST * 2
        xor     dx, dx          ; line
.line:  mov     bx, FIRST * 2   ; column of the world
        mov     cx, width
.pixel: mov     al, bl
        xor     al, dl
        stosb                   ; offsets wrap at 64 KiB, as the board's memory does
        inc     bx
        loop    .pixel
        inc     dx
        cmp     dx, height
        jb      .line
        ret

; Draws the two columns at the right of the picture that start address BX shows.
columns:
        push    bx
        shl     bx, 1           ; in pixels: where the picture begins
        mov     di, bx
        add     di, width - 2
        mov     ax, di          ; column of the world
        mov     ah, al
        inc     ah              ; and the one beside it
        xor     bx, bx
        mov     cx, height
.line:  mov     dx, ax
        xor     dx, bx
        mov     [es:di], dx
        add     bx, 0101h       ; line number, in both halves
        add     di, width
        loop    .line
        pop     bx
        ret

%ifdef TORN
; The two halves of set_start: the start address is taken over between them.
set_upper:
        mov     dx, controller
        mov     al, 0Ch
        mov     ah, bh
        out     dx, ax
        ret

set_lower:
        mov     dx, controller
        mov     al, 0Dh
        mov     ah, bl
        out     dx, ax
        ret
%endif

%include "beam.inc"
