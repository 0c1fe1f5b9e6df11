; 256 colours unchained: tiles of 16 by 16, drawn once beyond both pages, are copied through the latches to the page that is
; not shown; it moves by a pixel a frame by panning. VISIBLE draws on the page shown.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     dx, sequencer
        mov     ax, 0604h
        out     dx, ax
        mov     dx, controller
        mov     ax, 0014h
        out     dx, ax
        mov     ax, 0E317h
        out     dx, ax
        mov     ax, 2A13h       ; 84 addresses a row: a tile more than is shown
        out     dx, ax
        mov     dx, sequencer
        mov     ax, 0F02h
        out     dx, ax
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di          ; chained, the firmware did not reach all of it
        xor     ax, ax
        mov     cx, 8000h
        rep     stosw
        mov     bx, 0001h       ; plane and its mask
.plane: mov     ah, bl
        mov     al, 2
        mov     dx, sequencer
        out     dx, ax
        mov     di, 0F000h
        xor     cx, cx          ; 64 n + 4 y + x / 4: the value of a pixel is 16 n + x + 16
.fill:  mov     al, cl
        and     al, 3
        shl     al, 1
        shl     al, 1
        add     al, bh
        mov     ah, cl
        shr     ah, 1
        shr     ah, 1
        and     ah, 0F0h
        add     al, ah
        add     al, 16
        stosb
        inc     cx
        cmp     cx, 256
        jb      .fill
        inc     bh
        shl     bl, 1
        cmp     bl, 16
        jb      .plane
        mov     dx, sequencer
        mov     ax, 0F02h
        out     dx, ax
        mov     dx, graphics
        mov     ax, 4105h       ; write mode 1
        out     dx, ax
        xor     bp, bp
.frame: xor     di, di
%ifndef VISIBLE
        test    bp, 1
        jz      .page
        mov     di, 4300h
.page:
%endif
        mov     [page], di
        push    ds
        push    es
        pop     ds
        xor     bx, bx
.row:   xor     dx, dx
.tile:  mov     si, bx
        add     si, dx
        add     si, bp
        and     si, 3
        mov     cl, 6
        shl     si, cl
        add     si, 0F000h
        push    di
        mov     cx, 16
.line:
..@culprit: movsb
        movsb
        movsb
        movsb
        add     di, 80
        loop    .line
        pop     di
        add     di, 4
        inc     dx
        cmp     dx, 21
        jb      .tile
        add     di, 84 * 16 - 84
        inc     bx
        cmp     bx, 12
        jb      .row
        pop     ds
        call    display
        mov     bx, [page]
        call    set_start
        call    retrace
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 13h + 20h
        out     dx, al
        mov     ax, bp
        and     al, 3
        shl     al, 1           ; half pixels
        out     dx, al
        inc     bp
        cmp     bp, 8
        jb      .frame
        finish
page:   dw      0
