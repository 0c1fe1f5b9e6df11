; A picture file read in pieces and to the screen at once, three rows more by a control block, and the command line.
; WRONG lays rows of the file 336 bytes apart.
%include "trade.inc"
%ifdef WRONG
PIECE   equ     3200
%else
PIECE   equ     1000
%endif
        mov     ax, 0013h
        int     10h
        call    open
        mov     ax, 4202h       ; how long?
        xor     cx, cx
        xor     dx, dx
        int     21h
        jc      bad
        cmp     ax, 64000
        jne     bad
        mov     ax, 4200h
        xor     cx, cx
        xor     dx, dx
        int     21h
        mov     ax, 0A000h
        mov     es, ax
        xor     di, di
        cld
.piece: mov     ah, 3Fh
        mov     cx, PIECE
        mov     dx, buffer
        int     21h
        jc      bad
        mov     cx, ax
        jcxz    .whole
        mov     si, buffer
%ifdef WRONG
        mov     bx, 10
.row:   mov     cx, 320
..@culprit: rep movsb
        add     di, 16
        dec     bx
        jnz     .row
        mov     bx, [handle]
%else
        rep     movsb
%endif
        jmp     .piece
.whole: mov     ah, 3Eh
        int     21h
        call    open
        push    ds
        mov     ax, 0A000h
        mov     ds, ax
        mov     ah, 3Fh
        mov     cx, 32000
        mov     dx, 32000       ; the upper half again, below
        int     21h
        pop     ds
        jc      bad
        mov     ah, 3Eh
        int     21h
        mov     ax, 2901h       ; a name out of the command line
        mov     si, 81h
        push    ds
        pop     es
        mov     di, block
        int     21h
        or      al, al
        jnz     bad
        mov     ah, 0Fh
        mov     dx, block
        int     21h
        or      al, al
        jnz     bad
        mov     ah, 1Ah
        mov     dx, buffer
        int     21h
        mov     word [block + 0Eh], 320
        mov     word [block + 21h], 100 ; the hundredth row and two more
        mov     word [block + 23h], 0
        mov     ah, 27h
        mov     cx, 3
        mov     dx, block
        int     21h
        cmp     cx, 3
        jne     bad
        mov     ah, 10h
        int     21h
        mov     ax, 0A000h
        mov     es, ax
        xor     di, di
        mov     si, buffer
        mov     cx, 3 * 160
        rep     movsw
        finish

open:   mov     ax, 3D00h
        mov     dx, name
        int     21h
        jc      bad
        mov     bx, ax
        mov     [handle], ax
        ret
bad:    mov     ax, 4C01h
        int     21h
name:   db      "pier.raw", 0
handle: dw      0
block:  times   37 db 0
buffer:
