; A box drawn through write mode 3: the byte written is the mask, set/reset the colour, and the latches keep what is beside
; it. It goes a pixel on in each retrace over stripes. WRONG draws while the beam passes.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     dx, sequencer
        mov     ax, 0102h       ; stripes in plane 0
        out     dx, ax
        xor     di, di
        mov     ax, 0F0Fh
        mov     cx, 4000
        rep     stosw
        mov     ax, 0F02h
        out     dx, ax
        mov     dx, graphics
        mov     ax, 0305h
        out     dx, ax
        xor     bx, bx
.frame: next_retrace
%ifdef WRONG
        call    display
        mov     cx, 5300
.on:    loop    .on
%endif
        mov     dx, graphics
        mov     ax, 0C00h       ; the box: colour 12
        out     dx, ax
        mov     di, bx
        mov     cl, 3
        shr     di, cl
        add     di, 185 * 40
        mov     cl, bl
        and     cl, 7
        mov     ah, 80h
        shr     ah, cl
        mov     al, ah
        mov     cx, 12
.line:  mov     ah, [es:di]
..@culprit: mov [es:di], al
        add     di, 40
        loop    .line
        inc     bx
        cmp     bx, 24
        jb      .frame
        mov     dx, graphics
        mov     ax, 0005h
        out     dx, ax
        finish
