; A sprite exclusive-ored into four colours, taken away and put back two pixels on in each retrace. WRONG does so in the
; middle of the picture, where the beam comes by.
%include "trade.inc"
        mov     ax, 0004h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        mov     bx, 50 * 80 + 10
        call    flip
        mov     bp, 12
.frame:
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 2900        ; the beam is on the sprite's lines
.on:    loop    .on
%else
        next_retrace
%endif
        call    flip
        inc     bx
        call    flip
        dec     bp
        jnz     .frame
        finish

; Sixteen lines of two bytes at BX, in both banks.
flip:   mov     di, bx
        mov     cx, 8
.line:
..@culprit: xor    word [es:di], 0FFFFh
        xor     word [es:di + 2000h], 0FFFFh
        add     di, 80
        loop    .line
        ret
