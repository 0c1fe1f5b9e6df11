; The timer at 291 Hz: each sixteenth tick goes on to the handler before, so that the clock keeps time; each retrace shows the
; count as a line of that colour. Ends with 1 if the clock did not keep time. WRONG does not end the other interrupts.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        xor     ax, ax
        mov     es, ax
        cli
        mov     ax, [es:8 * 4]
        mov     [old], ax
        mov     ax, [es:8 * 4 + 2]
        mov     [old + 2], ax
        mov     word [es:8 * 4], handler
        mov     [es:8 * 4 + 2], cs
        mov     ax, 4096
        call    every
        mov     ax, [es:46Ch]
        mov     [began], ax
        sti
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     bp, 40
.frame: next_retrace
        mov     al, [count]
        mov     di, 320 * 10
        mov     cx, 320
        rep     stosb
%ifdef WRONG
        mov     al, [count]
..@culprit:
.wait:  cmp     al, [count]
        je      .wait
%endif
        dec     bp
        jnz     .frame
        cli
        xor     ax, ax
        mov     es, ax
        mov     ax, [old]
        mov     [es:8 * 4], ax
        mov     ax, [old + 2]
        mov     [es:8 * 4 + 2], ax
        xor     ax, ax
        call    every
        mov     ax, [count]
        mov     cl, 4
        shr     ax, cl
        add     ax, [began]
        sub     ax, [es:46Ch]
        sti
        jz      .kept
        mov     ax, 4C01h
        int     21h
.kept:  finish

every:  push    ax
        mov     al, 36h
        out     43h, al
        pop     ax
        out     40h, al
        mov     al, ah
        out     40h, al
        ret

handler:
        push    ax
        inc     word [cs:count]
        mov     al, [cs:count]
        and     al, 15
        pop     ax
        jz      .old
%ifndef WRONG
        push    ax
        mov     al, 20h
        out     20h, al
        pop     ax
%endif
        iret
.old:   jmp     far [cs:old]
old:    dw      0, 0
began:  dw      0
count:  dw      0
