//! Quantities: what a condition or a threshold can measure.

use serde::{Deserialize, Serialize};

use super::{Limits, Value};

/// Where an effect decides whether to act; it can measure only what is known there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecisionPoint {
    /// Nothing: the effect acts always or never.
    Nothing,
    /// The comparands of the counters.
    Comparands,
    /// The frame.
    Frame,
    /// The take-over of the start address.
    TakeOver,
    /// A byte written to a port.
    Write,
    /// A byte written to video memory.
    MemoryWrite,
    /// A scan line about to be fetched.
    Line,
    /// A byte of a scan line.
    Byte,
    /// A pixel of a scan line.
    Pixel,
}

impl DecisionPoint {
    /// Every place, in the order of the pipeline.
    pub const ALL: [Self; 9] = [
        Self::Nothing,
        Self::Write,
        Self::MemoryWrite,
        Self::TakeOver,
        Self::Comparands,
        Self::Line,
        Self::Byte,
        Self::Pixel,
        Self::Frame,
    ];

    /// The place in a word or two.
    pub(crate) fn short(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Comparands => "comparands",
            Self::Frame => "frame",
            Self::TakeOver => "take-over",
            Self::Write => "port write",
            Self::MemoryWrite => "memory write",
            Self::Line => "line",
            Self::Byte => "byte",
            Self::Pixel => "pixel",
        }
    }

    /// The place in a few words.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Nothing => "this action",
            Self::Comparands => "an action on the comparands",
            Self::Frame => "an action on whole frames",
            Self::TakeOver => "an action on the take-over of the start address",
            Self::Write => "an action on a port write",
            Self::MemoryWrite => "an action on a memory write",
            Self::Line => "an action on a line",
            Self::Byte => "an action on a byte of a line",
            Self::Pixel => "an action on a pixel of a line",
        }
    }

    const fn bit(self) -> u16 {
        1 << self as u16
    }
}

const LINE: u16 = DecisionPoint::Line.bit() | DecisionPoint::Byte.bit() | DecisionPoint::Pixel.bit();
const BYTE: u16 = DecisionPoint::Byte.bit();
const PIXEL: u16 = DecisionPoint::Pixel.bit();
const WRITE: u16 = DecisionPoint::Write.bit();
const ANY_WRITE: u16 = WRITE | DecisionPoint::MemoryWrite.bit();
const TAKE_OVER: u16 = DecisionPoint::TakeOver.bit();
const COMPARANDS: u16 = DecisionPoint::Comparands.bit();
const FRAME: u16 = DecisionPoint::Frame.bit() | TAKE_OVER | ANY_WRITE | LINE;

/// The plain quantities: name, where they are known, least and greatest value, plain words.
macro_rules! quantities {
    ($( $(#[$doc:meta])* $name:ident: $known:expr, $from:expr, $to:expr, $words:literal; )+) => {
        /// Something that can be measured while an effect decides whether to act.
        #[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Quantity<V> {
            $( $(#[$doc])* $name, )+
            /// Row crossings of the whole line, its memory rows being of this many bytes.
            LineCrossings(V),
            /// Bytes of the line that come after it has crossed more rows than the second number
            /// allows, its memory rows being of as many bytes as the first says.
            Tail(V, V),
            /// Row crossings since the line's first byte, its memory rows being of this many bytes.
            Crossings(V),
            /// Bytes to the next row crossing, at least 1, the memory rows being of this many bytes.
            ToCrossing(V),
            /// Bytes since the last row crossing or the line's first byte, the memory rows being of this many bytes.
            SinceCrossing(V),
            /// The remainder of a quantity divided by a number.
            Remainder(Box<Quantity<V>>, V),
            /// A quantity divided by a number, rounded down: `Quotient(Line, 8)` numbers groups of eight lines.
            Quotient(Box<Quantity<V>>, V),
        }

        impl<V> Quantity<V> {
            /// Names and plain words of all quantities, those with numbers as a file writes them.
            pub(crate) const TABLE: &'static [(&'static str, &'static str)] = &[
                $( (stringify!($name), $words), )+
                ("LineCrossings(row_bytes)", "the line's crossings of memory rows of this many bytes"),
                ("Tail(row_bytes, n)", "the number of the line's bytes beyond n crossings of such rows"),
                ("Crossings(row_bytes)", "the crossings of such rows since the line's first byte"),
                ("ToCrossing(row_bytes)", "the distance in bytes to the next such crossing"),
                ("SinceCrossing(row_bytes)", "the distance in bytes from the last such crossing, or from the line's first byte"),
                ("Remainder(QUANTITY, n)", "a quantity modulo n"),
                ("Quotient(QUANTITY, n)", "a quantity divided by n, rounded down"),
            ];

            /// The quantities known at a place, by name.
            pub(crate) fn known_at(place: DecisionPoint) -> Vec<&'static str> {
                let mut known = Vec::new();
                $( if $known & place.bit() != 0 { known.push(stringify!($name)); } )+
                if LINE & place.bit() != 0 {
                    known.extend(["LineCrossings", "Tail"]);
                }
                if BYTE & place.bit() != 0 {
                    known.extend(["Crossings", "ToCrossing", "SinceCrossing"]);
                }
                known
            }

            /// Least and greatest value the quantity can have.
            fn plain_range(&self) -> (i64, i64) {
                match self {
                    $( Self::$name => ($from, $to), )+
                    Self::LineCrossings(_) | Self::Crossings(_) | Self::SinceCrossing(_) | Self::Tail(..) => (0, MOST_BYTES),
                    Self::ToCrossing(_) => (1, MOST_BYTES),
                    Self::Remainder(of, _) | Self::Quotient(of, _) => of.plain_range(),
                }
            }

            fn known(&self) -> u16 {
                match self {
                    $( Self::$name => $known, )+
                    Self::LineCrossings(_) | Self::Tail(..) => LINE,
                    Self::Crossings(_) | Self::ToCrossing(_) | Self::SinceCrossing(_) => BYTE,
                    Self::Remainder(of, _) | Self::Quotient(of, _) => of.known(),
                }
            }

            /// Its name as a file writes it.
            pub(crate) fn name(&self) -> &'static str {
                match self {
                    $( Self::$name => stringify!($name), )+
                    Self::LineCrossings(_) => "LineCrossings",
                    Self::Tail(..) => "Tail",
                    Self::Crossings(_) => "Crossings",
                    Self::ToCrossing(_) => "ToCrossing",
                    Self::SinceCrossing(_) => "SinceCrossing",
                    Self::Remainder(of, _) | Self::Quotient(of, _) => of.name(),
                }
            }

            /// The same quantity with other numbers.
            pub(crate) fn map<W>(&self, each: &mut dyn FnMut(&V) -> W) -> Quantity<W> {
                match self {
                    $( Self::$name => Quantity::$name, )+
                    Self::LineCrossings(row) => Quantity::LineCrossings(each(row)),
                    Self::Tail(row, allowed) => Quantity::Tail(each(row), each(allowed)),
                    Self::Crossings(row) => Quantity::Crossings(each(row)),
                    Self::ToCrossing(row) => Quantity::ToCrossing(each(row)),
                    Self::SinceCrossing(row) => Quantity::SinceCrossing(each(row)),
                    Self::Remainder(of, by) => Quantity::Remainder(Box::new(of.map(each)), each(by)),
                    Self::Quotient(of, by) => Quantity::Quotient(Box::new(of.map(each)), each(by)),
                }
            }
        }

        impl Quantity<Value> {
            /// The quantity in plain words.
            pub(crate) fn words(&self) -> String {
                match self {
                    $( Self::$name => $words.to_owned(), )+
                    Self::LineCrossings(row) => format!("the line's crossings of {row}-byte rows"),
                    Self::Tail(row, allowed) => {
                        format!("the number of the line's bytes beyond {allowed} crossing(s) of {row}-byte rows")
                    }
                    Self::Crossings(row) => format!("the crossings of {row}-byte rows so far"),
                    Self::ToCrossing(row) => format!("the distance to the next crossing of {row}-byte rows"),
                    Self::SinceCrossing(row) => format!("the distance from the last crossing of {row}-byte rows"),
                    Self::Remainder(of, by) => format!("{} modulo {by}", of.words()),
                    Self::Quotient(of, by) => format!("{} divided by {by}", of.words()),
                }
            }
        }
    };
}

/// No line shows more bytes: 256 character clocks of at most 32 bytes.
pub(crate) const MOST_BYTES: i64 = 256 * 32;
/// The widest start address an adapter profile may have, 24 bits.
const MOST_ADDRESS: i64 = (1 << 24) - 1;
/// A count with no end worth naming.
const MOST: i64 = i32::MAX as i64;

quantities! {
    /// Frame since the board was made, from 0.
    Frame: FRAME, 0, MOST, "the frame number";
    /// Line of the picture, from 0: scan lines that repeat their row count once.
    Line: LINE, 0, 8191, "the line of the picture";
    /// Scan line of the frame, from 0 at the first one displayed.
    ScanLine: LINE | ANY_WRITE, 0, 8191, "the scan line";
    /// Character row, from 0.
    Row: LINE, 0, 255, "the character row";
    /// Scan line inside its character row, from 0.
    RowAddress: LINE, 0, 31, "the scan line within its row";
    /// Start address: of this frame, or at a take-over the one in the registers.
    Start: LINE | TAKE_OVER, 0, MOST_ADDRESS, "the start address";
    /// Linear address of the line's first byte, counted plainly.
    FirstByte: LINE, 0, MOST_ADDRESS, "the address of the line's first byte";
    /// Bytes from one row to the next.
    Pitch: LINE, 0, MOST_BYTES, "the pitch in bytes";
    /// Character clocks displayed.
    Displayed: LINE | COMPARANDS, 0, 511, "the displayed character count";
    /// Bytes a line shows.
    Bytes: LINE, 0, MOST_BYTES, "the number of bytes a line shows";
    /// Bits of a pixel value; 0 in text.
    PixelBits: LINE, 0, 8, "the bits of a pixel (0 in text)";
    /// Byte of the line, from 0.
    Byte: BYTE, 0, MOST_BYTES - 1, "the byte's place on the line";
    /// Bytes from this one to the end of the line, 1 at the last shown and below that past it.
    BytesLeft: BYTE, -MOST_BYTES, MOST_BYTES, "the number of bytes left on the line";
    /// Pixel of the line, from 0.
    X: PIXEL, 0, 8191, "the pixel's place on the line";
    /// Pixels from this one to the end of the line, 1 at the last shown and below that past it.
    PixelsLeft: PIXEL, -8192, 8192, "the number of pixels left on the line";
    /// Character clock of the line, from 0.
    Char: BYTE | PIXEL | ANY_WRITE, 0, 511, "the character clock";
    /// Port number.
    Port: WRITE, 0, 65535, "the port number";
    /// Byte written.
    Value: ANY_WRITE, 0, 255, "the byte written";
    /// Dots since a byte was last written to a port (a great number before the first).
    SinceLast: WRITE, 0, MOST, "the time in dots since the last port write";
    /// Scan lines from a write to the next take-over of the start address; below 0 after it.
    LinesToLatch: WRITE, -8191, 8191, "the number of scan lines to the take-over of the start address";
    /// Dots from the last write to the start address to its take-over (a great number without a write).
    SinceWrite: TAKE_OVER, 0, MOST, "the time in dots since the start address was written";
    /// Character clocks of a whole line.
    Total: COMPARANDS, 1, 256, "the character clocks of a whole line";
    /// Character clock at which horizontal sync begins.
    SyncPosition: COMPARANDS, 0, 511, "the horizontal sync position";
    /// Character clocks of horizontal sync.
    SyncWidth: COMPARANDS, 0, 16, "the horizontal sync width";
}

impl<V> Quantity<V> {
    /// The quantity itself, without remainders and quotients around it.
    pub(crate) fn base(&self) -> &Self {
        match self {
            Self::Remainder(of, _) | Self::Quotient(of, _) => of.base(),
            plain => plain,
        }
    }

    /// Whether it can be measured at a place.
    pub(crate) fn is_known_at(&self, place: DecisionPoint) -> bool {
        self.known() & place.bit() != 0
    }

    /// Whether it changes along a line.
    pub(crate) fn changes_along_a_line(&self) -> bool {
        self.known() & DecisionPoint::Line.bit() == 0 && self.known() & (BYTE | PIXEL) != 0
    }

    /// Its numbers with what they may be.
    pub(crate) fn fields(&self) -> Vec<(&'static str, &V, Limits)> {
        const ROW: Limits = Limits::PowerOfTwo(2, 65536);
        match self {
            Self::LineCrossings(row) | Self::Crossings(row) | Self::ToCrossing(row) | Self::SinceCrossing(row) => {
                vec![("0", row, ROW)]
            }
            Self::Tail(row, allowed) => vec![("0", row, ROW), ("1", allowed, Limits::Between(0, 64))],
            Self::Remainder(_, by) | Self::Quotient(_, by) => vec![("1", by, Limits::Between(1, 1 << 24))],
            _ => Vec::new(),
        }
    }
}

impl Quantity<i32> {
    /// Least and greatest value.
    pub(crate) fn range(&self) -> (i64, i64) {
        match self {
            Self::Remainder(of, by) => {
                let (from, to) = of.range();
                let by = i64::from(*by);
                if from >= 0 && to < by { (from, to) } else { (0, by - 1) }
            }
            Self::Quotient(of, by) => {
                let (from, to) = of.range();
                (from.div_euclid(i64::from(*by)), to.div_euclid(i64::from(*by)))
            }
            Self::ToCrossing(row) => (1, i64::from(*row)),
            _ => self.plain_range(),
        }
    }
}
