; A sprite of eight pixels over stripes, by bit mask and set/reset; what stands under it is kept beyond the page through the
; latches. It moves a pixel in each retrace. WRONG draws while the beam passes.
%include "trade.inc"
        mov     ax, 000Dh
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     dx, sequencer
        mov     ax, 0402h       ; stripes in plane 2
        out     dx, ax
        xor     di, di
        mov     ax, 0AAAAh
        mov     cx, 4000
        rep     stosw
        mov     ax, 0F02h
        out     dx, ax
        xor     bx, bx
        call    keep
        call    sprite
.frame:
%ifdef WRONG
        call    retrace
        call    display
        mov     cx, 5300
.on:    loop    .on
%else
        next_retrace
%endif
        call    place           ; back again
        mov     si, 8000
        call    move
        inc     bx
        call    keep
        call    sprite
        cmp     bx, 20
        jb      .frame
        finish

; DI where the sprite at pixel BX stands, CL by how much it is shifted.
place:  mov     di, bx
        mov     cl, 3
        shr     di, cl
        add     di, 190 * 40
        mov     cl, bl
        and     cl, 7
        ret

keep:   call    place
        mov     si, di
        mov     di, 8000
; Eight rows of two bytes from SI to DI, all planes at once; 8000 and on is where they are kept.
move:   mov     dx, graphics
        mov     ax, 0105h
        out     dx, ax
        push    ds
        push    es
        pop     ds
        mov     cx, 8
.row:
..@culprit: movsb
        movsb
        cmp     di, 8000
        jae     .kept
        add     di, 38
        jmp     .next
.kept:  add     si, 38
.next:  loop    .row
        pop     ds
        mov     ax, 0005h
        out     dx, ax
        ret

sprite: mov     dx, graphics
        mov     ax, 0E00h
        out     dx, ax
        mov     ax, 0F01h
        out     dx, ax
        call    place
        mov     si, shape
        mov     ch, 8
.row:   mov     ah, [si]
        inc     si
        xor     al, al
        shr     ax, cl
        push    ax
        mov     al, 8
        out     dx, ax
        mov     al, [es:di]
        mov     [es:di], al
        pop     ax
        mov     ah, al
        mov     al, 8
        out     dx, ax
        mov     al, [es:di + 1]
        mov     [es:di + 1], al
        add     di, 40
        dec     ch
        jnz     .row
        mov     ax, 0FF08h
        out     dx, ax
        mov     ax, 0001h
        out     dx, ax
        ret
shape:  db      18h, 3Ch, 7Eh, 0FFh, 0FFh, 7Eh, 3Ch, 18h
