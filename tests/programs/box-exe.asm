; A program file with data and stack in segments of their own: boxes of 32 by 40 in two colours, one by a far call. WRONG
; steps by 256 where the board shows 320.
%define EXE
        cpu 8086
        bits 16
%ifdef WRONG
pitch   equ 256
%else
pitch   equ 320
%endif
header: dw      5A4Dh, (file_end - header) % 512, (file_end - header + 511) / 512, 2, 3, 0, 100h
        dw      (stack - code) / 16, 64, 0, start - code, 0, 28, 0
        dw      segment_of_data - code, 0, segment_of_code - code, 0
        times   48 - ($ - header) db 0
code:
start:  mov     ax, (data - code) / 16
segment_of_data equ $ - 2
        mov     ds, ax
        mov     ax, 0013h
        int     10h
        mov     ax, 0A000h
        mov     es, ax
        cld
        mov     si, places - data
.next:  lodsw
        cmp     ax, -1
        je      .done
        mov     di, ax
        lodsw
        call    0:box - code
segment_of_code equ $ - 2
        jmp     .next
.done:  mov     ax, 4C00h
        int     21h

; A box at DI in the colours of AX.
box:    mov     bx, 40
.line:  mov     cx, 16
..@culprit: rep    stosw
        add     di, pitch - 32
        dec     bx
        jnz     .line
        retf

        align   16, db 0
data:
places: dw      20 * 320 + 30, 0909h, 60 * 320 + 100, 0E0Ch, 120 * 320 + 200, 0A02h, -1
        align   16, db 0
stack:  times   64 db 0
file_end:
