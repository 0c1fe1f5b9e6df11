//! What a board tells the processor: status bits, the vertical interrupt, the light-pen latch.

use crate::adapter::Adapter;
use crate::port::{BeamSignals, StatusBit, StatusSignal};
use crate::register::{LightPen, Registers};
use crate::role::Role;

impl Adapter {
    /// The status port's byte for the state of the beam.
    #[must_use]
    pub fn status(&self, registers: &Registers, beam: &BeamSignals) -> u8 {
        self.status_bits(&self.profile.status, registers, beam, 0)
    }

    /// The bits of a status port; `switches` are those of the board.
    pub(crate) fn status_bits(
        &self,
        bits: &[StatusBit],
        registers: &Registers,
        beam: &BeamSignals,
        switches: u8,
    ) -> u8 {
        bits.iter().fold(0, |status, bit| {
            let shown = match bit.shows {
                StatusSignal::DisplayDisabled => !beam.display_enabled,
                StatusSignal::VerticalSync => beam.vertical_sync,
                StatusSignal::NoVerticalSync => !beam.vertical_sync,
                StatusSignal::HorizontalSync => beam.horizontal_sync,
                StatusSignal::LightPen => registers.light_pen.set,
                StatusSignal::VideoLow => self.video_status(registers, beam.pixel).0,
                StatusSignal::VideoHigh => self.video_status(registers, beam.pixel).1,
                StatusSignal::VerticalInterrupt => registers.vertical_interrupt,
                StatusSignal::Switch => switches >> (self.reader(registers).value(Role::ClockSelect) & 3) & 1 != 0,
                StatusSignal::One => true,
            };
            status | u8::from(shown) << bit.bit
        })
    }

    /// The two colour outputs that the status port shows: 0 and 2, 4 and 5, 1 and 3, or 6 and 7, as the register says
    /// (VGA register documentation). Where nothing is shown they are low.
    fn video_status(&self, registers: &Registers, pixel: Option<u8>) -> (bool, bool) {
        let Some(pixel) = pixel else { return (false, false) };
        let output = self.colour_output(registers, pixel);
        let (low, high) =
            [(0, 2), (4, 5), (1, 3), (6, 7)][self.reader(registers).value(Role::VideoStatus) as usize & 3];
        (output >> low & 1 != 0, output >> high & 1 != 0)
    }

    /// Whether a status port shows colour outputs: what the beam draws.
    #[must_use]
    pub fn shows_colour_outputs(&self) -> bool {
        self.field_with(Role::VideoStatus).is_some()
    }

    // ---- the vertical interrupt

    /// Vertical sync begins: it asks for an interrupt where one is armed.
    pub fn begin_vertical_sync(&self, registers: &mut Registers) {
        registers.vertical_interrupt |= self.arms_interrupt(registers);
    }

    /// Whether vertical sync asks for an interrupt, and the request leaves the board.
    #[must_use]
    pub fn expects_interrupt(&self, registers: &Registers) -> bool {
        self.arms_interrupt(registers) && !self.reader(registers).is_set(Role::VerticalInterruptDisable)
    }

    /// Whether the board asks the processor for an interrupt.
    #[must_use]
    pub fn interrupts(&self, registers: &Registers) -> bool {
        registers.vertical_interrupt && !self.reader(registers).is_set(Role::VerticalInterruptDisable)
    }

    /// Number of the request by which the board asks, where the class can.
    #[must_use]
    pub fn interrupt_request(&self) -> Option<u8> {
        self.profile.interrupt_request
    }

    pub(crate) fn arms_interrupt(&self, registers: &Registers) -> bool {
        self.reader(registers).is_set(Role::VerticalInterruptArmed)
    }

    // ---- the light pen

    /// The address under the beam is latched, as the pen does it; one latched before stays until it is cleared.
    pub fn set_light_pen(&self, registers: &mut Registers, address: u32) {
        if let Some(cells) = self.profile.light_pen
            && !registers.light_pen.set
        {
            let mask = (1u32 << cells.bits.min(16)) - 1;
            registers.light_pen = LightPen { address: address & mask, set: true };
        }
    }

    /// What a register of the controller reads as, where it is half of the light-pen latch.
    pub(crate) fn light_pen_byte(&self, registers: &Registers, index: u8) -> Option<u8> {
        let cells = self.profile.light_pen?;
        let address = registers.light_pen.address;
        match index {
            high if high == cells.high => Some((address >> 8) as u8),
            low if low == cells.low => Some(address as u8),
            _ => None,
        }
    }
}
