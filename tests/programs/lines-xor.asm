; Lines by Bresenham's steps, in planes, by exclusive or: each is drawn in retrace, stands for a picture and is taken away by
; drawing it again. WRONG draws while the beam passes.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        mov     dx, graphics
        mov     ax, 1803h       ; exclusive or
        out     dx, ax
        mov     ax, 0A00h       ; colour 10 by set/reset
        out     dx, ax
        mov     ax, 0F01h
        out     dx, ax
        mov     word [rise], 0
.frame: call    line            ; from (60, 180) 24 across, by RISE down
        next_retrace
%ifdef WRONG
        call    display
        mov     cx, 5200
.on:    loop    .on
%endif
        call    line            ; and away again
        add     word [rise], 3
        cmp     word [rise], 18
        jbe     .frame
        mov     dx, graphics
        mov     ax, 0001h
        out     dx, ax
        mov     ax, 0003h
        out     dx, ax
        mov     ax, 0FF08h
        out     dx, ax
        finish

line:   mov     di, 180 * 40 + 60 / 8
        mov     ah, 80h >> (60 & 7)
        mov     cx, 24
        mov     si, 12          ; half of what it goes across
        mov     dx, graphics
.point: mov     al, 8
        out     dx, ax
        mov     al, [es:di]
..@culprit: mov [es:di], al
        ror     ah, 1
        jnc     .same
        inc     di
.same:  sub     si, [rise]
        jns     .row
        add     si, 24
        add     di, 40
.row:   loop    .point
        ret
rise:   dw      0
