//! Interrupt 33h: the driver of a mouse that is moved by a script or by hand. Its pointer is not drawn.

use backporch_raster::Tap;

use super::Served;
use crate::devices::mouse::{Handler, Mouse};
use crate::machine::Machine;
use crate::registers::{Far, SegmentRegister, Word, flag};
use crate::rom;
use crate::trouble::Trouble;

/// What a driver that is there says (common practice).
const PRESENT: u16 = 0xFFFF;
/// Buttons of the mouse.
const BUTTONS: u16 = 2;

impl<T: Tap> Machine<T> {
    /// Lines of the driver's screen in the mode there is.
    fn mouse_lines(&self) -> u16 {
        match self.mode_number() {
            0x0F | 0x10 => 350,
            0x11 | 0x12 => 480,
            _ => 200,
        }
    }

    /// A service of the driver; without a mouse it is not present.
    pub(super) fn mouse(&mut self) -> Result<Served, Trouble> {
        let (now, lines, absent) = (self.hardware.clocks(), self.mouse_lines(), self.not_here(0x33));
        let Some(mut mouse) = self.system.mouse.take() else { return Err(absent) };
        mouse.attend(now);
        mouse.asked = true;
        let done = self.mouse_service(&mut mouse, lines);
        self.system.mouse = Some(mouse);
        done.then_some(Served::Back).ok_or(absent)
    }

    fn mouse_service(&mut self, mouse: &mut Mouse, lines: u16) -> bool {
        let [x, y] = mouse.at();
        match self.word(Word::Ax) {
            0x00 | 0x21 => {
                mouse.reset(lines);
                self.set(Word::Ax, PRESENT);
                self.set(Word::Bx, BUTTONS);
            }
            // Show and hide the pointer, and its shapes.
            0x01 | 0x02 | 0x09 | 0x0A => {}
            0x03 => {
                self.set(Word::Bx, u16::from(mouse.buttons));
                self.set(Word::Cx, x);
                self.set(Word::Dx, y);
            }
            0x04 => mouse.place([self.word(Word::Cx), self.word(Word::Dx)]),
            service @ (0x05 | 0x06) => {
                let button = usize::from(self.word(Word::Bx));
                let turns = if service == 0x05 { mouse.take_downs(button) } else { mouse.take_ups(button) };
                self.set(Word::Ax, u16::from(mouse.buttons));
                self.set(Word::Bx, turns.times);
                self.set(Word::Cx, turns.at[0]);
                self.set(Word::Dx, turns.at[1]);
            }
            service @ (0x07 | 0x08) => {
                mouse.limit(usize::from(service - 0x07), self.word(Word::Cx), self.word(Word::Dx));
            }
            0x0B => {
                let [across, down] = mouse.take_counted();
                self.set(Word::Cx, across as u16);
                self.set(Word::Dx, down as u16);
            }
            0x0C => {
                let (mask, at) = (self.word(Word::Cx), self.at(SegmentRegister::Es, Word::Dx));
                mouse.handler = (mask != 0).then_some(Handler { mask, at });
            }
            0x0F => mouse.set_steps([self.word(Word::Cx), self.word(Word::Dx)]),
            _ => return false,
        }
        true
    }

    /// Whether the program's handler is to be called just now.
    pub(crate) fn mouse_calls(&mut self) -> bool {
        let now = self.hardware.clocks();
        let is_free = self.system.mouse_call.is_none();
        self.system.mouse.as_mut().is_some_and(|mouse| {
            mouse.attend(now);
            is_free && mouse.calls()
        })
    }

    /// When the mouse is next to be attended to, in processor clocks: at each instruction while the program's handler is to
    /// be called as soon as interrupts are on.
    pub(crate) fn next_of_mouse(&self) -> Option<u64> {
        let mouse = self.system.mouse.as_ref()?;
        let waits = mouse.calls() && self.system.mouse_call.is_none();
        waits.then(|| self.hardware.clocks()).or_else(|| mouse.next())
    }

    /// The driver's interrupt: calls the program's handler, which goes back by a far return.
    pub(super) fn call_mouse_handler(&mut self) -> Served {
        let Some((handler, events)) = self.system.mouse.as_mut().and_then(Mouse::take_call) else {
            return Served::Back;
        };
        let Some(mouse) = &self.system.mouse else { return Served::Back };
        let ([x, y], buttons) = (mouse.at(), u16::from(mouse.buttons));
        self.system.mouse_call = Some(self.processor.registers);
        for (register, value) in [(Word::Ax, events), (Word::Bx, buttons), (Word::Cx, x), (Word::Dx, y)] {
            self.set(register, value);
        }
        self.push(rom::SEGMENT);
        self.push(rom::offset_of(rom::service::AFTER_MOUSE));
        self.processor.registers.put(flag::INTERRUPT, true);
        self.processor.registers.go_to(handler.at);
        Served::Gone
    }

    /// The handler has come back: everything is as it was.
    pub(super) fn after_mouse(&mut self) -> Served {
        self.hardware.reconsider();
        if let Some(registers) = self.system.mouse_call.take() {
            self.processor.registers = registers;
        }
        Served::Back
    }

    /// Puts the driver behind its interrupt.
    pub(crate) fn install_mouse(&mut self, mouse: Mouse) {
        self.system.mouse = Some(mouse);
        self.store_word(Far::new(0, 0x33 * 4), rom::offset_of(rom::service::MOUSE));
    }
}
