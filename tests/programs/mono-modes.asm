; A VGA as a monochrome board: mode 7 and mode 0Fh with controller and status at 3Bxh, then colour again. Ends with 1 where
; the firmware's data tell otherwise. WRONG waits at the status port of the colour place, which is not present.
%include "trade.inc"
        mov     ax, 0007h
        int     10h
        mov     cx, 3B4h
        mov     dx, 0730h
        call    greet
        mov     ax, 0B000h
        mov     es, ax
        cld
        xor     di, di
        mov     ax, 0741h
        call    row
        mov     ax, 0F42h
        call    row
        mov     ax, 7043h
        call    row
        mov     dx, 3B4h        ; the third row first
        mov     ax, 000Ch
        out     dx, ax
        mov     ax, 0A00Dh
        out     dx, ax
        mov     bx, 3
        call    frames
        mov     ax, 000Fh
        int     10h
        mov     cx, 3B4h
        mov     dx, 0F30h
        call    greet
        mov     ax, 0A000h
        mov     es, ax
        mov     dx, sequencer
        mov     ax, 0102h
        out     dx, ax
        xor     di, di
        mov     ax, 0F0F0h
        mov     cx, 40 * 100
        rep     stosw
        mov     ax, 0402h
        out     dx, ax
        mov     di, 50 * 80
        mov     ax, 0FFFFh
        mov     cx, 40 * 50
        rep     stosw
        mov     bx, 3
        call    frames
        mov     ax, 0003h
        int     10h
        mov     cx, 3D4h
        mov     dx, 0320h
        call    greet
        finish

; This many frames, by the status port of the monochrome place.
frames: mov     dx, 3BAh
%ifdef WRONG
        mov     dx, status
%endif
..@culprit:
        in      al, dx
        test    al, 8
        jnz     ..@culprit
.wait:  in      al, dx
        test    al, 8
        jz      .wait
        dec     bx
        jnz     frames
        ret

row:    mov     cx, 80
        rep     stosw
        ret

; Whether the data tell of the controller's port CX, the mode DH and the display DL.
greet:   push    ds
        mov     ax, 40h
        mov     ds, ax
        cmp     cx, [63h]
        jne     bad
        mov     al, [10h]
        and     al, 30h
        mov     ah, [49h]
        cmp     ax, dx
        jne     bad
        pop     ds
        ret
bad:    mov     ax, 4C01h
        int     21h
