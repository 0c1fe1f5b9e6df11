//! The firmware's address space: where services stand, and the few bytes programs look at.

/// Segment of the firmware.
pub const SEGMENT: u16 = 0xF000;

/// Offset in it at which service 0 stands; the others follow byte by byte.
pub const SERVICES: u16 = 0x1000;

/// First address of the firmware.
const START: u32 = 0xF_0000;

/// Numbers of services beyond the 256 interrupts.
pub mod service {
    /// The clock tick's handler, after the user's own.
    pub const AFTER_TICK: u16 = 0x100;
    /// One past the last.
    pub const COUNT: u16 = 0x101;
    /// The address holds no program.
    pub const NOWHERE: u16 = 0x8000;
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

/// A byte of the firmware; `None` below it.
///
/// The machine's kind stands at FFFFEh: FEh and FCh are the bytes of machines
/// with an 8088 or 8086 and with an 80286 (common practice).
#[must_use]
pub fn byte(address: u32, is_80286: bool) -> Option<u8> {
    match address {
        0xF_FFFE if is_80286 => Some(0xFC),
        0xF_FFFE => Some(0xFE),
        START..=0xF_FFFF => Some(0),
        _ => None,
    }
}
