; Two planes filled by set/reset while the processor's bytes go to the other two: a checkered pattern in colours 4 and 7. WRONG
; takes a row for 44 bytes long.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     dx, graphics
        mov     ax, 0400h       ; plane 2 is set, plane 3 is not
        out     dx, ax
        mov     ax, 0C01h
        out     dx, ax
        xor     bx, bx
        xor     di, di
.row:   mov     ax, 0AA55h
        test    bl, 1
        jz      .odd
        mov     ax, 55AAh
.odd:   mov     cx, 20
..@culprit: rep stosw
%ifdef WRONG
        add     di, 4
%endif
        inc     bx
        cmp     bx, 100
        jb      .row
        mov     ax, 0001h
        out     dx, ax
        finish
