//! The routine in C, in the manner of the first compilers for these machines.

use backporch_workaround::transition::BeamMoment;

use super::{Routine, Select};
use crate::table::{rows_of, words};

/// Numbers on a line of data.
const A_LINE: usize = 8;

impl Routine {
    /// The routine and a demonstration around it in C of the first kind, for 16-bit integers; what C cannot say stands in
    /// blocks of assembly.
    #[must_use]
    pub fn to_c(&self) -> String {
        let mut text = String::from("/*\n");
        for line in self.head() {
            text += &format!(" * {}\n", line.replace("*/", "* /"));
        }
        text += " *\n * Integers have 16 bits. What C cannot say stands in #asm blocks; where a compiler has no such\n \
                 * blocks, set_mode, key_pressed, in_port, out_byte, wait_retrace and column have to be written anew.\n */\n\n";
        text += &self.c_constants();
        text += START;
        text += &self.c_machine();
        text += ROUTINE;
        text += &self.c_draw();
        text += &self.c_show();
        text += GO;
        text += &self.c_setup();
        text += &format!(
            "{MAKE_ART}\nmain()\n{{\n    unsigned frame;\n\n    set_mode({});\n    make_art();\n    setup();\n    do {{\n        \
             for (frame = 0; frame < FRAMES; frame++)\n            go_on();\n        \
             for (frame = 0; frame < FRAMES; frame++)\n            go_back();\n    }} while (!key_pressed());\n    \
             set_mode({});\n}}\n",
            self.mode, self.text_mode
        );
        text
    }

    fn c_constants(&self) -> String {
        let mut text = "#ifndef FRAMES\n#define FRAMES 512       /* steps the demonstration goes on, and back again */\n#endif\n\n"
            .to_string();
        let numbers = [
            ("STATUS", u32::from(self.status), "status port"),
            ("HIDDEN", u32::from(self.no_display), "its bit: the beam does not display"),
            ("RETRACE", u32::from(self.retrace), "its bit: vertical retrace"),
            ("HEIGHT", self.height, "lines"),
            ("LEFT", self.clear.0, "first column of the picture"),
            ("RIGHT", self.clear.1, "first column after it"),
            ("STEP", self.step, "columns of a step"),
            ("STRIDE", self.stride, "the same in start addresses"),
            ("FIRST", self.first, "first position"),
            ("RING", self.ring_mask, "start addresses that differ, less one"),
            ("STEPS", self.ahead.len() as u32, "entries of the table"),
            ("COPIES", self.copies.len() as u32, "copies of the picture in memory"),
            ("GROUPS", self.groups(), "columns of the picture, a step at a time"),
            ("GROUP", self.height * self.step, "bytes of art for a step, line by line"),
            ("ART", self.art_steps, "steps of art, after which it comes again"),
            ("ART_BYTES", self.art_steps * self.height * self.step, "bytes of art"),
            (
                "LAST_GROUP",
                (self.groups() - 1) % self.art_steps * self.height * self.step,
                "from the first to the last column's",
            ),
        ];
        for (name, number, says) in numbers {
            text += &format!("#define {name:<10} {:<8} /* {says} */\n", format!("{number}u"));
        }
        text
    }

    fn c_machine(&self) -> String {
        let words = 0..self.step / 2;
        let draw = "        movsw\n".repeat(words.len());
        let blank: String =
            words.map(|word| format!("        seg     es\n        mov     {}[bp],ax\n", word * 2)).collect();
        let pitch = self.pitch;
        let bordered = |code: String| if self.bordered { code } else { String::new() };
        let above = bordered(format!("        sub     bp,#{pitch}\n{blank}        add     bp,#{pitch}\n"));
        let beside = bordered(format!("{blank}        add     bp,#{pitch}\n"));
        let below = bordered(blank);
        format!(
            "{PORTS}\n/* Waits for vertical retrace to begin. Interrupts are off: it may be shorter than a tick of the timer takes. */\n\
             wait_retrace()\n{{\n#asm\n        mov     dx,#0x{:03X}\n        cli\nretrace_wait:\n        in      al,dx\n\
             \x20       test    al,#{}\n        jz      retrace_wait\n        sti\n#endasm\n}}\n\n/* Draws a step of art from the top, ahead of the beam{}. */\n\
             column(from, offset, border)\nunsigned char *from;\nunsigned offset, border;\n{{\n#asm\n\
             \x20       mov     bx,sp\n        push    si\n        push    di\n        push    bp\n\
             \x20       mov     si,2[bx]\n        mov     di,4[bx]\n        mov     bp,6[bx]\n\
             \x20       mov     ax,#0x{:04X}\n        mov     es,ax\n        xor     ax,ax\n        cld\n{above}\
             \x20       mov     cx,#{}\ncolumn_line:\n{draw}        add     di,#{}\n{beside}        loop    column_line\n{below}\
             \x20       pop     bp\n        pop     di\n        pop     si\n#endasm\n}}\n",
            self.status,
            self.retrace,
            if self.bordered { ", and the border's colour, also in the rows above and below" } else { "" },
            self.segment,
            self.height,
            self.pitch - self.step,
        )
    }

    fn c_draw(&self) -> String {
        let mut text = "\n/* What is shown: start addresses further on than the position. */\n".to_string();
        text += &numbers("ahead", &self.ahead);
        if self.copies.len() == 1 {
            return text
                + "\n/* Draws a step of art at a column, and takes what left the picture into the border. */\n\
                   draw(from, at, border)\nunsigned from, at, border;\n{\n    unsigned base;\n\n    base = position << 1;\n    \
                   column(art + from, base + at, base + border);\n}\n";
        }
        text += "\n/* Bytes from the position to the copy that is shown, and to every copy. */\n";
        text += &numbers("shown", &self.shown);
        text += &numbers("copies", &self.copies);
        text + "\n/* Draws a step of art at a column of every copy, the one that is shown first. */\n\
                draw(from, at, border)\nunsigned from, at, border;\n{\n    unsigned base, copy;\n\n    base = (position << 1) + shown[number];\n    \
                column(art + from, base + at, base + border);\n    for (copy = 0; copy < COPIES; copy++)\n        \
                if (copies[copy] != shown[number]) {\n            base = (position << 1) + copies[copy];\n            \
                column(art + from, base + at, base + border);\n        }\n}\n"
    }

    fn c_show(&self) -> String {
        let write = |Select { index_port, index, data_port }: Select, byte: &str| {
            format!("    out_byte(0x{index_port:03X}, 0x{index:02X});\n    out_byte(0x{data_port:03X}, {byte});\n")
        };
        let [upper, lower] = self.start;
        format!(
            "\n/* Shows the step while the beam displays, so that no frame takes it over half written,\n \
             * and waits for vertical retrace to begin. */\nshow()\n{{\n    unsigned start;\n\n    wait_display();\n    \
             start = (position + ahead[number]) & RING;\n{}{}    wait_retrace();\n}}\n",
            write(upper, "start >> 8"),
            write(lower, "start & 255")
        )
    }

    fn c_setup(&self) -> String {
        let mut text = "\n/* Programs the registers, each group of them at its moment, and draws the first picture.\n \
             * The mode has been set, and video memory is all 0. */\nsetup()\n{\n    unsigned at, from;\n\n"
            .to_string();
        for stage in &self.setup.transition().stages {
            text += &format!("    /* {} ({}) */\n", stage.purpose, words(stage.moment));
            text += match stage.moment {
                BeamMoment::Anytime => "",
                BeamMoment::Retrace => "    wait_display();\n    wait_retrace();\n",
                BeamMoment::ActiveArea => "    wait_display();\n",
            };
            for row in rows_of(stage) {
                let note = row.words().map_or_else(String::new, |note| format!(" /* {note} */"));
                text += &format!("    out_byte(0x{:03X}, 0x{:02X});{note}\n", row.port, row.value);
            }
        }
        text + "    position = FIRST;\n    number = 0;\n    strip = 0;\n    from = 0;\n    \
                for (at = LEFT; at < RIGHT; at += STEP) {\n        draw(from, at, LEFT - STEP);\n        \
                from = next(from);\n    }\n    wait_retrace();     /* the next frame shows it */\n}\n"
    }
}

/// An array of words.
fn numbers(name: &str, numbers: &[u32]) -> String {
    let mut text = format!("unsigned {name}[] = {{\n");
    for line in numbers.chunks(A_LINE) {
        let line: Vec<String> = line.iter().map(|number| format!("0x{:04X}", number & 0xFFFF)).collect();
        text += &format!("    {},\n", line.join(", "));
    }
    text + "};\n"
}

/// The first code of the program.
const START: &str = "
/* The first code of the program. */
#asm
        call    _main
        mov     ax,#0x4C00
        int     0x21
#endasm
";

/// Firmware and ports.
const PORTS: &str = "
set_mode(mode)
int mode;
{
#asm
        mov     bx,sp
        mov     ax,2[bx]
        int     0x10
#endasm
}

int key_pressed()
{
#asm
        mov     ah,#1
        int     0x16
        mov     ax,#1
        jnz     key_there
        xor     ax,ax
key_there:
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
";

/// What the routine remembers, and how it waits.
const ROUTINE: &str = "
unsigned position;      /* where the picture begins in memory */
unsigned number;        /* entry of the table */
unsigned strip;         /* art of the picture's first columns */
unsigned char art[ART_BYTES];

wait_display()
{
    while (in_port(STATUS) & RETRACE)
        ;
    while (in_port(STATUS) & HIDDEN)
        ;
}

/* The step of art after one. */
unsigned next(from)
unsigned from;
{
    from += GROUP;
    return from == ART_BYTES ? 0 : from;
}
";

/// The steps: on and back.
const GO: &str = "
/* One step on: what enters comes in at the right. */
go_on()
{
    unsigned from;

    number = number + 1 == STEPS ? 0 : number + 1;
    position = (position + STRIDE) & RING;
    strip = next(strip);
    from = ART_BYTES - strip > LAST_GROUP ? strip + LAST_GROUP : LAST_GROUP - (ART_BYTES - strip);
    show();
    draw(from, RIGHT - STEP, LEFT - STEP);
}

/* One step back: what enters comes in at the left. */
go_back()
{
    number = number == 0 ? STEPS - 1 : number - 1;
    position = (position - STRIDE) & RING;
    strip = strip == 0 ? ART_BYTES - GROUP : strip - GROUP;
    show();
    draw(strip, LEFT, RIGHT);
}
";

/// The demonstration's art.
const MAKE_ART: &str = "
/* Art to scroll over: a pixel is its column xor its line. */
make_art()
{
    unsigned group, line, x, at;

    at = 0;
    for (group = 0; group < ART; group++)
        for (line = 0; line < HEIGHT; line++)
            for (x = 0; x < STEP; x++)
                art[at++] = (group * STEP + x) ^ line;
}
";
