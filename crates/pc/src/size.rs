//! Operand sizes.

/// How much an instruction works on at a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Size {
    /// 8 bits.
    Byte = 8,
    /// 16 bits.
    Word = 16,
    /// 32 bits, from the 80386 on.
    Double = 32,
}

impl Size {
    /// Its bits.
    #[inline]
    #[must_use]
    pub fn bits(self) -> u32 {
        self as u32
    }

    /// Its bytes.
    #[inline]
    #[must_use]
    pub fn bytes(self) -> u16 {
        self as u16 / 8
    }

    /// All ones of the size.
    #[inline]
    #[must_use]
    pub fn mask(self) -> u32 {
        u32::MAX >> (32 - self.bits())
    }

    /// The highest bit of the size.
    #[inline]
    #[must_use]
    pub fn top(self) -> u32 {
        1 << (self.bits() - 1)
    }

    /// A value of the size as a signed number.
    #[inline]
    #[must_use]
    pub fn signed(self, value: u32) -> i64 {
        let unused = 32 - self.bits();
        i64::from((value << unused) as i32 >> unused)
    }
}
