//! Arithmetic on bytes and words, with the flags it leaves.
//!
//! Every function takes operands in a `u16` (a byte in its low half), whether
//! they are words, and gives the result and the flags. Flags that the manuals
//! leave undefined come out as 0 or as they fall.

use crate::registers::flag;

/// A result and its flags.
pub type Flagged = (u16, u16);

/// All ones of the width.
#[inline]
#[must_use]
pub fn mask(wide: bool) -> u16 {
    if wide { 0xFFFF } else { 0x00FF }
}

/// The highest bit of the width.
#[inline]
#[must_use]
pub fn top(wide: bool) -> u16 {
    if wide { 0x8000 } else { 0x0080 }
}

/// A flag where `on`.
#[inline]
#[must_use]
pub fn when(on: bool, flag: u16) -> u16 {
    if on { flag } else { 0 }
}

/// Sign, zero and parity of a result.
#[inline]
#[must_use]
pub fn of_result(wide: bool, result: u16) -> u16 {
    when(result & top(wide) != 0, flag::SIGN)
        | when(result & mask(wide) == 0, flag::ZERO)
        | when((result as u8).count_ones().is_multiple_of(2), flag::PARITY)
}

/// Sum with carry in.
#[inline]
#[must_use]
pub fn add(wide: bool, one: u16, two: u16, carry: bool) -> Flagged {
    let sum = u32::from(one) + u32::from(two) + u32::from(carry);
    let result = sum as u16 & mask(wide);
    let flags = when(sum > u32::from(mask(wide)), flag::CARRY)
        | when((one ^ two ^ result) & 0x10 != 0, flag::AUXILIARY)
        | when((one ^ result) & (two ^ result) & top(wide) != 0, flag::OVERFLOW);
    (result, flags | of_result(wide, result))
}

/// Difference with borrow in.
#[inline]
#[must_use]
pub fn subtract(wide: bool, one: u16, two: u16, borrow: bool) -> Flagged {
    let result = one.wrapping_sub(two).wrapping_sub(u16::from(borrow)) & mask(wide);
    let flags = when(u32::from(one) < u32::from(two) + u32::from(borrow), flag::CARRY)
        | when((one ^ two ^ result) & 0x10 != 0, flag::AUXILIARY)
        | when((one ^ two) & (one ^ result) & top(wide) != 0, flag::OVERFLOW);
    (result, flags | of_result(wide, result))
}

/// A shift or rotate, as encoded in the middle bits of its second byte.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Shift {
    Rol,
    Ror,
    Rcl,
    Rcr,
    Shl,
    Shr,
    Sar,
}

/// Shifts by `count` (at least 1) bits, one by one; `carry` is the flag before.
///
/// Rotates change carry and overflow only.
#[must_use]
pub fn shift(kind: Shift, wide: bool, value: u16, count: u8, carry: bool) -> Flagged {
    let (mask, top) = (mask(wide), top(wide));
    let (mut value, mut carry, mut overflow) = (value, carry, false);
    for _ in 0..count {
        let before = value;
        let (low, high) = (value & 1 != 0, value & top != 0);
        (value, carry) = match kind {
            Shift::Rol => (value << 1 & mask | u16::from(high), high),
            Shift::Ror => (value >> 1 | when(low, top), low),
            Shift::Rcl => (value << 1 & mask | u16::from(carry), high),
            Shift::Rcr => (value >> 1 | when(carry, top), low),
            Shift::Shl => (value << 1 & mask, high),
            Shift::Shr => (value >> 1, low),
            Shift::Sar => (value >> 1 | value & top, low),
        };
        overflow = match kind {
            Shift::Rol | Shift::Rcl | Shift::Shl => (value & top != 0) != carry,
            _ => (before ^ value) & top != 0,
        };
    }
    let flags = when(carry, flag::CARRY) | when(overflow, flag::OVERFLOW);
    match kind {
        Shift::Rol | Shift::Ror | Shift::Rcl | Shift::Rcr => (value, flags),
        _ => (value, flags | of_result(wide, value)),
    }
}
