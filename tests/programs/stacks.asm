; Stacks in odd places: rows popped out of a table of the program's own, and a band pushed with the stack in video memory.
; INTO lets the stack that was given grow into the program.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        push    ds
        pop     es
        cld
        mov     di, table
        mov     cx, 160
        xor     ax, ax
.make:  stosw
        add     ax, 0202h
        loop    .make
        mov     ax, 0A000h
        mov     es, ax
        mov     bp, 50
        xor     di, di
.row:   cli
        mov     [kept], sp
        mov     sp, table
        mov     cx, 160
.pop:   pop     ax
        stosw
        loop    .pop
        mov     sp, [kept]
        sti
        dec     bp
        jnz     .row
%ifdef INTO
..@culprit: push    ax
        jmp     ..@culprit
%endif
        cli
        mov     [kept], sp
        mov     [kept + 2], ss
        mov     ax, 0A000h
        mov     ss, ax
        mov     sp, 320 * 100
        mov     ax, 0E0Eh
        mov     cx, 160 * 30
.push:  push    ax
        loop    .push
        mov     ss, [kept + 2]
        mov     sp, [kept]
        sti
        finish
kept:   dw      0, 0
table:
