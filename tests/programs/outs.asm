; An 80286: a third of the DAC by REP OUTSB in each retrace, darker by 8 after every three. WRONG writes it in the middle of
; the picture.
%define EXE
%include "trade.inc"
        cpu     286
        org     100h
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        xor     al, al
.fill:  mov     cx, 250
        rep     stosb
        inc     al
        jnz     .fill
        mov     si, colours
        xor     bx, bx
.level: mov     al, bl
        and     al, 63
        mov     [si + bx], al
        inc     bx
        cmp     bx, 768
        jb      .level
        mov     bp, 8
.step:  xor     bl, bl
.third:
%ifdef WRONG
        mid_picture
%else
        next_retrace
%endif
        mov     dx, 3C8h
        mov     al, bl
        out     dx, al
        inc     dx
        xor     ah, ah
        mov     si, ax
        shl     si, 1
        add     si, ax
        add     si, colours
        mov     cx, 192
..@culprit: rep    outsb
        add     bl, 64
        cmp     bl, 192
        jne     .third
        mov     si, colours
        mov     cx, 768
.darker: sub    byte [si], 8
        jnc     .lit
        mov     byte [si], 0
.lit:   inc     si
        loop    .darker
        dec     bp
        jnz     .step
        finish
colours:
