//! Provenance: where a pixel of a frame comes from, and who bent it.

/// One change to a byte's linear address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bend {
    /// Name of the quirk.
    pub quirk: String,
    /// Linear address before it.
    pub before: u32,
    /// Linear address after it.
    pub after: u32,
}

/// A change to what is shown at a place, other than to its address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Touch {
    /// Name of the quirk.
    pub quirk: String,
    /// What it does there, in plain words.
    pub does: String,
}

/// Where one pixel of the active area comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    /// Pixel from the left of the active area.
    pub x: u32,
    /// Line of the picture.
    pub picture_line: u32,
    /// Scan line of the frame.
    pub scan_line: u32,
    /// Character clock of the line.
    pub char: u32,
    /// Character row and scan line inside it.
    pub row: (u32, u8),
    /// Offset of the byte on its line.
    pub offset: u32,
    /// Memory address of the byte.
    pub address: u32,
    /// Memory address a healthy board would fetch it from.
    pub healthy_address: u32,
    /// Value of the pixel.
    pub value: u8,
    /// Start address of the frame, in address units.
    pub start: u32,
    /// Bytes from one row to the next.
    pub pitch: u32,
    /// Memory rows of 256 bytes entered since the line's first byte.
    pub crossings: u32,
    /// Changes to the address, in stacking order.
    pub bends: Vec<Bend>,
    /// Other changes, in stacking order.
    pub touches: Vec<Touch>,
    /// Registers that decided, and their stored values.
    pub decided_by: Vec<(String, u32)>,
}
