; 320 by 240 unchained, two pages in turn, all four planes at once. WRONG does not lift the protection of the timing.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     dx, sequencer
        mov     ax, 0604h
        out     dx, ax
        mov     ax, 0100h
        out     dx, ax
        mov     dx, 3C2h
        mov     al, 0E3h
        out     dx, al
        mov     dx, sequencer
        mov     ax, 0300h
        out     dx, ax
        mov     dx, controller
        mov     si, table
        mov     cx, (table_end - table) / 2
.set:   lodsw
..@culprit: out    dx, ax
        loop    .set
        mov     dx, sequencer
        mov     ax, 0F02h
        out     dx, ax
        cld
        mov     bp, 1
.frame: mov     ax, 0A000h
        test    bp, 1
        jz      .first
        mov     ax, 0A4B0h
.first: mov     es, ax
        xor     di, di
        mov     ax, bp
        mov     ah, al
        mov     cx, 80 * 240 / 2
        rep     stosw
        call    display
        xor     bx, bx
        test    bp, 1
        jz      .show
        mov     bx, 4B00h
.show:  call    set_start
        call    retrace
        inc     bp
        cmp     bp, 6
        jb      .frame
        finish

table:
%ifndef WRONG
        dw      2C11h           ; registers 0 to 7 are protected: bit 7 off
%endif
        dw      0D06h, 3E07h, 4109h, 0EA10h, 0DF12h, 0014h, 0E715h, 0616h, 0E317h, 0AC11h
table_end:
