; 320 by 200 in sixteen colours by registers alone, firmware not asked: sequencer, timing, graphics and attribute controllers
; from a table, then a ramp. WRONG does not lift the protection of the timing.
%include "trade.inc"
        cli
        mov     dx, 3C2h
        mov     al, 63h
        out     dx, al
        mov     dx, sequencer
        mov     si, sequence
        mov     cx, 5
        call    set
        mov     dx, controller
%ifndef WRONG
        mov     ax, 0C11h
        out     dx, ax
%endif
        mov     si, timing
        mov     cx, 25
        xor     bl, bl
.next:  lodsb
        mov     ah, al
        mov     al, bl
..@culprit: out dx, ax
        inc     bl
        loop    .next
        mov     dx, graphics
        mov     si, graphic
        mov     cx, 9
        call    set
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     si, attributes
        mov     cx, 21
        xor     bl, bl
.attribute:
        mov     al, bl
        out     dx, al
        lodsb
        out     dx, al
        inc     bl
        loop    .attribute
        mov     al, 20h
        out     dx, al
        sti
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     bx, 0102h       ; plane by plane: bit n of the column
.plane: mov     dx, sequencer
        mov     ax, bx
        out     dx, ax
        xor     di, di
        mov     dx, 200
.row:   xor     si, si
.byte:  mov     ax, si
        test    al, bh
        mov     al, 0
        jz      .dark
        mov     al, 0FFh
.dark:  stosb
        inc     si
        cmp     si, 40
        jb      .byte
        dec     dx
        jnz     .row
        shl     bh, 1
        cmp     bh, 10h
        jb      .plane
        next_retrace
        next_retrace
        finish

; CX registers from 0 on, at the index port DX.
set:    xor     bl, bl
.next:  lodsb
        mov     ah, al
        mov     al, bl
        out     dx, ax
        inc     bl
        loop    .next
        ret

sequence:
        db      03h, 09h, 0Fh, 00h, 06h
timing: db      2Dh, 27h, 28h, 90h, 2Bh, 80h, 0BFh, 1Fh, 00h, 0C0h, 00h, 00h, 00h, 00h, 00h, 00h
        db      9Ch, 8Eh, 8Fh, 14h, 00h, 96h, 0B9h, 0E3h, 0FFh
graphic:
        db      00h, 00h, 00h, 00h, 00h, 00h, 05h, 0Fh, 0FFh
attributes:
        db      00h, 01h, 02h, 03h, 04h, 05h, 06h, 07h, 10h, 11h, 12h, 13h, 14h, 15h, 16h, 17h
        db      01h, 00h, 0Fh, 00h, 00h
