/* Two pages of planes in turn, in C. VISIBLE draws on the page that is shown.
 *      bcc -0 -c -o pages.o pages.c
 *      ld86 -d -s -T 0x100 -o pages.com pages.o
 */
#define STATUS 0x3DA

#asm
        call    _main
        mov     ax,#0x4C00
        int     0x21
#endasm

set_mode(mode)
int mode;
{
#asm
        mov     bx,sp
        mov     ax,2[bx]
        int     0x10
#endasm
}

int in_port(port)
unsigned port;
{
#asm
        mov     bx,sp
        mov     dx,2[bx]
        in      al,dx
        xor     ah,ah
#endasm
}

out_word(port, value)
unsigned port, value;
{
#asm
        mov     bx,sp
        mov     dx,2[bx]
        mov     ax,4[bx]
        out     dx,ax
#endasm
}

/* Fills words of video memory. */
fill(offset, value, words)
unsigned offset, value, words;
{
#asm
        mov     bx,sp
        push    di
        mov     ax,#0xA000
        mov     es,ax
        mov     di,2[bx]
        mov     ax,4[bx]
        mov     cx,6[bx]
        cld
        nop
        nop
        nop
        rep
        stosw
        pop     di
#endasm
}

retrace()
{
    while (!(in_port(STATUS) & 8))
        ;
}

display()
{
    while (in_port(STATUS) & 8)
        ;
    while (in_port(STATUS) & 1)
        ;
}

main()
{
    unsigned frame, page, row;

    set_mode(0x0D);
    out_word(0x3C4, 0x0F02);
    for (frame = 1; frame < 11; frame++) {
        page = (frame & 1) ? 0x2000 : 0;
#ifdef VISIBLE
        page ^= 0x2000;
#endif
        for (row = 0; row < 200; row++)
            fill(page + row * 40, frame * 0x0101, 20);
        display();
        out_word(0x3D4, (frame & 1) ? 0x200C : 0x000C);
        retrace();
    }
    display();
    retrace();
    display();
}
