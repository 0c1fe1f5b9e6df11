//! The firmware's address space: where services stand, character sets, and the few bytes programs look at.

use std::sync::LazyLock;

use backporch_adapter::CharacterSet;

/// Segment of the firmware.
pub const SEGMENT: u16 = 0xF000;

/// Offset in it at which service 0 stands; the others follow byte by byte.
pub const SERVICES: u16 = 0x1000;

/// First address of the firmware.
const START: u32 = 0xF_0000;

/// What stands first at a service: STI. Programs take IRET for a handler that does nothing.
const SERVED: u8 = 0xFB;
const IRET: u8 = 0xCF;

/// Numbers of services beyond the 256 interrupts.
pub mod service {
    /// The clock tick's handler, after the user's own.
    pub const AFTER_TICK: u16 = 0x100;
    /// The driver of a mouse, where there is one.
    pub const MOUSE: u16 = 0x101;
    /// The return of a program's own handler of the mouse.
    pub const AFTER_MOUSE: u16 = 0x102;
    /// One past the last.
    pub const COUNT: u16 = 0x103;
    /// The address holds no program.
    pub const NOWHERE: u16 = 0x8000;
}

/// Offset and length of the table of what the video firmware can do.
pub const FUNCTIONALITY: u16 = 0x1F00;
pub const FUNCTIONALITY_BYTES: u16 = 16;

/// Character sets as firmware keeps them, glyph after glyph.
pub mod font {
    /// The 8 by 8 set, all 256 codes.
    pub const EIGHT: u16 = 0x4000;
    /// Its upper half.
    pub const EIGHT_UPPER: u16 = EIGHT + 128 * 8;
    /// The 8 by 14 set.
    pub const FOURTEEN: u16 = 0x2000;
    /// The 8 by 16 set.
    pub const SIXTEEN: u16 = 0x3000;
    /// The lower half of the 8 by 8 set, where programs look for it (Technical Reference, firmware listing).
    pub const PUBLISHED: u16 = 0xFA6E;
}

/// The service at an address of the firmware.
#[must_use]
pub fn service_at(address: u32) -> Option<u16> {
    let number = address.checked_sub(START + u32::from(SERVICES))?;
    (number < u32::from(service::COUNT)).then_some(number as u16)
}

/// Offset of a service.
#[must_use]
pub fn offset_of(number: u16) -> u16 {
    SERVICES + number
}

/// Whether something is done behind an interrupt, beyond going back.
#[must_use]
pub fn is_served(number: u16) -> bool {
    matches!(number, 0x06 | 0x08..=0x12 | 0x13..=0x17 | 0x1A | 0x20..=0x22 | 0x27..=0x29 | 0x2F)
        || matches!(number, service::AFTER_TICK | service::MOUSE | service::AFTER_MOUSE)
}

/// A byte of the firmware; `None` below it.
///
/// The machine's kind stands at FFFFEh: FEh and FCh are the bytes of machines
/// with an 8088 or 8086 and with an 80286 (common practice).
#[must_use]
pub fn byte(address: u32, is_80286: bool) -> Option<u8> {
    if let Some(service) = service_at(address) {
        return Some(if is_served(service) { SERVED } else { IRET });
    }
    match address {
        0xF_FFFE if is_80286 => Some(0xFC),
        0xF_FFFE => Some(0xFE),
        START..=0xF_FFFF => Some(glyph_byte((address - START) as u16).unwrap_or(0)),
        _ => None,
    }
}

/// A byte of a character set.
fn glyph_byte(offset: u16) -> Option<u8> {
    static FOURTEEN: LazyLock<CharacterSet> = LazyLock::new(|| CharacterSet::built_in().stretched(14));
    static SIXTEEN: LazyLock<CharacterSet> = LazyLock::new(|| CharacterSet::built_in().stretched(16));
    let within = |start: u16, set: &CharacterSet, codes: u16| {
        let height = u16::from(set.glyph_height());
        let at = offset.checked_sub(start).filter(|at| *at < codes * height)?;
        Some(set.row((at / height) as u8, (at % height) as u8))
    };
    match offset {
        font::PUBLISHED.. => within(font::PUBLISHED, CharacterSet::built_in(), 128),
        font::EIGHT.. => within(font::EIGHT, CharacterSet::built_in(), 256),
        font::SIXTEEN.. => within(font::SIXTEEN, &SIXTEEN, 256),
        font::FOURTEEN.. => within(font::FOURTEEN, &FOURTEEN, 256),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn character_sets_stand_where_programs_look() {
        let row = |offset: u16, at: u32| byte(START + u32::from(offset) + at, false).unwrap();
        let letter = u32::from(b'A');
        for line in 0..8u8 {
            let wanted = CharacterSet::built_in().row(b'A', line);
            assert_eq!(row(font::PUBLISHED, letter * 8 + u32::from(line)), wanted);
            assert_eq!(row(font::EIGHT, letter * 8 + u32::from(line)), wanted);
            assert_eq!(row(font::EIGHT_UPPER, u32::from(line)), CharacterSet::built_in().row(0x80, line));
        }
        assert!((0..14).any(|line| row(font::FOURTEEN, letter * 14 + line) != 0));
        assert!((0..16).any(|line| row(font::SIXTEEN, letter * 16 + line) != 0));
    }
}
