//! What a survey lays one after the other and times.
//!
//! A multiplication between two bus cycles lets the instruction queue fill and the bus come to rest, so that a bus cycle
//! costs what it costs by itself. Delays of single clocks come from the bits of a factor on the processors that count
//! shifts whole (a clock a bit, and four clocks a place of a shift), and from the places of a shift on the others (a clock
//! a place): *The 8086 Family User's Manual* and the *iAPX 286 Programmer's Reference*.

/// `mul bl`.
const MULTIPLY: [u8; 2] = [0xF6, 0xE3];
/// `mov al, ch`; `mul bl`; `shl si, cl`.
const DELAY: [u8; 6] = [0x8A, 0xC5, 0xF6, 0xE3, 0xD3, 0xE6];
/// `mov dl, [di]`.
const READ_BYTE: [u8; 2] = [0x8A, 0x15];

/// Something laid one after the other and timed.
pub trait SurveyPattern: Copy + Sized + 'static {
    /// All of them, in the order of the file.
    const ALL: &'static [Self];

    /// Its name in the file.
    fn name(self) -> &'static str;

    /// Bytes of its instructions.
    fn bytes(self) -> Vec<u8>;

    /// The one of that name.
    #[must_use]
    fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|one| one.name() == name)
    }
}

/// What is timed without delays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TimedPattern {
    /// Nothing at all: what calling and reading the timer take.
    Nothing,
    /// Multiplications by zero.
    Multiply,
    /// Instructions that take longer to be fetched than to be executed.
    Fetch,
    /// A software interrupt that only comes back.
    Interrupt,
    /// A firmware service: the mode is asked for (function 0Fh of interrupt 10h).
    Firmware,
    /// Reads of bytes of the board's memory in the part of the frame that is shown.
    Shown,
    /// The same in vertical retrace.
    Blanked,
}

/// What is timed with delays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum SeriesPattern {
    PortByte,
    PortWord,
    ReadByteEven,
    ReadByteOdd,
    ReadWordEven,
    ReadWordOdd,
    WriteByteEven,
    WriteWordEven,
    WriteWordOdd,
}

impl TimedPattern {
    /// The interrupt that only comes back (one of those the system leaves to programs: common practice).
    pub const OWN_INTERRUPT: u8 = 0x60;
}

impl SurveyPattern for TimedPattern {
    const ALL: &'static [Self] =
        &[Self::Nothing, Self::Multiply, Self::Fetch, Self::Interrupt, Self::Firmware, Self::Shown, Self::Blanked];

    fn name(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Multiply => "multiply",
            Self::Fetch => "fetch",
            Self::Interrupt => "interrupt",
            Self::Firmware => "firmware",
            Self::Shown => "shown",
            Self::Blanked => "blanked",
        }
    }

    fn bytes(self) -> Vec<u8> {
        match self {
            Self::Nothing => Vec::new(),
            Self::Multiply => MULTIPLY.to_vec(),
            // mov bx, 1
            Self::Fetch => vec![0xBB, 0x01, 0x00],
            // int 60h
            Self::Interrupt => vec![0xCD, Self::OWN_INTERRUPT],
            // mov ah, 0Fh; int 10h
            Self::Firmware => vec![0xB4, 0x0F, 0xCD, 0x10],
            Self::Shown | Self::Blanked => [DELAY.as_slice(), &READ_BYTE].concat(),
        }
    }
}

impl SeriesPattern {
    /// Whether the second byte of memory is reached, not the first.
    #[must_use]
    pub fn is_odd(self) -> bool {
        matches!(self, Self::ReadByteOdd | Self::ReadWordOdd | Self::WriteWordOdd)
    }

    /// Whether a port is read.
    #[must_use]
    pub fn is_port(self) -> bool {
        matches!(self, Self::PortByte | Self::PortWord)
    }

    /// The register CX of a delay of this many clocks: bits of the factor in CH, places in CL; or places alone.
    #[must_use]
    pub fn delayed(masks_shifts: bool, clocks: u16) -> u16 {
        if masks_shifts { clocks } else { ((1 << (clocks & 3)) - 1) << 8 | clocks >> 2 }
    }
}

impl SurveyPattern for SeriesPattern {
    const ALL: &'static [Self] = &[
        Self::PortByte,
        Self::PortWord,
        Self::ReadByteEven,
        Self::ReadByteOdd,
        Self::ReadWordEven,
        Self::ReadWordOdd,
        Self::WriteByteEven,
        Self::WriteWordEven,
        Self::WriteWordOdd,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::PortByte => "port-byte",
            Self::PortWord => "port-word",
            Self::ReadByteEven => "read-byte-even",
            Self::ReadByteOdd => "read-byte-odd",
            Self::ReadWordEven => "read-word-even",
            Self::ReadWordOdd => "read-word-odd",
            Self::WriteByteEven => "write-byte-even",
            Self::WriteWordEven => "write-word-even",
            Self::WriteWordOdd => "write-word-odd",
        }
    }

    fn bytes(self) -> Vec<u8> {
        let access: &[u8] = match self {
            // in al, dx; in ax, dx
            Self::PortByte => &[0xEC],
            Self::PortWord => &[0xED],
            Self::ReadByteEven | Self::ReadByteOdd => &READ_BYTE,
            // mov dx, [di]
            Self::ReadWordEven | Self::ReadWordOdd => &[0x8B, 0x15],
            // mov [di], dl; mov [di], dx
            Self::WriteByteEven => &[0x88, 0x15],
            Self::WriteWordEven | Self::WriteWordOdd => &[0x89, 0x15],
        };
        [DELAY.as_slice(), access].concat()
    }
}
