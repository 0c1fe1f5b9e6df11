; Two pages of 40-column text, drawn while the other is shown; the start address is written in the active area. VISIBLE
; draws on the page shown.
%include "trade.inc"
        mov     ax, 0001h
        int     10h
        mov     ax, 0100h
        mov     cx, 2000h       ; no cursor
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        mov     bp, 1
.frame: mov     di, 0
        test    bp, 1
%ifdef VISIBLE
        jnz     .first
%else
        jz      .first
%endif
        mov     di, 2048
.first: mov     ax, bp
        add     ax, 0741h
%ifdef VISIBLE
        mov     cx, 1500
.on:    loop    .on
%endif
        mov     cx, 1000
..@culprit: rep    stosw
        call    display
        xor     bx, bx
        test    bp, 1
        jz      .show
        mov     bx, 1024
.show:  call    set_start
        call    retrace
%ifdef VISIBLE
        call    display
%endif
        inc     bp
        cmp     bp, 11
        jb      .frame
        finish
