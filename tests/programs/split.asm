; A split screen: above, planes move by a pixel a frame; the 40 lines below stand. WRONG forgets that panning must end at
; the split.
%include "trade.inc"
split   equ 2 * 160 - 1
upper   equ 1000h
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     dx, sequencer
        mov     ax, 0F02h
        out     dx, ax
        xor     di, di          ; below: bytes in turn
        mov     ax, 000FFh
        mov     cx, 800
        rep     stosw
        mov     di, upper       ; above: every third byte
        mov     cx, 42 * 200 / 3
.three: mov     al, 0FFh
        stosb
        xor     al, al
        stosb
        stosb
        loop    .three
        mov     dx, controller
        mov     al, 11h         ; registers 0 to 7 are protected
        mov     cx, 7F00h
        call    change
        mov     ax, 18h + (split & 255) * 256
        out     dx, ax
        mov     al, 7
        mov     cx, 0EF10h
        call    change
        mov     al, 9
        mov     cx, 0BF00h
        call    change
        mov     ax, 1513h
        out     dx, ax          ; 42 bytes a row
        call    retrace
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 10h + 20h
        out     dx, al
%ifdef WRONG
        mov     al, 01h
%else
        mov     al, 21h
%endif
        out     dx, al
        xor     bx, bx
.frame: call    display
        push    bx
        mov     cl, 3
        shr     bx, cl
        add     bx, upper
        call    set_start
        pop     bx
        call    retrace
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 13h + 20h
        out     dx, al
        mov     al, bl
        and     al, 7
..@culprit: out    dx, al
        inc     bx
        cmp     bx, 16
        jb      .frame
        finish

change: out     dx, al
        inc     dx
        in      al, dx
        and     al, ch
        or      al, cl
        out     dx, al
        dec     dx
        ret
