; Sets one palette register at every third tick of the timer, its screen left on by a single byte to the attribute port.
; It reads the status port before each index; WRONG does not, and so its index is taken for data.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     dx, sequencer
        mov     ax, 0102h
        out     dx, ax
        xor     di, di
        mov     ax, -1
        mov     cx, 4000
        rep     stosw           ; all in colour 1
        next_retrace
        mov     dx, status
        in      al, dx
        mov     dx, attribute
        mov     al, 1
        out     dx, al
        mov     al, 4
        out     dx, al
        mov     al, 20h
        out     dx, al
        mov     bl, 1
.again: mov     si, 3
.tick:  hlt
        dec     si
        jnz     .tick
%ifndef WRONG
        call    retrace         ; reads the status port
%endif
        mov     dx, attribute
        mov     al, 21h
..@culprit: out    dx, al
        mov     al, bl
        out     dx, al
        inc     bx
        cmp     bl, 4
        jb      .again
        finish
