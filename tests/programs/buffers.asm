; Unchained 256 colours, two pages: a sprite of eight by eight pixels, one plane of its columns after the other, on the page
; that is not shown, and then the flip. WRONG draws on the page that is shown while the beam passes.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     dx, sequencer
        mov     ax, 0604h       ; unchained
        out     dx, ax
        mov     dx, controller
        mov     ax, 0014h       ; bytes
        out     dx, ax
        mov     ax, 0E317h
        out     dx, ax
        mov     dx, sequencer
        mov     ax, 0F02h
        out     dx, ax
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        xor     ax, ax
        mov     cx, 8000h
        rep     stosw
        xor     bp, bp
.frame: mov     bx, bp
        and     bx, 1
%ifdef WRONG
        call    display
        mov     cx, 1750
.on:    loop    .on
        xor     bx, 1
%endif
        mov     cl, 14
        shl     bx, cl          ; 0 or 4000h
        mov     si, bp          ; clears where it was on this page: two steps ago
        sub     si, 2
        jb      .draw
        xor     al, al
        call    sprite
.draw:  mov     si, bp
        mov     al, 40
        call    sprite
        call    display
        mov     bx, bp
        and     bx, 1
        mov     cl, 14
        shl     bx, cl
        call    set_start
        call    retrace
        inc     bp
        cmp     bp, 14
        jb      .frame
        finish

; Eight rows at column 3 SI and row 60 of the page at BX, in the colours from AL on, by columns.
sprite: mov     ah, 8
        mov     di, si
        add     di, si
        add     di, si          ; pixel
.column:
        push    ax
        push    di
        mov     cx, di
        and     cl, 3
        mov     ah, 1
        shl     ah, cl
        mov     al, 2
        mov     dx, sequencer
        out     dx, ax
        shr     di, 1
        shr     di, 1
        lea     di, [bx + di + 60 * 80]
        mov     cx, 8
        pop     dx
        pop     ax
        push    ax
        push    dx
.pixel:
..@culprit: mov [es:di], al
        add     di, 80
        loop    .pixel
        pop     di
        pop     ax
        inc     di
        or      al, al
        jz      .same
        inc     al
.same:  dec     ah
        jnz     .column
        ret
