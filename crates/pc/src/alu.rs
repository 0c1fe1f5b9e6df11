//! Arithmetic on bytes, words and double words, with the flags it leaves.
//!
//! Every function takes operands in a `u32`, nothing above their size, and
//! gives the result and the flags. Flags that the manuals leave undefined come
//! out as 0 or as they fall.

use crate::registers::flag;
use crate::size::Size;

/// A result and its flags.
pub type Flagged = (u32, u16);

/// A flag where `on`.
#[inline]
#[must_use]
pub fn when(on: bool, flag: u16) -> u16 {
    if on { flag } else { 0 }
}

/// Sign, zero and parity of a result.
#[inline]
#[must_use]
pub fn of_result(size: Size, result: u32) -> u16 {
    when(result & size.top() != 0, flag::SIGN)
        | when(result & size.mask() == 0, flag::ZERO)
        | when((result as u8).count_ones().is_multiple_of(2), flag::PARITY)
}

/// Sum with carry in.
#[inline]
#[must_use]
pub fn add(size: Size, one: u32, two: u32, carry: bool) -> Flagged {
    let sum = u64::from(one) + u64::from(two) + u64::from(carry);
    let result = sum as u32 & size.mask();
    let flags = when(sum > u64::from(size.mask()), flag::CARRY)
        | when((one ^ two ^ result) & 0x10 != 0, flag::AUXILIARY)
        | when((one ^ result) & (two ^ result) & size.top() != 0, flag::OVERFLOW);
    (result, flags | of_result(size, result))
}

/// Difference with borrow in.
#[inline]
#[must_use]
pub fn subtract(size: Size, one: u32, two: u32, borrow: bool) -> Flagged {
    let result = one.wrapping_sub(two).wrapping_sub(u32::from(borrow)) & size.mask();
    let flags = when(u64::from(one) < u64::from(two) + u64::from(borrow), flag::CARRY)
        | when((one ^ two ^ result) & 0x10 != 0, flag::AUXILIARY)
        | when((one ^ two) & (one ^ result) & size.top() != 0, flag::OVERFLOW);
    (result, flags | of_result(size, result))
}

/// A shift or rotate, as encoded in the middle bits of its second byte.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ShiftOperation {
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
pub fn shift(kind: ShiftOperation, size: Size, value: u32, count: u8, carry: bool) -> Flagged {
    let (mask, top) = (size.mask(), size.top());
    let (mut value, mut carry, mut overflow) = (value, carry, false);
    for _ in 0..count {
        let before = value;
        let (low, high) = (value & 1 != 0, value & top != 0);
        let at_top = |on: bool| if on { top } else { 0 };
        (value, carry) = match kind {
            ShiftOperation::Rol => (value << 1 & mask | u32::from(high), high),
            ShiftOperation::Ror => (value >> 1 | at_top(low), low),
            ShiftOperation::Rcl => (value << 1 & mask | u32::from(carry), high),
            ShiftOperation::Rcr => (value >> 1 | at_top(carry), low),
            ShiftOperation::Shl => (value << 1 & mask, high),
            ShiftOperation::Shr => (value >> 1, low),
            ShiftOperation::Sar => (value >> 1 | value & top, low),
        };
        overflow = match kind {
            ShiftOperation::Rol | ShiftOperation::Rcl | ShiftOperation::Shl => (value & top != 0) != carry,
            _ => (before ^ value) & top != 0,
        };
    }
    let flags = when(carry, flag::CARRY) | when(overflow, flag::OVERFLOW);
    match kind {
        ShiftOperation::Rol | ShiftOperation::Ror | ShiftOperation::Rcl | ShiftOperation::Rcr => (value, flags),
        _ => (value, flags | of_result(size, value)),
    }
}

/// Shifts `value` to the left (or to the right) by 1 to 31 bits, those of `filler` coming in.
///
/// More bits than the size has come out as they do where both stand in one row, again and again.
#[must_use]
pub fn shift_double(left: bool, size: Size, value: u32, filler: u32, count: u8) -> Flagged {
    let bits = size.bits();
    let (count, mask) = (u32::from(count), u64::from(size.mask()));
    let (value64, filler64) = (u64::from(value), u64::from(filler));
    // Twice the filler beside the value: enough bits for every count.
    let (result, out) = if left {
        let row = u128::from(value64) << (2 * bits) | u128::from(filler64) << bits | u128::from(value64);
        ((row << count >> (2 * bits)) as u64 & mask, (row >> (3 * bits - count)) as u32 & 1)
    } else {
        let row = u128::from(value64) << (2 * bits) | u128::from(filler64) << bits | u128::from(value64);
        ((row >> count) as u64 & mask, (row >> (count - 1)) as u32 & 1)
    };
    let result = result as u32;
    let flags = when(out != 0, flag::CARRY) | when((value ^ result) & size.top() != 0, flag::OVERFLOW);
    (result, flags | of_result(size, result))
}
