; Two pictures a field on the colour-graphics class: the controller is restarted after 100 lines, the upper part stays and the
; lower one goes up by rows. WRONG makes the lower part too long: a field has 322 lines in place of 262.
%include "trade.inc"
lower_rows equ 78               ; of two lines, and six more: 162
        mov     ax, 0004h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        call    rows
        mov     di, 2000h
        call    rows
        cli
        xor     bp, bp
.field: call    retrace
        call    display
        mov     cx, 10
        call    lines
        mov     dx, controller
        mov     ax, 3104h       ; 50 rows, no sync among them
        out     dx, ax
        mov     ax, 7F07h
        out     dx, ax
        mov     ax, 0005h
        out     dx, ax
        mov     ax, 40          ; then from this row on
        mul     bp
        mov     bx, ax
        call    set_start
        mov     cx, 100
        call    lines
        mov     dx, controller
        mov     ax, 3206h       ; now in the lower part: 50 rows shown, sync at row 62
        out     dx, ax
        mov     ax, 3E07h
        out     dx, ax
        mov     ax, 0605h
        out     dx, ax
%ifdef WRONG
        mov     ax, (lower_rows + 30 - 1) << 8 | 4
%else
        mov     ax, (lower_rows - 1) << 8 | 4
%endif
..@culprit: out dx, ax
        xor     bx, bx          ; then from the top again
        call    set_start
        inc     bp
        cmp     bp, 30
        jb      .field
        call    retrace
        sti
        mov     ax, 0003h
        int     10h
        finish

; A hundred rows of a bank, each of its own number.
rows:   xor     ax, ax
.row:   mov     cx, 40
        rep     stosw
        add     ax, 0101h
        cmp     al, 100
        jb      .row
        ret

; Waits until CX lines are over.
lines:  mov     dx, status
.shown: in      al, dx
        test    al, 1
        jz      .shown
.blank: in      al, dx
        test    al, 1
        jnz     .blank
        loop    lines
        ret
