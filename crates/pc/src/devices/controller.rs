//! The interrupt controller: eight requests, the lowest number first.
//!
//! As much of it as a routine uses: the mask, what is requested and in
//! service, end of interrupt, the start-up words that move the first vector
//! (8259A Programmable Interrupt Controller data sheet).

/// A start-up word that comes next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum StartUp {
    #[default]
    Done,
    /// The first vector.
    Vector {
        cascaded: bool,
        mode: bool,
    },
    /// Which request is cascaded.
    Cascade {
        mode: bool,
    },
    Mode,
}

/// What the controller cannot do here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unsupported;

/// One interrupt controller.
#[derive(Clone, Debug)]
pub struct Controller {
    requested: u8,
    in_service: u8,
    mask: u8,
    first_vector: u8,
    reads_service: bool,
    start_up: StartUp,
    automatic_end: bool,
}

impl Default for Controller {
    /// As firmware leaves it: vectors from 08h, timer and keyboard unmasked (common practice).
    fn default() -> Self {
        Self {
            requested: 0,
            in_service: 0,
            mask: 0b1111_1100,
            first_vector: 0x08,
            reads_service: false,
            start_up: StartUp::Done,
            automatic_end: false,
        }
    }
}

impl Controller {
    /// A device asks.
    pub fn request(&mut self, number: u8) {
        self.requested |= 1 << (number & 7);
    }

    /// Whether the processor is asked.
    #[inline]
    #[must_use]
    pub fn asks(&self) -> bool {
        let open = self.requested & !self.mask;
        // Requests of lower rank than what is in service wait.
        open != 0 && (self.in_service == 0 || open.trailing_zeros() < self.in_service.trailing_zeros())
    }

    /// The processor takes the request: its interrupt number.
    pub fn acknowledge(&mut self) -> u8 {
        let number = (self.requested & !self.mask).trailing_zeros() as u8 & 7;
        self.requested &= !(1 << number);
        if !self.automatic_end {
            self.in_service |= 1 << number;
        }
        self.first_vector.wrapping_add(number)
    }

    /// Ends what is in service, the highest rank first.
    pub fn end(&mut self) {
        self.in_service &= self.in_service.wrapping_sub(1);
    }

    /// The request in service that keeps others waiting, where others wait.
    #[must_use]
    pub fn blocks(&self) -> Option<u8> {
        let waits = self.requested & !self.mask != 0 && !self.asks();
        (waits && self.in_service != 0).then(|| self.in_service.trailing_zeros() as u8)
    }

    /// The mask, where it lets neither timer nor keyboard through.
    #[must_use]
    pub fn masks_all(&self) -> Option<u8> {
        (self.mask & 3 == 3).then_some(self.mask)
    }

    /// Reads register 0 (requests or services) or 1 (the mask).
    #[must_use]
    pub fn read(&self, register: u16) -> u8 {
        match (register, self.reads_service) {
            (0, true) => self.in_service,
            (0, false) => self.requested,
            _ => self.mask,
        }
    }

    /// Writes register 0 or 1.
    ///
    /// # Errors
    /// For what a routine has no use for: special masks, rotation, polling.
    pub fn write(&mut self, register: u16, value: u8) -> Result<(), Unsupported> {
        match (register, value & 0x18) {
            (0, _) if value & 0x10 != 0 => {
                let (mask, first_vector) = (0, self.first_vector);
                let start_up = StartUp::Vector { cascaded: value & 2 == 0, mode: value & 1 != 0 };
                *self = Self {
                    mask,
                    first_vector,
                    start_up,
                    requested: 0,
                    in_service: 0,
                    reads_service: false,
                    automatic_end: false,
                };
            }
            (0, 0x00) => match value >> 5 {
                1 => self.end(),
                3 => self.in_service &= !(1 << (value & 7)),
                2 => {}
                _ => return Err(Unsupported),
            },
            (0, _) if value & 0x64 != 0 => return Err(Unsupported),
            (0, _) if value & 2 != 0 => self.reads_service = value & 1 != 0,
            (0, _) => {}
            _ => self.write_second(value),
        }
        Ok(())
    }

    fn write_second(&mut self, value: u8) {
        self.start_up = match self.start_up {
            StartUp::Done => {
                self.mask = value;
                StartUp::Done
            }
            StartUp::Vector { cascaded, mode } => {
                self.first_vector = value & 0xF8;
                match (cascaded, mode) {
                    (true, mode) => StartUp::Cascade { mode },
                    (false, true) => StartUp::Mode,
                    (false, false) => StartUp::Done,
                }
            }
            StartUp::Cascade { mode: true } => StartUp::Mode,
            StartUp::Cascade { mode: false } => StartUp::Done,
            StartUp::Mode => {
                self.automatic_end = value & 2 != 0;
                StartUp::Done
            }
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fully nested mode, 8259A data sheet.
    #[test]
    fn lower_numbers_go_first_and_wait_for_the_end() {
        let mut controller = Controller::default();
        controller.request(1);
        controller.request(0);
        assert_eq!(controller.acknowledge(), 0x08);
        assert!(!controller.asks(), "the keyboard waits for the timer's end");
        controller.write(0, 0x20).unwrap();
        assert!(controller.asks());
        assert_eq!(controller.acknowledge(), 0x09);
        controller.request(0);
        assert!(controller.asks(), "the timer interrupts the keyboard");
        assert_eq!(controller.acknowledge(), 0x08);
        controller.write(0, 0x0B).unwrap();
        assert_eq!(controller.read(0), 0b11);
        controller.write(0, 0x61).unwrap();
        assert_eq!(controller.read(0), 0b01);
    }

    #[test]
    fn start_up_words_move_the_vectors() {
        let mut controller = Controller::default();
        controller.write(0, 0x13).unwrap();
        controller.write(1, 0x60).unwrap();
        controller.write(1, 0x09).unwrap();
        controller.write(1, 0xFE).unwrap();
        controller.request(0);
        assert_eq!((controller.acknowledge(), controller.read(1)), (0x60, 0xFE));
    }
}
