; Redraws 20 lines each frame, behind the beam: it starts when the beam has passed them. WRONG starts in front of it.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     bp, 1
.frame: call    retrace
        call    display
%ifdef WRONG
        mov     cx, 100
%else
        mov     cx, 1400
%endif
.on:    loop    .on
        mov     di, 20 * 320
        mov     ax, bp
        mov     ah, al
        mov     cx, 20 * 160
..@culprit: rep    stosw
        inc     bp
        cmp     bp, 10
        jb      .frame
        finish
