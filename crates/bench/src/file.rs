//! The file form of a bench: `*.bench.ron`.

use std::collections::BTreeMap;

use backporch_input::{Milliseconds, Number, Version1};
use serde::{Deserialize, Serialize};

/// A bench as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BenchFile {
    /// Version of the file form.
    pub version: Version1,
    /// What is on the bench, for people.
    #[serde(default)]
    pub title: String,
    /// Built-in adapter, or the path of a profile beside this file.
    pub adapter: String,
    /// Mode whose start-up values hold; the adapter's first one if left out.
    #[serde(default)]
    pub mode: Option<String>,
    /// Registers that differ from the mode's start-up values, by name.
    #[serde(default)]
    pub registers: BTreeMap<String, Number>,
    /// Leave out what every board of the class does by design.
    #[serde(default)]
    pub plain: bool,
    /// Quirks, in the order in which they act.
    #[serde(default)]
    pub quirks: Vec<QuirkRef>,
    /// The picture in memory.
    #[serde(default)]
    pub picture: Option<PictureRef>,
    /// Pictures and texts laid over the picture, in this order. They stay where they lie, however the picture moves.
    #[serde(default)]
    pub overlays: Vec<OverlayRef>,
    /// A raw memory image beside this file, laid from address 0 before the picture.
    #[serde(default)]
    pub memory: Option<String>,
    /// What drives the board: a built-in routine, or a path beside this file: a
    /// routine script, a write trace (`.csv`), or a real-mode program (`.com`, `.exe`).
    #[serde(default)]
    pub routine: Option<String>,
    /// CPU model a script or a program runs on: built-in, or the path of one beside this file; the script's own one, or
    /// what `machine` says, if left out.
    #[serde(default)]
    pub cpu: Option<String>,
    /// The machine around a real-mode program.
    #[serde(default)]
    pub machine: MachineRef,
    /// Built-in monitor, or the path of a profile beside this file.
    #[serde(default)]
    pub monitor: Option<String>,
    /// Seed of every fault that acts by chance.
    #[serde(default)]
    pub seed: u64,
}

/// The machine around a real-mode program.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MachineRef {
    /// Part number of the processor: `8088`, `8086`, `80186`, `80286` or `80386`.
    pub processor: String,
    /// Its clock.
    pub clock: ClockRef,
    /// Folder beside this file whose files the program may read; none if left out.
    pub folder: Option<String>,
    /// The program's command line.
    pub tail: String,
    /// Keys pressed or held.
    pub keys: Vec<KeyRef>,
    /// What a hand does with a mouse; without any of it there is none.
    pub mouse: Vec<MouseRef>,
}

/// A key pressed, `(500, "space")`, or held from one moment to another, `(500, "left", 2000)`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyRef(
    /// When it goes down.
    pub Milliseconds,
    /// Its name.
    pub String,
    /// When it comes up; soon, if left out.
    #[serde(default)]
    pub Option<Milliseconds>,
);

/// A mouse moved, `(500, 12, -3, 1)`: when, by how many steps to the right and down, and the buttons held from then on
/// (1 left, 2 right).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MouseRef(pub Milliseconds, pub i16, pub i16, pub u8);

impl Default for MachineRef {
    /// An 8086 at 8 MHz without files.
    fn default() -> Self {
        let clock = ClockRef::default();
        Self {
            processor: "8086".to_string(),
            clock,
            folder: None,
            tail: String::new(),
            keys: Vec::new(),
            mouse: Vec::new(),
        }
    }
}

/// A processor clock: a crystal, divided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClockRef {
    /// The crystal in hertz.
    pub crystal_hz: Number,
    /// What divides it.
    #[serde(default = "undivided")]
    pub divide: Number,
}

fn undivided() -> Number {
    Number::from(1)
}

impl Default for ClockRef {
    fn default() -> Self {
        Self { crystal_hz: Number::from(8_000_000), divide: undivided() }
    }
}

/// A quirk and its parameters.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuirkRef {
    /// Built-in quirk, or the path of one beside this file.
    pub name: String,
    /// Values of its open parameters; those left out take their first value.
    #[serde(default)]
    pub parameters: BTreeMap<String, i64>,
}

/// A picture and where it lies.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PictureRef {
    /// The built-in `harbour`, or the path of a picture beside this file.
    pub source: String,
    /// Start address at which the picture's left edge shows at the top left.
    #[serde(default)]
    pub at: u32,
    /// Column of the picture that stands there.
    #[serde(default)]
    pub column: u32,
    /// What a moved start address finds beyond the edge.
    #[serde(default)]
    pub scroll: Scroll,
    /// Whether colours the mode lacks are mixed from those it has.
    #[serde(default)]
    pub dither: bool,
}

impl PictureRef {
    /// A picture at the start of memory.
    #[must_use]
    pub fn new(source: String) -> Self {
        Self { source, at: 0, column: 0, scroll: Scroll::default(), dither: false }
    }
}

/// Something laid over the picture.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum OverlayRef {
    /// A picture, or a region of one, in the colours that the board has by then.
    Picture {
        /// The built-in `harbour`, or the path of a picture beside this file.
        source: String,
        /// Column and line of the picture at which the region begins.
        #[serde(default)]
        from: (u32, u32),
        /// Columns and lines of the region; all there are, as far as a row of memory goes, if left out.
        #[serde(default)]
        size: Option<(u32, u32)>,
        /// Whether colours the mode lacks are mixed from those it has.
        #[serde(default)]
        dither: bool,
        /// Where its top left corner lies.
        #[serde(default)]
        place: PlaceRef,
    },
    /// A line of text in cells of eight pixels.
    Text {
        /// The text.
        text: String,
        /// Pixel value of the letters.
        colour: u8,
        /// Pixel value of what they stand on; what is there stays if left out.
        #[serde(default)]
        ground: Option<u8>,
        /// A character set beside this file; the built-in one, eight lines high, if left out.
        #[serde(default)]
        font: Option<String>,
        /// Where its top left corner lies.
        #[serde(default)]
        place: PlaceRef,
    },
}

impl OverlayRef {
    /// Where its top left corner lies.
    #[must_use]
    pub fn place(&self) -> PlaceRef {
        match self {
            Self::Picture { place, .. } | Self::Text { place, .. } => *place,
        }
    }

    /// The file that it names: the field, and the name in it.
    #[must_use]
    pub fn named(&self) -> Option<(&'static str, &str)> {
        match self {
            Self::Picture { source, .. } => Some(("source", source)),
            Self::Text { font, .. } => font.as_deref().map(|font| ("font", font)),
        }
    }

    /// The same with another name in that field.
    #[must_use]
    pub fn renamed(mut self, name: String) -> Self {
        match &mut self {
            Self::Picture { source, .. } => *source = name,
            Self::Text { font, .. } => *font = Some(name),
        }
        self
    }
}

/// A place in memory, as the screen shows it from a start address on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PlaceRef {
    /// The start address.
    pub start: u32,
    /// Pixels from the left edge that it shows.
    pub x: u32,
    /// Picture lines from its top.
    pub y: u32,
}

/// What a start address other than the picture's own shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Scroll {
    /// Memory as laid once: the window moves over it and meets the next line's edge.
    #[default]
    Still,
    /// The entering columns redrawn, as a faultless routine would have them.
    Redrawn,
}
