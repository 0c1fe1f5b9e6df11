; A sprite of 16 by 16 over a picture: what lies under it is put back, saved anew at the next place, and the sprite drawn,
; all in retrace. WRONG in the middle of the picture.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        xor     dx, dx
.line:  xor     bx, bx
.pixel: mov     al, bl
        xor     al, dl
        stosb
        inc     bx
        cmp     bx, 320
        jb      .pixel
        inc     dx
        cmp     dx, 200
        jb      .line
        mov     bp, 90 * 320 + 40
        call    save
        call    draw
        mov     bx, 10
.frame:
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 2550
.on:    loop    .on
%else
        next_retrace
%endif
        call    restore
        add     bp, 3
        call    save
        call    draw
        dec     bx
        jnz     .frame
        finish

save:   push    ds
        push    es
        push    es
        pop     ds
        push    cs
        pop     es
        mov     si, bp
        mov     di, under
        mov     dx, 16
.line:  mov     cx, 8
        rep     movsw
        add     si, 320 - 16
        dec     dx
        jnz     .line
        pop     es
        pop     ds
        ret

restore:
        mov     si, under
        mov     di, bp
        mov     dx, 16
.line:  mov     cx, 8
..@culprit: rep    movsw
        add     di, 320 - 16
        dec     dx
        jnz     .line
        ret

draw:   mov     di, bp
        mov     dx, 16
        mov     ax, 2828h
.line:  mov     cx, 8
        rep     stosw
        add     di, 320 - 16
        dec     dx
        jnz     .line
        ret

under:  times 256 db 0
