; A cursor of its own shape that goes along a row, a column each frame. WRONG means the cursor's address, but writes that
; of the picture, a byte on either side of the take-over.
%include "trade.inc"
        mov     ax, 0001h
        int     10h
        mov     dx, controller
        mov     ax, 000Ah       ; the whole cell, no blinking
        out     dx, ax
        mov     ax, 070Bh
        out     dx, ax
        mov     bx, 250
.frame: call    display
        mov     cx, 400
.on:    loop    .on
        mov     dx, controller
%ifdef WRONG
        mov     al, 0Ch
%else
        mov     al, 0Eh
%endif
        mov     ah, bh
        out     dx, ax
%ifdef WRONG
        call    retrace
        call    display
%endif
        mov     dx, controller
%ifdef WRONG
        mov     al, 0Dh
%else
        mov     al, 0Fh
%endif
        mov     ah, bl
..@culprit: out    dx, ax
        call    retrace
        inc     bx
        cmp     bx, 262
        jb      .frame
        finish
