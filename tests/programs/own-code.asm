; A shape made into code when the program runs, its place put into an instruction each time: 20 copies side by side.
; WRONG puts a stack of 40 bytes behind the code it has made, and calls deeper.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        push    cs
        pop     es
        cld
        mov     di, code
        xor     bx, bx
        xor     dx, dx
.make:  mov     al, 26h         ; mov word [es:di + BX], DX
        stosb
        mov     ax, 85C7h
        stosw
        mov     ax, bx
        stosw
        mov     al, dl
        mov     ah, dl
        stosw
        inc     bx
        inc     bx
        test    bx, 15
        jnz     .same
        add     bx, 320 - 16
.same:  inc     dx
        cmp     dx, 64
        jb      .make
        mov     al, 0C3h
        stosb
%ifdef WRONG
        lea     sp, [di + 40]
        mov     cx, 30
        call    deeper
%endif
        mov     ax, 0A000h
        mov     es, ax
        mov     cx, 20
place:  mov     di, 0           ; the operand changes
        call    code
        add     word [place + 1], 16
        loop    place
        finish
%ifdef WRONG
deeper: dec     cx
        jz      .back
..@culprit: call deeper
.back:  ret
%endif
code:
