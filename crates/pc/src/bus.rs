//! What the processor is connected to.

/// What a bus cycle does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CycleKind {
    /// Fetches instruction bytes.
    Fetch,
    /// Reads memory.
    Read,
    /// Writes memory.
    Write,
    /// Reads a port.
    Input,
    /// Writes a port.
    Output,
}

/// A bus cycle about to begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BusCycle {
    /// What it does.
    pub kind: CycleKind,
    /// 20-bit address, or port number.
    pub address: u32,
    /// Whether it moves a word.
    pub wide: bool,
    /// Its first clock (T1), counted like the processor's.
    pub start: u64,
}

/// Memory, ports, time and interrupts as the processor meets them.
///
/// Addresses are 20-bit and the caller's to keep so. The processor calls
/// [`elapse`](Self::elapse) with an instruction's clocks *before* its accesses:
/// they happen at its last clock. A bus that makes the processor wait lets the
/// clocks of its wait states elapse by itself.
pub trait Bus {
    /// Reads a byte of memory.
    fn read(&mut self, address: u32) -> u8;

    /// Writes a byte of memory.
    fn write(&mut self, address: u32, value: u8);

    /// Reads a word whose two bytes lie one after the other.
    fn read_word(&mut self, address: u32) -> u16 {
        u16::from_le_bytes([self.read(address), self.read((address + 1) & 0xF_FFFF)])
    }

    /// Writes a word whose two bytes lie one after the other.
    fn write_word(&mut self, address: u32, value: u16) {
        let [low, high] = value.to_le_bytes();
        self.write(address, low);
        self.write((address + 1) & 0xF_FFFF, high);
    }

    /// A byte of an instruction; fetching takes no time of its own and changes nothing.
    fn fetch(&self, address: u32) -> u8;

    /// Reads a byte from a port.
    fn input(&mut self, port: u16) -> u8;

    /// Writes a byte to a port.
    fn output(&mut self, port: u16, value: u8);

    /// Reads a word from a port and the next.
    fn input_word(&mut self, port: u16) -> u16 {
        u16::from_le_bytes([self.input(port), self.input(port.wrapping_add(1))])
    }

    /// Writes a word to a port and the next.
    fn output_word(&mut self, port: u16, value: u16) {
        let [low, high] = value.to_le_bytes();
        self.output(port, low);
        self.output(port.wrapping_add(1), high);
    }

    /// Lets processor clocks pass.
    fn elapse(&mut self, clocks: u32);

    /// A bus cycle begins: gives its wait states in clocks. Cycles come in the
    /// order of their starts; fetches may be announced after clocks later than
    /// theirs have elapsed.
    fn cycle(&mut self, cycle: BusCycle) -> u32 {
        let _ = cycle;
        0
    }

    /// The service that stands at an address instead of an instruction.
    fn service(&self, address: u32) -> Option<u16> {
        let _ = address;
        None
    }
}
