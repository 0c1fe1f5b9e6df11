//! Registers and flags of the processor.

/// A word register, numbered as instructions encode it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Word {
    /// Accumulator.
    Ax,
    /// Count.
    Cx,
    /// Data.
    Dx,
    /// Base.
    Bx,
    /// Stack pointer.
    Sp,
    /// Base pointer.
    Bp,
    /// Source index.
    Si,
    /// Destination index.
    Di,
}

/// A byte register, numbered as instructions encode it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
#[allow(missing_docs)]
pub enum Byte {
    Al,
    Cl,
    Dl,
    Bl,
    Ah,
    Ch,
    Dh,
    Bh,
}

/// A segment register, numbered as instructions encode it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum SegmentRegister {
    /// Extra.
    Es,
    /// Code.
    Cs,
    /// Stack.
    Ss,
    /// Data.
    Ds,
    /// Further data (80386).
    Fs,
    /// The same.
    Gs,
}

/// A segmented address.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Far {
    /// Segment: 16-byte paragraphs.
    pub segment: u16,
    /// Offset inside it, in bytes.
    pub offset: u16,
}

impl Far {
    /// The address of that segment and offset.
    #[must_use]
    pub fn new(segment: u16, offset: u16) -> Self {
        Self { segment, offset }
    }

    /// This many bytes further on in the segment; the offset wraps.
    #[inline]
    #[must_use]
    pub fn plus(self, bytes: u16) -> Self {
        Self { offset: self.offset.wrapping_add(bytes), ..self }
    }

    /// The 20-bit address; it wraps at 1 MiB, as with address line 20 held low.
    #[must_use]
    pub fn linear(self) -> u32 {
        ((u32::from(self.segment) << 4) + u32::from(self.offset)) & 0xF_FFFF
    }
}

impl std::str::FromStr for Far {
    type Err = NoAddress;

    fn from_str(text: &str) -> Result<Self, NoAddress> {
        let no_address = || NoAddress(text.to_string());
        let (segment, offset) = text.trim().split_once(':').ok_or_else(no_address)?;
        let part = |part: &str| u16::from_str_radix(part.trim_end_matches('h'), 16).map_err(|_| no_address());
        Ok(Self::new(part(segment)?, part(offset)?))
    }
}

/// A text that is no segmented address.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found {0}, allowed SEGMENT:OFFSET, both hexadecimal")]
pub struct NoAddress(pub String);

impl std::fmt::Display for Far {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04X}:{:04X}", self.segment, self.offset)
    }
}

/// Flag bits (The 8086 Family User's Manual, processor status word).
pub mod flag {
    /// Carry.
    pub const CARRY: u16 = 0x0001;
    /// Parity of the low byte: even.
    pub const PARITY: u16 = 0x0004;
    /// Carry out of bit 3.
    pub const AUXILIARY: u16 = 0x0010;
    /// Zero.
    pub const ZERO: u16 = 0x0040;
    /// Sign.
    pub const SIGN: u16 = 0x0080;
    /// Single step.
    pub const TRAP: u16 = 0x0100;
    /// Interrupts enabled.
    pub const INTERRUPT: u16 = 0x0200;
    /// Strings run downwards.
    pub const DIRECTION: u16 = 0x0400;
    /// Overflow.
    pub const OVERFLOW: u16 = 0x0800;
    /// The flags arithmetic sets.
    pub const STATUS: u16 = CARRY | PARITY | AUXILIARY | ZERO | SIGN | OVERFLOW;
    /// Every flag there is in real mode.
    pub const ALL: u16 = STATUS | TRAP | INTERRUPT | DIRECTION;
    /// Privilege level and nested task, which mean nothing in real mode but can be set on an 80386.
    pub const LEVELS: u16 = 0x7000;
}

/// What the processor remembers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CpuRegisters {
    /// Lower and upper halves; the upper ones are those of an 80386.
    words: [[u16; 2]; 8],
    segments: [u16; 6],
    /// Offset of the next instruction in the code segment.
    pub ip: u16,
    flags: u16,
}

impl CpuRegisters {
    /// A word register.
    #[inline]
    #[must_use]
    pub fn word(&self, register: Word) -> u16 {
        self.words[register as usize][0]
    }

    /// Sets a word register.
    #[inline]
    pub fn set_word(&mut self, register: Word, value: u16) {
        self.words[register as usize][0] = value;
    }

    /// A word register with its upper half.
    #[inline]
    #[must_use]
    pub fn double(&self, register: Word) -> u32 {
        let [low, high] = self.words[register as usize];
        u32::from(high) << 16 | u32::from(low)
    }

    /// Sets a word register with its upper half.
    #[inline]
    pub fn set_double(&mut self, register: Word, value: u32) {
        self.words[register as usize] = [value as u16, (value >> 16) as u16];
    }

    /// A byte register.
    #[inline]
    #[must_use]
    pub fn byte(&self, register: Byte) -> u8 {
        let number = register as usize;
        (self.words[number & 3][0] >> (8 * (number >> 2))) as u8
    }

    /// Sets a byte register.
    #[inline]
    pub fn set_byte(&mut self, register: Byte, value: u8) {
        let number = register as usize;
        let word = &mut self.words[number & 3][0];
        *word = match number >> 2 {
            0 => *word & 0xFF00 | u16::from(value),
            _ => *word & 0x00FF | u16::from(value) << 8,
        };
    }

    /// A segment register.
    #[inline]
    #[must_use]
    pub fn segment(&self, register: SegmentRegister) -> u16 {
        self.segments[register as usize]
    }

    /// Sets a segment register.
    #[inline]
    pub fn set_segment(&mut self, register: SegmentRegister, value: u16) {
        self.segments[register as usize] = value;
    }

    /// Where the next instruction lies.
    #[inline]
    #[must_use]
    pub fn next(&self) -> Far {
        Far::new(self.segment(SegmentRegister::Cs), self.ip)
    }

    /// Goes on at that address.
    pub fn go_to(&mut self, to: Far) {
        self.set_segment(SegmentRegister::Cs, to.segment);
        self.ip = to.offset;
    }

    /// The flags that there are; the bits between them are 0.
    #[inline]
    #[must_use]
    pub fn flags(&self) -> u16 {
        self.flags
    }

    /// Sets the flags that there are.
    #[inline]
    pub fn set_flags(&mut self, value: u16) {
        self.flags = value & flag::ALL;
    }

    /// Sets the flags that an 80386 has.
    #[inline]
    pub fn set_all_flags(&mut self, value: u16) {
        self.flags = value & (flag::ALL | flag::LEVELS);
    }

    /// Whether a flag is set.
    #[inline]
    #[must_use]
    pub fn has(&self, flag: u16) -> bool {
        self.flags & flag != 0
    }

    /// Sets or clears flags.
    #[inline]
    pub fn put(&mut self, flags: u16, on: bool) {
        if on { self.flags |= flags & flag::ALL } else { self.flags &= !flags }
    }

    /// Replaces those flags that `mask` names.
    #[inline]
    pub fn put_masked(&mut self, mask: u16, value: u16) {
        self.flags = self.flags & !mask | value & mask;
    }
}

macro_rules! numbered {
    ($kind:ident, $all:expr) => {
        impl $kind {
            /// The register an instruction encodes by that number, from 0 on.
            #[must_use]
            pub fn numbered(number: u8) -> Self {
                const ALL: &[$kind] = &$all;
                ALL[usize::from(number) % ALL.len()]
            }
        }
    };
}

numbered!(Word, [Word::Ax, Word::Cx, Word::Dx, Word::Bx, Word::Sp, Word::Bp, Word::Si, Word::Di]);
numbered!(Byte, [Byte::Al, Byte::Cl, Byte::Dl, Byte::Bl, Byte::Ah, Byte::Ch, Byte::Dh, Byte::Bh]);
numbered!(
    SegmentRegister,
    [
        SegmentRegister::Es,
        SegmentRegister::Cs,
        SegmentRegister::Ss,
        SegmentRegister::Ds,
        SegmentRegister::Fs,
        SegmentRegister::Gs
    ]
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_of_words() {
        let mut registers = CpuRegisters::default();
        registers.set_word(Word::Bx, 0x1234);
        registers.set_byte(Byte::Bh, 0xAB);
        registers.set_byte(Byte::Bl, 0xCD);
        assert_eq!(registers.word(Word::Bx), 0xABCD);
        assert_eq!((registers.byte(Byte::Bh), registers.byte(Byte::Bl)), (0xAB, 0xCD));
    }

    #[test]
    fn addresses_wrap_at_a_mebibyte() {
        assert_eq!(Far::new(0xFFFF, 0x0010).linear(), 0);
        assert_eq!(Far::new(0xB800, 0x0001).to_string(), "B800:0001");
    }
}
