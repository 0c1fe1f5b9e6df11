; Gives back the memory it does not need and runs itself again with a command line, twice deep: each draws a row; the code
; each ends with is its depth. An overlay, a file of colours, is loaded where it says. With WRONG those that were started
; keep words on a stack of 512 bytes below themselves, where the first one has its own.
%include "trade.inc"
        mov     sp, stack_end
        mov     bx, (stack_end - $$ + 100h + 15) / 16
        mov     ah, 4Ah
        int     21h
        jc      bad
        mov     al, [80h]       ; depth: half of what the command line has
        shr     al, 1
        mov     [depth], al
        cmp     al, 0
        jne     .deeper
        mov     ax, 0013h
        int     10h
.deeper:
%ifdef WRONG
        cmp     byte [depth], 0
        je      .own
        cli
        mov     ax, cs
        sub     ax, 20h
        mov     ss, ax
        mov     sp, 200h
        sti
        mov     cx, 128
..@culprit: push ax
        loop    ..@culprit
        add     sp, 256
        push    cs
        pop     ss
        mov     sp, stack_end
.own:
%endif
        mov     ax, 0A000h
        mov     es, ax
        mov     al, [depth]
        mov     ah, 160
        mul     ah
        shl     ax, 1
        mov     di, ax          ; 320 times the depth
        mov     al, [depth]
        add     al, 2
        mov     cx, 320
        cld
        rep     stosb
        cmp     byte [depth], 2
        je      .last
        mov     al, [depth]
        inc     al
        shl     al, 1
        mov     [tail], al
        mov     bl, al
        xor     bh, bh
        mov     byte [tail + 1 + bx], 13
        mov     [block + 4], cs
        mov     [block + 8], cs
        mov     [block + 12], cs
        push    cs
        pop     es
        mov     bx, block
        mov     dx, name
        mov     ax, 4B00h
        int     21h
        jc      bad
        mov     ah, 4Dh
        int     21h
        mov     bl, [depth]
        inc     bl
        cmp     al, bl
        jne     bad
.last:  cmp     byte [depth], 0
        jne     over
        push    cs
        pop     es
        mov     ax, cs
        mov     [part], ax
        add     word [part], (colours - $$ + 100h) / 16
        mov     bx, part
        mov     dx, file
        mov     ax, 4B03h
        int     21h
        jc      bad
        mov     ax, 0A000h
        mov     es, ax
        mov     di, 3 * 320
        mov     si, colours
        mov     cx, 16
        rep     movsb
        finish
over:   mov     al, [depth]
        mov     ah, 4Ch
        int     21h
bad:    mov     ax, 4CFFh
        int     21h
name:   db      "parent.com", 0
file:   db      "colours.ovl", 0
depth:  db      0
tail:   db      0, " a a a", 13
block:  dw      0, tail, 0, 5Ch, 0, 6Ch, 0
part:   dw      0, 0
        align   16, db 0
colours: times  16 db 0
        times   200h db 0
stack_end:
