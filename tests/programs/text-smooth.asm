; Text moves up by a scan line a frame: the start address in the active area, preset row scan in the retrace after it. LATE
; writes both in retrace, so that the row is a frame behind.
%include "trade.inc"
        mov     ax, 0003h
        int     10h
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 0741h       ; rows of A, B and so on
        mov     dx, 35
.row:   mov     cx, 80
        rep     stosw
        inc     ax
        dec     dx
        jnz     .row
        mov     ah, 01h         ; no cursor
        mov     cx, 2000h
        int     10h
        push    ds
        mov     ax, 40h
        mov     ds, ax
        mov     al, [85h]
        pop     ds
        mov     [height], al
        xor     bx, bx          ; row
        xor     si, si          ; and its scan line
        mov     bp, 60
.frame: call    display
%ifdef LATE
        call    retrace
        call    start
%else
        call    start
        call    retrace
%endif
        mov     dx, controller
        mov     ax, si
        mov     ah, al
        mov     al, 8
..@culprit: out    dx, ax
        inc     si
        mov     al, [height]
        xor     ah, ah
        cmp     si, ax
        jb      .same
        xor     si, si
        inc     bx
.same:  dec     bp
        jnz     .frame
        finish

start:  push    bx
        mov     ax, 80
        mul     bx
        mov     bx, ax
        call    set_start
        pop     bx
        ret
height: db      0
