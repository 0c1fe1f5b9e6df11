; Loader: reads a picture of 64000 bytes from the file PICTURE.RAW in pieces, gathers it in memory and shows it.
;
;       nasm -f bin -o loader.com loader.asm
;       nasm -f bin -DEDGE -o edge.com loader.asm   gathers at an offset from which 64000 bytes run over the edge of the
;                                                   segment: the end of the picture goes astray

        cpu 8086
        org 100h

video   equ 0A000h
size    equ 64000
piece   equ 8000
%ifdef EDGE
%define GATHERED 2000h
%else
%define GATHERED 0
%endif

start:  mov     ax, 0013h
        int     10h
        mov     ax, cs
        add     ax, 1000h       ; the segment after ours
        mov     [buffer], ax
        mov     dx, name
        mov     ax, 3D00h
        int     21h
        jc      .failed
        mov     bx, ax
        mov     bp, GATHERED    ; where the next piece goes
        mov     si, size / piece
.piece: mov     cx, piece
        mov     dx, chunk
        mov     ah, 3Fh
        int     21h
        jc      .failed
        push    si
        mov     es, [buffer]
        mov     si, chunk
        mov     di, bp
        mov     cx, piece / 2
        cld
        rep movsw
        mov     bp, di
        pop     si
        dec     si
        jnz     .piece
        mov     ah, 3Eh
        int     21h
        mov     ax, video
        mov     es, ax
        push    ds
        mov     ax, [buffer]
        add     ax, GATHERED / 16
        mov     ds, ax          ; the whole picture within one segment
        xor     si, si
        xor     di, di
        mov     cx, size / 2
        rep movsw
        pop     ds
        xor     ax, ax          ; a key ends it
        int     16h
        mov     ax, 4C00h
        int     21h

.failed:
        mov     dx, sorry
        mov     ah, 9
        int     21h
        mov     ax, 4C01h
        int     21h

name:   db      "PICTURE.RAW", 0
sorry:  db      "No PICTURE.RAW here.", 13, 10, "$"
buffer: dw      0
chunk:                          ; a piece of the file
