//! A bench, checked and ready to run.

use std::borrow::Cow;
use std::path::PathBuf;
use std::sync::Arc;

use backporch_adapter::{Adapter, FieldId, Mode, Registers};
use backporch_input::InputError;
use backporch_picture::indexed::Indexed;
use backporch_picture::lay::{Placement, bits_per_pixel, lay};
use backporch_picture::overlay::MaskedByte;
use backporch_quirk::{Layers, Quirk, QuirkStack};
use backporch_raster::{Board, Plain, QuietFrame, Tap};
use backporch_signal::{Hertz, Monitor};

use crate::art::Art;
use crate::file::Scroll;
use crate::named::DriverSettings;

/// What the command line wants to be different from the bench file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Overrides {
    /// Another adapter.
    pub board: Option<String>,
    /// Another mode.
    pub mode: Option<String>,
    /// Leave out what the board's class does by design.
    pub plain: bool,
    /// Leave the bench file's quirks out.
    pub no_quirks: bool,
    /// Quirks to add, after the bench file's.
    pub quirks: Vec<String>,
    /// Registers to set, after the bench file's.
    pub set: Vec<(String, u64)>,
    /// Another start address, after all other registers.
    pub start: Option<u64>,
    /// Another picture.
    pub picture: Option<PathBuf>,
    /// Another monitor.
    pub monitor: Option<String>,
    /// Another routine.
    pub routine: Option<String>,
    /// Another CPU model for a routine script.
    pub cpu: Option<String>,
    /// Files and folders outside its own that the bench file may name.
    pub allow: Vec<PathBuf>,
}

/// One board under test with everything on the bench around it.
#[derive(Clone, Debug)]
pub struct Bench {
    pub(crate) name: String,
    pub(crate) title: String,
    pub(crate) adapter: Arc<Adapter>,
    pub(crate) mode: Mode,
    pub(crate) registers: Registers,
    pub(crate) layers: Layers,
    pub(crate) art: Option<Art>,
    pub(crate) base_memory: Vec<u8>,
    pub(crate) overlays: Vec<MaskedByte>,
    pub(crate) monitor: Option<Monitor>,
    pub(crate) driver: DriverSettings,
    pub(crate) notes: Vec<String>,
    /// Whether the test card stands in for its own picture.
    pub(crate) is_test_card: bool,
}

impl Bench {
    /// Whether the test card of a session stands in for its own picture.
    #[must_use]
    pub fn is_test_card(&self) -> bool {
        self.is_test_card
    }

    /// Name or path it was opened by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What is on the bench, for people.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The class of the board.
    #[must_use]
    pub fn adapter(&self) -> &Arc<Adapter> {
        &self.adapter
    }

    /// The mode whose start-up values hold.
    #[must_use]
    pub fn mode(&self) -> &Mode {
        &self.mode
    }

    /// Registers as the bench sets them.
    #[must_use]
    pub fn registers(&self) -> &Registers {
        &self.registers
    }

    /// Dots a second as the bench sets the board.
    #[must_use]
    pub fn dot_clock(&self) -> Hertz {
        self.adapter().dot_clock_of(self.registers())
    }

    /// The board's layers: what its class does by design, and the bench's quirks.
    #[must_use]
    pub fn layers(&self) -> &Layers {
        &self.layers
    }

    /// The bench's quirks, in the order in which they act.
    #[must_use]
    pub fn quirks(&self) -> &[Quirk] {
        self.layers.faults()
    }

    /// The monitor, where the bench has one.
    #[must_use]
    pub fn monitor(&self) -> Option<&Monitor> {
        self.monitor.as_ref()
    }

    /// Name of the routine that drives the board.
    #[must_use]
    pub fn routine(&self) -> Option<&str> {
        self.driver.routine.as_ref().map(|named| named.name.as_str())
    }

    /// What is to drive the board, not yet read.
    #[must_use]
    pub fn driver_settings(&self) -> &DriverSettings {
        &self.driver
    }

    /// Seed of every fault that acts by chance.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.layers.seed()
    }

    /// What a user should know of how the bench was set up.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The picture in the mode's colours.
    #[must_use]
    pub fn picture(&self) -> Option<&Indexed> {
        self.art.as_ref().map(|art| &art.picture)
    }

    /// The register of that name.
    ///
    /// # Errors
    /// Names the registers there are.
    pub fn field(&self, name: &str) -> Result<FieldId, InputError> {
        self.adapter.field(name).ok_or_else(|| unknown_register(&self.adapter, name))
    }

    /// Video memory with the picture laid for these registers.
    ///
    /// The picture follows the pitch; with [`Scroll::Redrawn`] it follows the
    /// start address too. What is laid over it stays where the bench's own registers put it.
    #[must_use]
    pub fn memory(&self, registers: &Registers) -> Cow<'_, [u8]> {
        let Some(art) = &self.art else {
            return Cow::Borrowed(&self.base_memory);
        };
        let quiet = QuietFrame::new(&self.adapter, registers, &Plain);
        let mut memory = self.base_memory.clone();
        // The mode was checked to hold the picture when the bench was set up.
        let _ = lay(&art.picture, &quiet, art.placement(&quiet), &mut memory);
        self.overlays.iter().for_each(|byte| byte.write(&mut memory));
        Cow::Owned(memory)
    }

    /// Column of the picture that is laid at the left edge under these
    /// registers, and the start address it is laid from.
    #[must_use]
    pub fn picture_place(&self, registers: &Registers) -> Option<Placement> {
        let quiet = QuietFrame::new(&self.adapter, registers, &Plain);
        self.art.as_ref().map(|art| art.placement(&quiet))
    }

    /// The plain board under these registers, the picture in its memory: what
    /// the programmer meant.
    #[must_use]
    pub fn plain(&self, registers: &Registers) -> Board<Plain> {
        let mut board = Board::plain(Arc::clone(&self.adapter), registers.clone());
        board.load(&self.memory(registers));
        board
    }

    /// A board as its class is built, under these registers, the picture in its memory.
    #[must_use]
    pub fn by_design(&self, registers: &Registers) -> Board<QuirkStack> {
        self.under(registers, self.layers.by_design())
    }

    /// A board as built, with the bench's quirks, under these registers, the picture in its memory.
    #[must_use]
    pub fn faulty(&self, registers: &Registers) -> Board<QuirkStack> {
        self.under(registers, self.stack())
    }

    /// A board under another tap than the bench's, with these registers, the picture in its memory.
    #[must_use]
    pub fn under<T: Tap>(&self, registers: &Registers, tap: T) -> Board<T> {
        let mut board = Board::new(Arc::clone(&self.adapter), registers.clone(), tap);
        board.load(&self.memory(registers));
        board
    }

    /// What the class does by design and the bench's quirks on it, as one tap.
    #[must_use]
    pub fn stack(&self) -> QuirkStack {
        self.layers.faulty()
    }

    /// The same bench under another monitor.
    #[must_use]
    pub fn with_monitor(&self, monitor: Option<Monitor>) -> Self {
        Self { monitor, ..self.clone() }
    }

    /// The same bench with other quirks.
    #[must_use]
    pub fn with_quirks(&self, quirks: Vec<Quirk>) -> Self {
        Self { layers: self.layers.with_faults(quirks), ..self.clone() }
    }

    /// The same bench with what enters a moved window left as it lies, or redrawn.
    #[must_use]
    pub fn with_scroll(&self, scroll: Scroll) -> Self {
        let art = self.art.clone().map(|art| Art { scroll, ..art });
        Self { art, ..self.clone() }
    }
}

impl Art {
    pub(crate) fn placement(&self, quiet: &QuietFrame) -> Placement {
        let (at, start) = (self.at, quiet.start());
        match self.scroll {
            Scroll::Still => Placement { start: at, column: self.column },
            Scroll::Redrawn => {
                let bits = bits_per_pixel(quiet).unwrap_or(8);
                let width = i64::from(self.picture.width());
                let unit_pixels = i64::from(quiet.format().address.unit * 8 / bits);
                let moved = (i64::from(start) - i64::from(at)) * unit_pixels;
                let column = (i64::from(self.column) + moved).rem_euclid(width) as u32;
                Placement { start, column }
            }
        }
    }
}

pub(crate) fn unknown_register(adapter: &Adapter, name: &str) -> InputError {
    let names: Vec<&str> = adapter.fields().map(|(_, field)| field.name.as_str()).collect();
    let allowed = format!("a register of {}: {}", adapter.name(), names.join(", "));
    InputError::new("register", name, allowed).with_nearest(name, names)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes a board fetches otherwise than the plain one, of the whole picture at start address 1.
    fn differing(name: &str, overrides: &Overrides) -> usize {
        let bench = Bench::open(name, overrides).unwrap();
        let mut registers = bench.registers().clone();
        bench.adapter().set(&mut registers, bench.adapter().start_address(), 1).unwrap();
        let (stack, quiet) = (bench.stack(), QuietFrame::new(bench.adapter(), &registers, &Plain));
        let (built, plain) = (quiet.plan(&stack), quiet.plan(&Plain));
        built.rows().zip(plain.rows()).filter(|(one, other)| one != other).count()
    }

    /// Fifty lines are damaged at step 1 (reverse-engineered schematic of
    /// display controller gate array 72X8300); each layer can be left out.
    #[test]
    fn a_bench_has_three_layers() {
        let plain = Overrides { plain: true, ..Overrides::default() };
        assert_eq!(differing("harbour-256", &Overrides::default()), 50, "by design");
        assert_eq!(differing("harbour-256", &plain), 0, "without the design");
        assert_eq!(differing("harbour-256-plain", &Overrides::default()), 0, "the ideal");
        let fault = |plain| Overrides { plain, quirks: vec!["pitch-rounded".into()], ..Overrides::default() };
        assert!(differing("harbour-256", &fault(false)) >= 50, "by design and with a fault");
        let bench = Bench::open("harbour-256", &fault(true)).unwrap();
        assert_eq!((bench.layers().design().len(), bench.quirks().len()), (0, 1), "the fault alone");
    }
}
