; A bar of attributes, four rows of 40 columns high, that changes its colour in each retrace; the characters stay. WRONG
; changes it while the beam is on it.
%include "trade.inc"
        mov     ax, 0001h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     cx, 1000
        mov     ax, 0758h
        rep     stosw
        mov     bp, 1
.frame:
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 2300
.on:    loop    .on
%else
        next_retrace
%endif
        mov     ax, bp
        mov     di, 10 * 80 + 1
        mov     cx, 160
.cell:
..@culprit: stosb
        inc     di
        loop    .cell
        inc     bp
        cmp     bp, 12
        jb      .frame
        finish
