/* Smooth scroll with column redraw, two pixels a frame to the right, in C.
 * For the 64 KiB 256-colour class: 256 by 200, the width at which it scrolls; one byte a pixel, start address in words.
 *
 * A pixel of the world at column x and line y has the colour x xor y (both modulo 256), as in scroll.asm. Every frame:
 * the new start address while the beam displays; it is taken over near the end of the frame. When vertical sync begins,
 * the two columns that enter at the right are drawn, from the top, ahead of the beam.
 *
 *      bcc -0 -c -o quay.o quay.c              as it should be
 *      bcc -0 -DLATE -c -o quay.o quay.c       the start address is written after the moment it is taken over
 *      ld86 -d -s -T 0x100 -o quay.com quay.o
 */

#ifndef FRAMES
#define FRAMES 24
#endif
#define FIRST 0xE8              /* start address of the first frame: a carry into the upper byte comes soon */

#define CONTROLLER 0x3D4
#define STATUS 0x3DA
#define WIDTH 256
#define HEIGHT 200

/* The first code of the program. */
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

out_byte(port, value)
unsigned port, value;
{
#asm
        mov     bx,sp
        mov     dx,2[bx]
        mov     ax,4[bx]
        out     dx,al
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

/* Writes a word of video memory. */
draw(offset, value)
unsigned offset, value;
{
#asm
        mov     bx,sp
        mov     ax,#0xA000
        mov     es,ax
        mov     ax,4[bx]
        mov     bx,2[bx]
        seg     es
        mov     [bx],ax
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

set_start(start)
unsigned start;
{
    out_word(CONTROLLER, 0x0C | (start & 0xFF00));
    out_word(CONTROLLER, 0x0D | (start << 8));
}

/* Shows 32 characters a line in place of 40, in the middle of the screen; the line keeps its length. */
narrow()
{
    protect(0);
    out_word(CONTROLLER, 0x1F01);       /* characters shown, less one */
    out_word(CONTROLLER, 0x2602);       /* sync four characters earlier */
    protect(0x80);
}

/* Bit 7 of register 10h protects registers 0 to 7. */
protect(bit)
unsigned bit;
{
    unsigned old;

    out_byte(CONTROLLER, 0x10);
    old = in_port(CONTROLLER + 1);
    out_byte(CONTROLLER + 1, (old & 0x7F) | bit);
}

/* Two pixels of the world side by side, as they lie in a word. */
unsigned pixels(x, y)
unsigned x, y;
{
    return ((x ^ y) & 255) | (((x + 1) ^ y) << 8);
}

first_picture()
{
    unsigned x, y, offset;

    offset = FIRST * 2;
    for (y = 0; y < HEIGHT; y++)
        for (x = 0; x < WIDTH; x += 2) {
            draw(offset, pixels(FIRST * 2 + x, y));
            offset += 2;
        }
}

columns(start)
unsigned start;
{
    unsigned x, y, offset;

    offset = x = start * 2 + WIDTH - 2;
    for (y = 0; y < HEIGHT; y++) {
        draw(offset, pixels(x, y));
        offset += WIDTH;
    }
}

main()
{
    unsigned start, frame;

    set_mode(0x13);
    narrow();
    first_picture();
    start = FIRST;
    retrace();
    display();
    set_start(start);
    retrace();
    for (frame = 0; frame < FRAMES; frame++) {
        start++;
        display();
#ifdef LATE
        retrace();
        columns(start);         /* takes longer than the rest of the frame */
        set_start(start);
#else
        set_start(start);
        retrace();
        columns(start);
#endif
    }
    display();                  /* the last frame is shown whole */
    retrace();
    display();
}
