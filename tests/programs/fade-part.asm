; Fades 32 bars through the DAC, all 32 entries in each retrace. WRONG waits for no retrace.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        mov     dx, 200
.line:  xor     bx, bx
.pixel: mov     ax, bx
        mov     cl, 3
        shr     ax, cl
        and     al, 31
        stosb
        inc     bx
        cmp     bx, 320
        jb      .pixel
        dec     dx
        jnz     .line
        mov     bl, 63
.step:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     dx, 3C8h
        xor     al, al
        out     dx, al
        inc     dx
        mov     cx, 32
.entry: mov     al, bl
        out     dx, al
        out     dx, al
..@culprit: out    dx, al
        loop    .entry
        sub     bl, 7
        jns     .step
        finish
