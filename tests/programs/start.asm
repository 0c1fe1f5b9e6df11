; Moves through memory by a step a frame: the start address is written well inside the picture. TORN writes a byte on
; either side of the take-over; NEAR so little before it that a slower machine misses it.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        mov     cx, 32768
.fill:  mov     ax, di
        stosw
        loop    .fill
        mov     bx, 0FCh
.frame: call    display
%ifdef TORN
        mov     dx, controller
        mov     al, 0Ch
        mov     ah, bh
        out     dx, ax
        call    retrace
        call    display
        mov     dx, controller
        mov     al, 0Dh
        mov     ah, bl
        jmp     $ + 2
..@culprit: out    dx, ax
%endif
%ifdef NEAR
        call    retrace
        mov     cx, 520
.on:    loop    .on
        mov     dx, controller
        mov     al, 0Dh
        mov     ah, bl
..@near_it: out    dx, ax
        mov     al, 0Ch
        mov     ah, bh
        out     dx, ax
%elifndef TORN
        call    set_start
%endif
        call    retrace
        inc     bx
        cmp     bx, 108h
        jb      .frame
        finish
