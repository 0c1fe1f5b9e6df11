; Two pages of planes, each frame one of them drawn while the other is shown. VISIBLE draws on the page shown; LATE flips
; after the moment of take-over and draws on at once.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        cld
        mov     bp, 1
.frame: mov     ax, 0A000h
        test    bp, 1
%ifdef VISIBLE
        jnz     .first
%else
        jz      .first
%endif
        mov     ax, 0A200h
.first: mov     es, ax
        mov     si, 0102h       ; plane by plane
.plane: mov     ax, si
        mov     dx, sequencer
        out     dx, ax
        mov     di, 40 * 20     ; a box of 160 lines
        mov     bx, 160
        mov     ax, bp
        mov     ah, al
.row:   mov     cx, 10
..@culprit: rep    stosw
        add     di, 20
        dec     bx
        jnz     .row
        add     si, si          ; the next plane: 0204h, 0408h, 0810h
        and     si, 0FF00h
        or      si, 2
        cmp     si, 1002h
        jb      .plane
%ifdef LATE
        next_retrace
%else
        call    display
%endif
        mov     dx, controller
        mov     ax, 000Ch
        test    bp, 1
        jz      .show
        mov     ah, 20h
.show:
..@late:   out     dx, ax
%ifndef LATE
        call    retrace
%endif
        inc     bp
        cmp     bp, 11
        jb      .frame
        finish
