; A world of 256 columns moves up by a row a frame; memory holds 256 rows and goes round. The row that enters is drawn in
; the active area, below what is shown; then the start address moves on. WRONG draws it a frame too late, when the beam has
; passed.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     dx, controller
        mov     ax, 0010h
        out     dx, ax
        mov     ax, 1F01h       ; 32 characters
        out     dx, ax
        mov     ax, 2602h
        out     dx, ax
        mov     ax, 8010h
        out     dx, ax
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        xor     dx, dx
.line:  call    row
        inc     dx
        cmp     dx, 200
        jb      .line
        mov     bp, 0           ; row of the world at the top
.frame: inc     bp
%ifndef WRONG
        call    display
        call    next
%endif
        mov     bx, bp
        mov     cl, 7
        shl     bx, cl          ; 128 words a row
        call    display
        call    set_start
        call    retrace
%ifdef WRONG
        call    display         ; the frame has begun
        mov     cx, 6200
.on:    loop    .on
        call    next
%endif
        cmp     bp, 90          ; beyond row 255
        jb      .frame
        finish

; The row that enters at the bottom: 199 below the top.
next:   mov     dx, bp
        add     dx, 199
        mov     di, dx
        mov     cl, 8
        shl     di, cl
; Draws row DX of the world at DI: 256 pixels of its number.
row:    mov     al, dl
        mov     ah, al
        mov     cx, 128
..@culprit: rep    stosw
        ret
