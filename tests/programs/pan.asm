; Pans planes by a pixel a frame to the right, with LEFT to the left: the start address in the active area, panning in the
; retrace after it. LATE writes both in retrace, so that panning is a step ahead; EARLY writes both in the active area.
%include "trade.inc"
pitch   equ 44
%ifdef LEFT
first   equ 31
%else
first   equ 0
%endif
        mov     ax, 000Dh
        int     10h
        mov     dx, controller
        mov     ax, 13h + (pitch / 2) * 256
        out     dx, ax
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     bp, 1           ; plane by plane: byte column c of row y has the colour c + y
.plane: mov     dx, sequencer
        mov     ax, bp
        mov     ah, al
        mov     al, 2
        out     dx, ax
        xor     di, di
        xor     dx, dx
.row:   xor     cx, cx
.byte:  mov     ax, cx
        add     ax, dx
        test    ax, bp
        mov     al, 0
        jz      .dark
        dec     al
.dark:  stosb
        inc     cx
        cmp     cx, pitch
        jb      .byte
        inc     dx
        cmp     dx, 200
        jb      .row
        shl     bp, 1
        cmp     bp, 16
        jb      .plane
        mov     bx, first
.frame:
%ifdef LATE
        next_retrace
        call    start
        call    panning
%else
        call    display
        call    start
%ifdef EARLY
        mov     cx, 1000
.on:    loop    .on
        call    panning
        call    retrace
%else
        call    retrace
        call    panning
%endif
%endif
%ifdef LEFT
        dec     bx
        jns     .frame
%else
        inc     bx
        cmp     bx, 32
        jb      .frame
%endif
        finish

start:  push    bx
        mov     cl, 3
        shr     bx, cl
        call    set_start
        pop     bx
        ret

panning:
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 13h + 20h
        out     dx, al
        mov     al, bl
        and     al, 7
..@culprit: out    dx, al
        ret
