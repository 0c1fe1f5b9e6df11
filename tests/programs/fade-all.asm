; Fades all 256 entries of the DAC, 64 of them in each retrace. WRONG writes all of them in one: more than blanking holds.
%include "trade.inc"
%ifdef WRONG
part    equ 256
%else
part    equ 64
%endif
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        xor     dx, dx
.line:  xor     bx, bx
.pixel: mov     al, bl
        add     al, dl
        stosb
        inc     bx
        cmp     bx, 320
        jb      .pixel
        inc     dx
        cmp     dx, 200
        jb      .line
        mov     bl, 60          ; level
.step:  xor     bh, bh          ; first entry of the part
.part:  next_retrace
        mov     dx, 3C8h
        mov     al, bh
        out     dx, al
        inc     dx
        mov     cx, part
        mov     al, bl
.entry: out     dx, al
        out     dx, al
..@culprit: out    dx, al
        loop    .entry
        add     bh, part & 255
        jnz     .part
        sub     bl, 20
        jns     .step
        finish
