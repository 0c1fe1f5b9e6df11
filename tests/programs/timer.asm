; The timer runs at 100 Hz and counts in large steps; each retrace shows memory from where the count says. WRONG lets the interrupt itself
; write the start address, slowly, a byte after the other.
%include "trade.inc"
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        xor     di, di
        mov     cx, 32768
.fill:  mov     ax, di
        mov     cl, 8
        stosb
        inc     di
        cmp     di, 0
        jne     .fill
        mov     ax, 3508h
        int     21h
        mov     [old], bx
        mov     [old + 2], es
        mov     ax, 2508h
        mov     dx, handler
        int     21h
        cli
        mov     al, 36h
        out     43h, al
        mov     ax, 11932
        out     40h, al
        mov     al, ah
        out     40h, al
        sti
        mov     si, 40          ; frames
.frame:
%ifdef WRONG
        hlt
%else
        call    display
        mov     bx, [count]
        call    set_start
        call    retrace
%endif
        dec     si
        jnz     .frame
        timer_back
        finish

handler:
        push    ax
        push    cx
        push    dx
        add     word [cs:count], 0FFh
        and     word [cs:count], 1FFh   ; the window stays inside memory
%ifdef WRONG
        mov     dx, controller
        mov     al, 0Ch
        mov     ah, [cs:count + 1]
        out     dx, ax
        mov     cx, 750         ; one and a half milliseconds: a take-over may lie in between
.on:    loop    .on
        mov     al, 0Dh
        mov     ah, [cs:count]
..@culprit: out    dx, ax
%endif
        mov     al, 20h
        out     20h, al
        pop     dx
        pop     cx
        pop     ax
        iret

count:  dw      0
old:    dw      0, 0
