//! Numbers of the machine that stand in no adapter profile.

/// BIOS mode numbers of the modes of our profiles (function 00h of interrupt
/// 10h: BIOS listings of the *Technical Reference* manuals).
const MODES: [(&str, u8); 5] =
    [("320x200x4", 0x04), ("640x200x2", 0x06), ("320x200x256", 0x13), ("text-40", 0x01), ("text-80", 0x03)];

/// The BIOS's number of a mode.
pub(super) fn bios_mode(name: &str) -> Option<u8> {
    MODES.iter().find(|(known, _)| *known == name).map(|(_, number)| *number)
}

/// Colour text of 80 columns, restored at the end (same source).
pub(super) const TEXT_MODE: u16 = 0x0003;
/// Where a flat program is loaded in its segment (common practice).
pub(super) const LOADED_AT: u16 = 0x100;
/// Bytes a flat program may take, its stack left alone (common practice).
pub(super) const MOST_BYTES: usize = 0xF000;
/// Keys of function 00h of interrupt 16h (same source): escape and backspace.
pub(super) const ESCAPE: u32 = 27;
pub(super) const BACKSPACE: u32 = 8;
