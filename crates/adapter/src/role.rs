//! What a register field is for, whatever a profile calls it.

use serde::{Deserialize, Serialize};

use crate::aspects::Aspects;

/// What a field does on its board.
///
/// Names are what people type and read; code asks for a role, with
/// [`Adapter::field_with`](crate::Adapter::field_with). A role belongs to one
/// field of a profile; only [`Role::Palette`] belongs to several, one for each
/// pixel value in turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Role {
    // ---- along the line, in character clocks
    /// Length of a line.
    HorizontalTotal,
    /// Characters shown.
    HorizontalDisplayed,
    /// Start of horizontal sync.
    HorizontalSyncStart,
    /// Length of horizontal sync, where a counter of its own counts it.
    HorizontalSyncWidth,
    /// Low bits of the end of horizontal sync, where they are compared.
    HorizontalSyncEnd,
    /// Start of horizontal blanking.
    HorizontalBlankStart,
    /// Low bits of the end of horizontal blanking.
    HorizontalBlankEnd,

    // ---- down the frame, in character rows or scan lines
    /// Length of a frame.
    VerticalTotal,
    /// Scan lines added after the last row.
    VerticalTotalAdjust,
    /// Rows or lines shown.
    VerticalDisplayed,
    /// Start of vertical sync.
    VerticalSyncStart,
    /// Length of vertical sync, where a counter of its own counts it.
    VerticalSyncWidth,
    /// Low bits of the end of vertical sync, where they are compared.
    VerticalSyncEnd,
    /// Start of vertical blanking.
    VerticalBlankStart,
    /// Low bits of the end of vertical blanking.
    VerticalBlankEnd,
    /// Scan lines of a row.
    RowHeight,
    /// Whether every scan line of a row is shown twice.
    DoubleScan,
    /// Interlace mode.
    Interlace,

    // ---- the signal as a whole
    /// Which dot clock runs.
    ClockSelect,
    /// Whether sync is sent at all.
    SyncEnable,
    /// Polarity of the two sync pulses.
    SyncPolarity,

    // ---- from counters to addresses
    /// Address shown first.
    StartAddress,
    /// Addresses from one row to the next.
    Pitch,
    /// Scan line after which the address restarts at 0.
    LineCompare,
    /// Scan line of the row at which a frame begins.
    PresetRowScan,
    /// Addresses a frame begins late by.
    BytePanning,
    /// Pixels a line is shifted to the left by.
    PixelPanning,
    /// Whether panning stops below the line compare.
    PanningAboveSplit,
    /// Whether addresses are taken as they are, or two bytes apart.
    ByteMode,
    /// Whether addresses are spread four bytes apart.
    DoublewordMode,
    /// Which counter bit becomes the lowest address bit of words.
    AddressWrap,
    /// Whether the address moves once in two character clocks.
    CountByTwo,
    /// Whether the address moves once in four character clocks.
    CountByFour,
    /// Whether address bit 13 is kept or replaced by a row address bit.
    AddressBit13,
    /// Whether address bit 14 is kept or replaced by a row address bit.
    AddressBit14,
    /// Page shown.
    Page,
    /// Whether the second page is in the processor's window.
    AllowPage,

    // ---- the display format
    /// Graphics or text.
    Graphics,
    /// Whether graphics can be switched on.
    AllowGraphics,
    /// Whether text has 80 columns.
    EightyColumns,
    /// Whether graphics has 640 pixels of two colours.
    TwoColours,
    /// Whether the dot clock is halved.
    HalfDotClock,
    /// Eight or nine dots of a character.
    EightDots,
    /// Whether two-bit pixels are taken from bytes of planes.
    TwoBitPixels,
    /// Whether eight-bit pixels are taken, one from each plane.
    EightBitPixels,
    /// Whether two values of four bits make a pixel of eight.
    WidePixels,

    // ---- text
    /// Character under the cursor.
    CursorAddress,
    /// First scan line of the cursor.
    CursorStart,
    /// Last scan line of the cursor.
    CursorEnd,
    /// How the cursor blinks.
    CursorBlink,
    /// Whether the cursor is hidden.
    CursorDisable,
    /// Whether bit 7 of an attribute blinks.
    Blink,
    /// Whether the ninth dot of line-drawing codes repeats the eighth.
    LineGraphics,
    /// Character set of attributes with bit 3 clear.
    FontPlain,
    /// Character set of attributes with bit 3 set.
    FontBright,

    // ---- colour
    /// Whether the screen is not black.
    VideoEnable,
    /// Whether the screen is blanked.
    ScreenOff,
    /// Colour of a pixel value, one field for each value in turn.
    Palette,
    /// Colour of the border, among the palette registers.
    Overscan,
    /// Planes that take part in the pixel value.
    PlaneEnable,
    /// Whether the colour select gives colour bits 4 and 5.
    PaletteSplit,
    /// Upper bits of the DAC entry.
    ColourSelect,
    /// RGBI colour of border, background or foreground.
    RgbiColour,
    /// Whether the set of four colours is bright.
    BrightSet,
    /// Which set of four colours is shown.
    ColourSet,
    /// Whether the third set of four colours replaces both others.
    ThirdSet,

    // ---- the processor's way to memory
    /// Where the window lies in the processor's address space.
    MemoryMap,
    /// Planes written.
    MapMask,
    /// Whether consecutive addresses go to the four planes in turn.
    ChainFour,
    /// Whether even and odd addresses reach the same planes.
    Sequential,
    /// Planes that get ones where set/reset is enabled.
    SetReset,
    /// Planes whose data comes from set/reset.
    EnableSetReset,
    /// Bits the processor's byte is rotated by.
    Rotate,
    /// How data meets the latches.
    LogicFunction,
    /// Bits the processor writes.
    BitMask,
    /// How the processor's byte is written.
    WriteMode,
    /// How the processor's byte is read.
    ReadMode,
    /// Plane read.
    ReadMap,
    /// Colour compared with.
    ColourCompare,
    /// Planes that take part in the comparison.
    ColourCare,
    /// Share of memory's cycles that fetch the picture, and so what is left for the processor.
    FetchShare,
    /// Protects registers from writes while it is not 0.
    WriteProtect,
    /// Whether ports are at their usual numbers (1) or at those they move to (0).
    PortSelect,

    // ---- signals to the processor
    /// Whether the next vertical sync asks for an interrupt; 0 takes the request back.
    VerticalInterruptArmed,
    /// Whether the request stays on the board.
    VerticalInterruptDisable,
    /// Which two colour outputs the status port shows.
    VideoStatus,
}

impl Role {
    /// Number of roles.
    pub(crate) const COUNT: usize = Self::VideoStatus as usize + 1;

    /// Whether several fields of a profile may have it.
    pub(crate) fn is_shared(self) -> bool {
        self == Self::Palette
    }

    /// What the engine decodes from a field with this role, beside the display
    /// format, which a profile's own table decides.
    ///
    /// The start address is left out: the beam takes it over at moments of its own.
    pub(crate) fn aspects(self) -> Aspects {
        match self {
            Self::HorizontalTotal
            | Self::HorizontalDisplayed
            | Self::HorizontalSyncStart
            | Self::HorizontalSyncWidth
            | Self::HorizontalSyncEnd
            | Self::HorizontalBlankStart
            | Self::HorizontalBlankEnd
            | Self::VerticalTotal
            | Self::VerticalTotalAdjust
            | Self::VerticalDisplayed
            | Self::VerticalSyncStart
            | Self::VerticalSyncWidth
            | Self::VerticalSyncEnd
            | Self::VerticalBlankStart
            | Self::VerticalBlankEnd
            | Self::RowHeight
            | Self::DoubleScan
            | Self::SyncEnable
            | Self::Pitch
            | Self::LineCompare
            | Self::PresetRowScan
            | Self::BytePanning => Aspects::TIMING,
            Self::PixelPanning
            | Self::PanningAboveSplit
            | Self::ByteMode
            | Self::DoublewordMode
            | Self::AddressWrap
            | Self::CountByTwo
            | Self::CountByFour
            | Self::AddressBit13
            | Self::AddressBit14
            | Self::Page
            | Self::CursorAddress
            | Self::CursorStart
            | Self::CursorEnd
            | Self::CursorBlink
            | Self::CursorDisable
            | Self::Blink
            | Self::LineGraphics
            | Self::FontPlain
            | Self::FontBright => Aspects::SHOWN,
            Self::VideoEnable
            | Self::ScreenOff
            | Self::Palette
            | Self::Overscan
            | Self::PlaneEnable
            | Self::PaletteSplit
            | Self::ColourSelect
            | Self::RgbiColour
            | Self::BrightSet
            | Self::ColourSet
            | Self::ThirdSet => Aspects::COLOUR,
            Self::ClockSelect | Self::SyncPolarity => Aspects::SIGNAL,
            Self::MemoryMap
            | Self::MapMask
            | Self::ChainFour
            | Self::Sequential
            | Self::SetReset
            | Self::EnableSetReset
            | Self::Rotate
            | Self::LogicFunction
            | Self::BitMask
            | Self::WriteMode
            | Self::ReadMode
            | Self::ReadMap
            | Self::ColourCompare
            | Self::ColourCare => Aspects::MEMORY,
            Self::StartAddress
            | Self::Interlace
            | Self::AllowPage
            | Self::Graphics
            | Self::AllowGraphics
            | Self::EightyColumns
            | Self::TwoColours
            | Self::HalfDotClock
            | Self::EightDots
            | Self::TwoBitPixels
            | Self::EightBitPixels
            | Self::WidePixels
            | Self::FetchShare
            | Self::WriteProtect
            | Self::PortSelect
            | Self::VerticalInterruptArmed
            | Self::VerticalInterruptDisable
            | Self::VideoStatus => Aspects::empty(),
        }
    }
}
