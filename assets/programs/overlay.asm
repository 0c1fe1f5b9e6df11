; A program file with a header, whose stack lies in a segment of its own, that gets memory, loads a part of itself from
; PART.BIN into it and calls that far: the part fills the screen with the colour it is given.
;       nasm -f bin -o overlay.exe overlay.asm

        cpu 8086
        bits 16

; Header of 32 bytes: size, one relocation, stack.
header: dw      5A4Dh, (file_end - header) % 512, (file_end - header + 511) / 512, 1, 2, 0, 100h
        dw      (stack - code) / 16, 64, 0, start - code, 0, 28, 0
        dw      segment_of_data - code, 0

code:
start:  mov     ax, (data - code) / 16
segment_of_data equ $ - 2
        mov     ds, ax
        mov     ah, 48h         ; nothing is left: the program has it all
        mov     bx, 1000h
        int     21h
        jnc     .have
        mov     ax, es          ; from the prefix on, what is not needed goes back
        mov     bx, 40h
        mov     ah, 4Ah
        int     21h
        jc      failed
        mov     ah, 48h
        mov     bx, 10h
        int     21h
        jc      failed
.have:  mov     [part - data + 2], ax
        mov     ax, 3D00h
        mov     dx, name - data
        int     21h
        jc      failed
        mov     bx, ax
        push    ds
        mov     ds, [part - data + 2]
        xor     dx, dx
        mov     cx, 100h
        mov     ah, 3Fh
        int     21h
        pop     ds
        mov     ah, 3Eh
        int     21h
        mov     ax, 0013h
        int     10h
        mov     al, 9
        call    far [part - data]
        mov     ax, 4C00h
        int     21h
failed: mov     ah, 4Ch
        int     21h

        align 16, db 0
data:
name:   db      'PART.BIN', 0
part:   dw      0, 0
        align 16, db 0
stack:  times 64 db 0
file_end:
