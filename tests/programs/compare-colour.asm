; Read mode 1: the colour 5 is looked for in a picture of planes, and for each row a bar as long as it has of it is drawn below.
; WRONG does so again and again, and draws while the beam passes.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     si, 0102h       ; row by row 0, 5, 10 ... pixels of colour 5, over colour 1
        mov     dx, sequencer
        mov     ax, 0102h
        out     dx, ax
        xor     di, di
        mov     cx, 16 * 40 / 2
        mov     ax, 0FFFFh
        rep     stosw
        mov     ax, 0402h
        out     dx, ax
        xor     bx, bx
.row:   mov     ax, bx
        mov     cl, 40
        mul     cl
        mov     di, ax
        mov     cx, bx
        mov     al, 0F8h        ; five pixels a byte
        rep     stosb
        inc     bx
        cmp     bx, 16
        jb      .row
        mov     ax, 0F02h
        out     dx, ax
%ifdef WRONG
        mov     bp, 20
.again:
%endif
        mov     dx, graphics
        mov     ax, 0805h       ; read mode 1
        out     dx, ax
        mov     ax, 0502h       ; colour 5
        out     dx, ax
        mov     ax, 0F07h       ; all planes count
        out     dx, ax
        xor     bx, bx
.count: mov     ax, bx
        mov     cl, 40
        mul     cl
        mov     si, ax
        xor     dx, dx
        mov     cx, 40
.byte:  mov     al, [es:si]
        inc     si
.bit:   shl     al, 1
        adc     dx, 0
        or      al, al
        jnz     .bit
        loop    .byte
        mov     [counts + bx], dl
        inc     bx
        cmp     bx, 16
        jb      .count
        mov     dx, graphics
        mov     ax, 0005h
        out     dx, ax
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 2850
.on:    loop    .on
%endif
        xor     bx, bx
.bar:   lea     ax, [bx + 100]
        mov     cl, 40
        mul     cl
        mov     di, ax
        mov     cl, [counts + bx]
        xor     ch, ch
        mov     dx, cx
        and     dx, 7
        mov     al, 0FFh
        mov     ah, cl
        mov     cl, 3
        shr     ah, cl
        mov     cl, ah
%ifdef WRONG
        test    bp, 1
        jz      .lit
        xor     al, al
.lit:
%endif
..@culprit: rep stosb
        mov     cl, dl
        mov     ah, 0FFh
        shr     ah, cl
        not     ah
        mov     [es:di], ah
        inc     bx
        cmp     bx, 16
        jb      .bar
%ifdef WRONG
        dec     bp
        jnz     .again
%endif
        finish
counts: times   16 db 0
