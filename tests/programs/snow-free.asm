; Writes 80 columns of text a byte in each line's blanking, with interrupts off. WRONG does not wait.
%include "trade.inc"
        mov     ax, 0003h
        int     10h
        mov     ax, 0100h
        mov     cx, 2000h       ; no cursor
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     bx, 0F42h
        mov     cx, 80 * 4
        mov     dx, status
        cli
.cell:
%ifndef WRONG
.line:  in      al, dx
        test    al, 1
        jnz     .line
.gap:   in      al, dx
        test    al, 1
        jz      .gap
%endif
        mov     al, bl
..@culprit: stosb
%ifndef WRONG
.line2: in      al, dx
        test    al, 1
        jnz     .line2
.gap2:  in      al, dx
        test    al, 1
        jz      .gap2
%endif
        mov     al, bh
        stosb
        loop    .cell
        sti
        finish
