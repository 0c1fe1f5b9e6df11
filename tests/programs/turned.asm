; A texture turned and scaled in fixed point, 16 bits of fraction, pixel by pixel: registers of 32 bits, FS, GS, SHLD, BT, MOVZX
; (80386). The texture is the exclusive or of its coordinates.
%include "trade.inc"
        cpu     386
across  equ 50000               ; texels of a step to the right, in 65536ths
down    equ 31000
        mov     ax, 0013h
        int     10h
        push    word 0A000h
        pop     gs
        push    cs
        pop     fs
        mov     esi, 37 << 16
        mov     ebp, 100 << 16
        xor     di, di
.row:   push    esi
        push    ebp
        movzx   ecx, word [fs:width]
.pixel: xor     eax, eax
        shld    eax, esi, 16
        mov     edx, ebp
        shr     edx, 16
        xor     al, dl
        bt      ax, 7
        adc     al, 0
        mov     [gs:di], al
        inc     di
        add     esi, across
        add     ebp, down
        dec     ecx
        jnz     near .pixel
        pop     ebp
        pop     esi
        sub     esi, down
        add     ebp, across
        cmp     di, 320 * 200
        jb      near .row
        finish

width:  dw      320
