//! Numbers of the machine that stand in no adapter profile.

/// Mode number of colour text of 80 columns (function 00h of interrupt 10h: BIOS listings of the *Technical Reference*
/// manuals), restored at the end where the board's profile has no text mode of its own.
pub(crate) const TEXT_MODE: u8 = 0x03;
/// Where a flat program is loaded in its segment (common practice).
pub(crate) const LOADED_AT: u16 = 0x100;
/// Bytes a flat program may take, its stack left alone (common practice).
pub(crate) const MOST_BYTES: usize = 0xF000;
/// Lines of the active area that pass before the start address is written there.
pub(crate) const LINES_DOWN: u32 = 32;
/// Keys of function 00h of interrupt 16h (same manuals): escape and backspace.
pub(super) const ESCAPE: u32 = 27;
pub(super) const BACKSPACE: u32 = 8;
