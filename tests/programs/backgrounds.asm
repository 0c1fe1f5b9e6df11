; Sixteen backgrounds in text, one a column: the attribute controller is set not to blink, and to blink again, in each
; retrace. WRONG turns it in the middle of the picture.
%include "trade.inc"
        mov     ax, 0003h
        int     10h
        mov     ah, 01h         ; no cursor
        mov     cx, 2000h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     dx, 25
.row:   xor     bx, bx
.column:
        mov     ah, bl
        mov     cl, 4
        shl     ah, cl
        mov     al, ' '
        mov     cx, 5
        rep     stosw
        inc     bx
        cmp     bx, 16
        jb      .column
        dec     dx
        jnz     .row
        mov     bp, 9
.turn:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 30h         ; the mode control, and the picture stays on
        out     dx, al
        mov     al, 04h
        test    bp, 1
        jnz     .bright
        or      al, 08h
.bright:
..@culprit: out dx, al
        dec     bp
        jnz     .turn
        finish
