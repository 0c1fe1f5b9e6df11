; Points by write mode 2, each read first for the latches: a ramp of all sixteen colours in 640 by 350. WRONG counts 78
; bytes a row where there are 80.
%include "trade.inc"
        mov     ax, 0010h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        mov     dx, graphics
        mov     ax, 0205h
        out     dx, ax
        xor     bx, bx          ; line
%ifdef WRONG
pitch   equ 78
%else
pitch   equ 80
%endif
.line:  mov     ax, pitch
        push    dx
        mul     bx
        pop     dx
        mov     di, ax
        xor     si, si          ; pixel
.point: mov     cx, si
        and     cl, 7
        mov     ax, 8008h
        shr     ah, cl
        out     dx, ax
        mov     ax, si
        add     ax, bx
        and     al, 15
        mov     cl, [es:di]
..@culprit: mov [es:di], al
        inc     si
        test    si, 7
        jnz     .point
        inc     di
        cmp     si, 64
        jb      .point
        inc     bx
        cmp     bx, 40
        jb      .line
        mov     ax, 0005h
        out     dx, ax
        mov     ax, 0FF08h
        out     dx, ax
        finish
