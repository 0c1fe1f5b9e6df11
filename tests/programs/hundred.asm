; 160 by 100 in sixteen colours out of text of two scan lines a row, drawn with the video off. SNOW leaves it on; ENDLESS
; has too few rows: the one at which sync begins never comes; SLOW makes the lines longer than the class's monitors take.
%include "trade.inc"
        mov     ax, 0003h
        int     10h
        mov     dx, 3D8h
%ifdef SNOW
        mov     al, 9
%else
        mov     al, 1           ; 80 columns, dark, bright backgrounds
%endif
        out     dx, al
        mov     dx, controller
        mov     si, table
        mov     cx, table_words
.set:   lodsw
..@culprit: out    dx, ax
        loop    .set
        mov     ax, 0B800h
        mov     es, ax
        cld
        xor     di, di
        xor     dx, dx
.row:   xor     bx, bx
.cell:  mov     al, 0DDh
..@snowing: stosb
        mov     al, bl
        add     al, dl
        and     al, 15
        mov     ah, al
        inc     ah
        mov     cl, 4
        shl     ah, cl
        or      al, ah
        stosb
        add     bx, 2
        cmp     bx, 160
        jb      .cell
        inc     dx
        cmp     dx, 100
        jb      .row
        mov     dx, 3D8h
        mov     al, 9
        out     dx, al
        finish

%ifdef SLOW
table:  dw      8000h, 7F04h, 6406h, 7007h, 0109h, 200Ah
table_words equ 6
%elifdef ENDLESS
table:  dw      6804h, 6406h, 7007h, 0109h, 200Ah
table_words equ 5
%else
table:  dw      7F04h, 6406h, 7007h, 0109h, 200Ah
table_words equ 5
%endif
