//! The routine in assembly, for the first processor of its line.

use super::Routine;
use crate::table::{rows_of, words};
use backporch_workaround::transition::BeamMoment;

/// Numbers on a line of data.
const A_LINE: usize = 8;

impl Routine {
    /// The routine and a demonstration around it, in the plain destination-first syntax: one flat program.
    #[must_use]
    pub fn to_assembly(&self) -> String {
        let mut text: String = self.head().iter().map(|line| format!("; {line}\n")).collect();
        text += &self.constants();
        text += &self.demonstration();
        text += &self.setup();
        text += STEPS;
        text += &self.show();
        text += &self.drawing();
        text += &self.column();
        text += &self.data();
        text
    }

    fn constants(&self) -> String {
        format!(
            "\n        cpu 8086\n        org 100h\n\n\
             %ifndef FRAMES\n%define FRAMES 512              ; steps the demonstration goes on, and back again\n%endif\n\n\
             VIDEO   equ 0{:04X}h              ; segment of video memory\n\
             STATUS  equ 0{:03X}h\n\
             HIDDEN  equ {:<18} ; status bit: the beam does not display\n\
             RETRACE equ {:<18} ; status bit: vertical retrace\n\
             PITCH   equ {:<18} ; bytes from one line to the next\n\
             HEIGHT  equ {:<18} ; lines\n\
             LEFT    equ {:<18} ; first column of the picture\n\
             RIGHT   equ {:<18} ; first column after it\n\
             STEP    equ {:<18} ; columns of a step\n\
             STRIDE  equ {:<18} ; the same in start addresses\n\
             FIRST   equ {:<18} ; first position\n\
             RING    equ 0{:04X}h              ; start addresses that differ, less one\n\
             STEPS   equ {:<18} ; entries of the table\n\
             COPIES  equ {:<18} ; copies of the picture in memory\n\
             GROUPS  equ (RIGHT - LEFT) / STEP  ; columns of the picture, a step at a time\n\
             GROUP   equ HEIGHT * STEP          ; bytes of art for a step, line by line\n\
             ART     equ {:<18} ; steps of art, after which it comes again\n",
            self.segment,
            self.status,
            self.no_display,
            self.retrace,
            self.pitch,
            self.height,
            self.clear.0,
            self.clear.1,
            self.step,
            self.stride,
            self.first,
            self.ring_mask,
            self.ahead.len(),
            self.copies.len(),
            self.art_steps,
        )
    }

    fn demonstration(&self) -> String {
        format!(
            "\n; ---- demonstration: to and fro until a key is pressed -----------------------------\n\n\
             demo:   mov     ax, {:<15} ; the mode; its memory is all 0\n\
             \x20       int     10h\n\
             \x20       cld\n\
             \x20       call    make_art\n\
             \x20       call    setup\n\
             .again: mov     cx, FRAMES\n\
             .on:    push    cx\n\
             \x20       call    go_on\n\
             \x20       pop     cx\n\
             \x20       loop    .on\n\
             \x20       mov     cx, FRAMES\n\
             .back:  push    cx\n\
             \x20       call    go_back\n\
             \x20       pop     cx\n\
             \x20       loop    .back\n\
             \x20       mov     ah, 1           ; a key?\n\
             \x20       int     16h\n\
             \x20       jz      .again\n\
             \x20       mov     ah, 0\n\
             \x20       int     16h\n\
             \x20       mov     ax, {:<15} ; back to text\n\
             \x20       int     10h\n\
             \x20       mov     ax, 4C00h\n\
             \x20       int     21h\n\n\
             ; Art to scroll over: a pixel is its column xor its line.\n\
             make_art:\n\
             \x20       push    ds\n\
             \x20       pop     es\n\
             \x20       mov     di, art\n\
             \x20       xor     dx, dx          ; first column of the step\n\
             .step:  xor     bx, bx          ; line\n\
             .line:  mov     cx, STEP\n\
             \x20       mov     ax, dx\n\
             .pixel: push    ax\n\
             \x20       xor     al, bl\n\
             \x20       stosb\n\
             \x20       pop     ax\n\
             \x20       inc     ax\n\
             \x20       loop    .pixel\n\
             \x20       inc     bx\n\
             \x20       cmp     bx, HEIGHT\n\
             \x20       jb      .line\n\
             \x20       add     dx, STEP\n\
             \x20       cmp     dx, ART * STEP\n\
             \x20       jb      .step\n\
             \x20       ret\n",
            self.mode, self.text_mode
        )
    }

    fn setup(&self) -> String {
        let mut text = "\n; ---- the routine ------------------------------------------------------------------\n\n\
             ; Programs the registers, each group of them at its moment, and draws the first picture.\n\
             ; The mode has been set, and video memory is all 0.\n\
             setup:\n"
            .to_string();
        for stage in &self.setup.transition().stages {
            text += &format!("        ; {} ({})\n", stage.purpose, words(stage.moment));
            text += match stage.moment {
                BeamMoment::Anytime => "",
                BeamMoment::Retrace => "        call    wait_display\n        call    wait_retrace\n",
                BeamMoment::ActiveArea => "        call    wait_display\n",
            };
            for row in rows_of(stage) {
                let note = row.words().map_or_else(String::new, |note| format!("         ; {note}"));
                text += &format!(
                    "        mov     dx, 0{:03X}h\n        mov     al, 0{:02X}h{note}\n        out     dx, al\n",
                    row.port, row.value
                );
            }
        }
        text + "        mov     ax, VIDEO\n\
                \x20       mov     es, ax\n\
                \x20       mov     word [position], FIRST\n\
                \x20       mov     word [number], 0\n\
                \x20       mov     word [strip], art\n\
                \x20       mov     si, art\n\
                \x20       mov     bx, LEFT\n\
                \x20       mov     bp, LEFT - STEP\n\
                .group: call    each_copy\n\
                \x20       call    next_group\n\
                \x20       add     bx, STEP\n\
                \x20       cmp     bx, RIGHT\n\
                \x20       jb      .group\n\
                \x20       jmp     wait_retrace    ; the next frame shows it\n"
    }

    fn show(&self) -> String {
        let [upper, lower] = self.start;
        format!(
            "\n; Shows the step while the beam displays, so that no frame takes it over half written,\n\
             ; and waits for vertical retrace to begin.\n\
             show:   call    wait_display\n\
             \x20       mov     bx, [number]\n\
             \x20       shl     bx, 1\n\
             \x20       mov     bx, [ahead + bx]\n\
             \x20       add     bx, [position]\n\
             \x20       and     bx, RING\n\
             \x20       cli\n\
             \x20       mov     dx, 0{:03X}h\n\
             \x20       mov     al, 0{:02X}h\n\
             \x20       out     dx, al\n\
             \x20       mov     dx, 0{:03X}h\n\
             \x20       mov     al, bh\n\
             \x20       out     dx, al\n\
             \x20       mov     dx, 0{:03X}h\n\
             \x20       mov     al, 0{:02X}h\n\
             \x20       out     dx, al\n\
             \x20       mov     dx, 0{:03X}h\n\
             \x20       mov     al, bl\n\
             \x20       out     dx, al\n\n\
             ; Interrupts are off: retrace may be shorter than a tick of the timer takes.\n\
             wait_retrace:\n\
             \x20       mov     dx, STATUS\n\
             \x20       cli\n\
             .wait:  in      al, dx\n\
             \x20       test    al, RETRACE\n\
             \x20       jz      .wait\n\
             \x20       sti\n\
             \x20       ret\n\n\
             wait_display:\n\
             \x20       mov     dx, STATUS\n\
             .sync:  in      al, dx\n\
             \x20       test    al, RETRACE\n\
             \x20       jnz     .sync\n\
             .blank: in      al, dx\n\
             \x20       test    al, HIDDEN\n\
             \x20       jnz     .blank\n\
             \x20       ret\n",
            upper.index_port, upper.index, upper.data_port, lower.index_port, lower.index, lower.data_port
        )
    }

    /// Which copies are drawn, and in which order.
    fn drawing(&self) -> String {
        let mut text = "\n; The group of art after the one at SI.\n\
             next_group:\n\
             \x20       add     si, GROUP\n\
             \x20       cmp     si, art + ART * GROUP\n\
             \x20       jb      .inside\n\
             \x20       sub     si, ART * GROUP\n\
             .inside: ret\n\n\
             ; Draws the group of art at SI at column BX, of the copy that is shown first, and takes\n\
             ; what left the picture at column BP into the border.\n"
            .to_string();
        text += if self.copies.len() == 1 {
            "each_copy:\n\
             \x20       mov     di, [position]\n\
             \x20       shl     di, 1\n\
             \x20       jmp     column\n"
        } else {
            "each_copy:\n\
             \x20       mov     di, [number]\n\
             \x20       shl     di, 1\n\
             \x20       mov     dx, [shown + di]\n\
             \x20       mov     di, dx\n\
             \x20       call    at_copy\n\
             \x20       mov     cx, COPIES\n\
             \x20       mov     di, copies\n\
             .copy:  push    cx\n\
             \x20       push    di\n\
             \x20       mov     di, [di]\n\
             \x20       cmp     di, dx          ; drawn already\n\
             \x20       je      .drawn\n\
             \x20       call    at_copy\n\
             .drawn: pop     di\n\
             \x20       pop     cx\n\
             \x20       inc     di\n\
             \x20       inc     di\n\
             \x20       loop    .copy\n\
             \x20       ret\n\n\
             at_copy:\n\
             \x20       add     di, [position]\n\
             \x20       add     di, [position]\n\
             \x20       jmp     column\n"
        };
        text
    }

    /// Draws one column of one copy.
    fn column(&self) -> String {
        let words = (self.step / 2) as usize;
        let draw = "        movsw\n".repeat(words);
        let blank: String = (0..words).map(|word| format!("        mov     [es:bp + {}], ax\n", word * 2)).collect();
        if !self.bordered {
            return format!(
                "\n; Draws the group of art at SI at column BX of the copy at DI, from the top, ahead of the beam.\n\
                 column: push    si\n\
                 \x20       add     di, bx\n\
                 \x20       mov     cx, HEIGHT\n\
                 .line:\n{draw}\
                 \x20       add     di, PITCH - STEP\n\
                 \x20       loop    .line\n\
                 \x20       pop     si\n\
                 \x20       ret\n"
            );
        }
        format!(
            "\n; Draws the group of art at SI at column BX of the copy at DI, from the top, ahead of the beam, and the\n\
             ; border's colour at column BP, also in the rows above and below: there the border goes on.\n\
             column: push    si\n\
             \x20       push    bp\n\
             \x20       add     bp, di\n\
             \x20       add     di, bx\n\
             \x20       xor     ax, ax\n\
             \x20       sub     bp, PITCH\n{blank}\
             \x20       add     bp, PITCH\n\
             \x20       mov     cx, HEIGHT\n\
             .line:\n{draw}{blank}\
             \x20       add     di, PITCH - STEP\n\
             \x20       add     bp, PITCH\n\
             \x20       loop    .line\n{blank}\
             \x20       pop     bp\n\
             \x20       pop     si\n\
             \x20       ret\n"
        )
    }

    fn data(&self) -> String {
        let mut text = "\n; ---- data -------------------------------------------------------------------------\n\n\
             position: dw FIRST              ; where the picture begins in memory\n\
             number: dw 0                    ; entry of the table\n\
             strip:  dw art                  ; art of the picture's first columns\n\n\
             ; What is shown: start addresses further on than the position.\n"
            .to_string();
        text += &numbers("ahead", &self.ahead);
        if self.copies.len() > 1 {
            text += "\n; Bytes from the position to the copy that is shown, and to every copy.\n";
            text += &numbers("shown", &self.shown);
            text += &numbers("copies", &self.copies);
        }
        text + "\n; The art, built by the demonstration: ART groups of HEIGHT lines of STEP bytes.\nart:\n"
    }
}

/// The steps: on and back.
const STEPS: &str = "
; One step on: what enters comes in at the right.
go_on:  mov     ax, [number]
        inc     ax
        cmp     ax, STEPS
        jb      .entry
        xor     ax, ax
.entry: mov     [number], ax
        add     word [position], STRIDE
        and     word [position], RING
        mov     si, [strip]
        call    next_group
        mov     [strip], si
        call    show
        mov     si, [strip]
        sub     si, (ART - (GROUPS - 1) % ART) * GROUP
        jc      .outside                ; art of the last columns: so much further on, or back
        cmp     si, art
        jae     .inside
.outside:
        add     si, ART * GROUP
.inside:
        mov     bx, RIGHT - STEP
        mov     bp, LEFT - STEP
        mov     ax, VIDEO
        mov     es, ax
        jmp     each_copy

; One step back: what enters comes in at the left.
go_back:
        mov     ax, [number]
        dec     ax
        jns     .entry
        mov     ax, STEPS - 1
.entry: mov     [number], ax
        sub     word [position], STRIDE
        and     word [position], RING
        mov     si, [strip]
        cmp     si, art
        jne     .inside
        add     si, ART * GROUP
.inside:
        sub     si, GROUP
        mov     [strip], si
        call    show
        mov     si, [strip]
        mov     bx, LEFT
        mov     bp, RIGHT
        mov     ax, VIDEO
        mov     es, ax
        jmp     each_copy
";

/// A table of words under a label.
fn numbers(label: &str, numbers: &[u32]) -> String {
    let mut text = format!("{label}:\n");
    for line in numbers.chunks(A_LINE) {
        let line: Vec<String> = line.iter().map(|number| format!("0{:04X}h", number & 0xFFFF)).collect();
        text += &format!("        dw      {}\n", line.join(", "));
    }
    text
}
