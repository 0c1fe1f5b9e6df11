; Tells what it runs on: the board, the processor, a mouse, the timer. Works on everything from the first boards on.
;
; Boards are asked the newest first: the display combination (function 1Ah), the memory of planes (function 12h), then the
; equipment word. Processors are recognised by what PUSH SP pushes, then by the flags that can be set (80386 or 80286) or by how
; far they shift (80186), and by how many bytes are fetched ahead: four on a bus of eight bits, six on one of sixteen. A mouse needs a handler behind its vector that is more than an IRET. The timer must
; count down.
;
; Ends with: board (0 monochrome, 1 CGA, 2 EGA, 3 MCGA, 4 VGA), plus 8 times the processor (0 8088, 1 8086, 2 80186, 3 80286,
; 4 80386), plus 64 with a mouse, plus 128 where the timer counts.
;       nasm -f bin -o detect.com detect.asm

        cpu 8086
        org 100h

        cld
        call    board
        mov     [result], al
        mov     bx, boards
        call    tell
        call    processor
        mov     bx, processors
        call    tell
        mov     cl, 3
        shl     al, cl
        or      [result], al
        call    mouse
        mov     bx, mice
        call    tell
        mov     cl, 6
        shl     al, cl
        or      [result], al
        call    timer
        mov     bx, timers
        call    tell
        mov     cl, 7
        shl     al, cl
        or      [result], al
        mov     al, [result]
        mov     ah, 4Ch
        int     21h

; Prints entry AL of the table at BX; keeps AL.
tell:   push    ax
        xor     ah, ah
        shl     ax, 1
        mov     si, ax
        mov     dx, [bx + si]
        mov     ah, 9
        int     21h
        pop     ax
        ret

board:  mov     ax, 1A00h
        int     10h
        cmp     al, 1Ah
        jne     .older
        mov     al, 4
        cmp     bl, 8
        je      .found
        cmp     bl, 7
        je      .found
        mov     al, 3
        cmp     bl, 0Ah
        jae     .found
.older: mov     ah, 12h
        mov     bl, 10h
        int     10h
        mov     al, 2
        cmp     bl, 10h
        jne     .found
        int     11h
        and     al, 30h
        cmp     al, 30h
        mov     al, 0
        je      .found
        mov     al, 1
.found: ret

processor:
        push    sp
        pop     ax
        cmp     ax, sp
        je      .later
        ; Counts of the 80186 are taken modulo 32, and nothing is left of a bit that an 8086 shifts 33 times.
        mov     ax, 1
        mov     cl, 33
        shl     ax, cl
        mov     dx, 2
        or      ax, ax
        jnz     .found
        ; The instruction that counts stands where the stores reach it: with six bytes ahead it has been fetched by then.
        mov     dx, cs
        mov     es, dx
        mov     dx, 1
        std
        mov     di, .mark
        mov     al, 90h         ; NOP
        mov     cx, 3
        cli
        rep     stosb
        cld
        nop
        nop
        nop
.mark:  inc     dx
        nop
        sti
        dec     dx              ; 1 where the old byte was executed, 0 where the new one was
.found: mov     al, dl
        ret
.later: ; Bits 12 to 14 of the flags stay 0 on an 80286 in real mode.
        pushf
        pop     ax
        or      ax, 7000h
        push    ax
        popf
        pushf
        pop     ax
        mov     dx, 3
        test    ax, 7000h
        jz      .found
        inc     dx
        jmp     .found

mouse:  mov     ax, 3533h
        int     21h
        mov     ax, es
        or      ax, bx
        jz      .none
        cmp     byte [es:bx], 0CFh
        je      .none
        xor     ax, ax
        int     33h
        and     al, 1
        ret
.none:  xor     al, al
        ret

timer:  call    .count
        mov     bx, ax
        mov     cx, 100
        loop    $
        call    .count
        cmp     ax, bx
        mov     al, 1
        jne     .done
        mov     al, 0
.done:  ret
.count: mov     al, 0
        out     43h, al
        in      al, 40h
        mov     ah, al
        in      al, 40h
        xchg    al, ah
        ret

boards: dw      b0, b1, b2, b3, b4
processors: dw  p0, p1, p2, p3, p4
mice:   dw      m0, m1
timers: dw      t0, t1
b0:     db      'Monochrome$'
b1:     db      'CGA$'
b2:     db      'EGA$'
b3:     db      'MCGA$'
b4:     db      'VGA$'
p0:     db      ', 8088$'
p1:     db      ', 8086$'
p2:     db      ', 80186$'
p3:     db      ', 80286$'
p4:     db      ', 80386$'
m0:     db      ', no mouse$'
m1:     db      ', mouse$'
t0:     db      ', no timer$'
t1:     db      ', timer', 13, 10, '$'
result: db      0
