; Two pages of monochrome graphics in turn, chosen by the mode port in retrace. WRONG chooses in the middle of the picture.
        cpu 8086
        org 100h
port    equ 3BAh                ; bit 7 clear: vertical retrace on this class
        mov     dx, 3BFh
        mov     al, 3           ; graphics and the second page are allowed
        out     dx, al
        mov     dx, 3B8h
        mov     al, 2           ; dark
        out     dx, al
        mov     dx, 3B4h
        mov     si, table
        xor     bx, bx
.set:   mov     al, bl
        mov     ah, [si + bx]
        out     dx, ax
        inc     bx
        cmp     bx, 12
        jb      .set
        cld
        mov     ax, 0B000h
        mov     es, ax
        xor     di, di
        mov     ax, 0FF00h
        mov     cx, 4000h
        rep     stosw
        mov     ax, 0B800h
        mov     es, ax
        xor     di, di
        mov     ax, 0F0F0h
        mov     cx, 4000h
        rep     stosw
        mov     bl, 0Ah
        mov     bp, 12
.frame: call    picture
        call    blanking
%ifdef WRONG
        call    picture
        mov     cx, 4000
.on:    loop    .on
%endif
        xor     bl, 80h
        mov     dx, 3B8h
        mov     al, bl
..@culprit: out    dx, al
        dec     bp
        jnz     .frame
        call    picture
        call    blanking
        call    picture
        mov     ax, 4C00h
        int     21h

        %include "mono.inc"
