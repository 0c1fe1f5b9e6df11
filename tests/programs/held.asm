; Keys held: interrupt 9 keeps which are down, a block moves a column a frame as long as its key is, drawn by exclusive or in
; retrace; escape ends. WRONG draws while the beam passes.
%include "trade.inc"
left    equ 4Bh
right   equ 4Dh
escape  equ 01h
        mov     ax, 000Dh
        int     10h
        mov     ax, 3509h
        int     21h
        mov     [old], bx
        mov     [old + 2], es
        mov     dx, handler
        mov     ax, 2509h
        int     21h
        mov     ax, 0A000h
        mov     es, ax
        mov     bx, 10
        call    block
.frame: call    display
        call    retrace
%ifdef WRONG
        call    display
        mov     cx, 4180
.on:    loop    .on
%endif
        cmp     byte [down + escape], 0
        jne     .end
        xor     ax, ax
        cmp     byte [down + right], 0
        je      .left
        inc     ax
.left:  cmp     byte [down + left], 0
        je      .move
        dec     ax
.move:  or      ax, ax
        jz      .frame
        push    ax
        call    block
        pop     ax
        add     bx, ax
        and     bx, 31
        call    block
        jmp     .frame
.end:   push    ds
        lds     dx, [old]
        mov     ax, 2509h
        int     21h
        pop     ds
        finish

; Turns the block at column BX over.
block:  mov     dx, graphics
        mov     ax, 1803h
        out     dx, ax
        mov     di, bx
        add     di, 150 * 40
        mov     cx, 8
.line:  mov     al, [es:di]
..@culprit: mov     byte [es:di], 0FFh
        add     di, 40
        loop    .line
        mov     ax, 0003h
        out     dx, ax
        ret

handler:
        push    ax
        push    bx
        in      al, 60h
        mov     bl, al
        and     bx, 7Fh
        rol     al, 1
        not     al
        and     al, 1           ; bit 7 clear: down
        mov     [cs:down + bx], al
        in      al, 61h
        or      al, 80h
        out     61h, al
        and     al, 7Fh
        out     61h, al
        mov     al, 20h
        out     20h, al
        pop     bx
        pop     ax
        iret
old:    dw      0, 0
down:   times   128 db 0
