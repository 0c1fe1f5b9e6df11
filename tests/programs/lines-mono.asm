; Monochrome graphics: a line a step lower each time is drawn on the page that is not shown, and shown in retrace. VISIBLE
; draws on the page shown.
        cpu 8086
        org 100h
port    equ 3BAh                ; bit 7 clear: vertical retrace on this class
        mov     dx, 3BFh
        mov     al, 3
        out     dx, al
        mov     dx, 3B8h
        mov     al, 2
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
        call    clear
        mov     ax, 0B800h
        call    clear
        mov     dx, 3B8h
        mov     al, 0Ah
        out     dx, al
        xor     bp, bp
.frame: mov     ax, 0B800h
%ifndef VISIBLE
        test    bp, 1
        jz      .page
%endif
        mov     ax, 0B000h
.page:  call    clear
        xor     bx, bx
.pixel: mov     ax, bx
        shr     ax, 1
        add     ax, bp
        add     ax, bp
        call    plot
        inc     bx
        cmp     bx, 600
        jb      .pixel
        call    picture
        call    blanking
        mov     dx, 3B8h
        mov     al, 0Ah
%ifndef VISIBLE
        test    bp, 1
        jnz     .show
        mov     al, 8Ah
%endif
.show:  out     dx, al
        inc     bp
        cmp     bp, 8
        jb      .frame
        call    picture
        call    blanking
        call    picture
        mov     ax, 4C00h
        int     21h

clear:  mov     es, ax
        xor     di, di
        xor     ax, ax
        mov     cx, 4000h
..@culprit: rep     stosw
        ret

; The pixel BX of line AX: four banks of rows of 90 bytes.
plot:   mov     di, ax
        and     di, 3
        mov     cl, 13
        shl     di, cl
        shr     ax, 1
        shr     ax, 1
        mov     dx, 90
        mul     dx
        add     di, ax
        mov     ax, bx
        mov     cl, 3
        shr     ax, cl
        add     di, ax
        mov     cl, bl
        and     cl, 7
        mov     al, 80h
        shr     al, cl
        or      [es:di], al
        ret

        %include "mono.inc"
