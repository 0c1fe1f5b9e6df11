//! A bench, checked and ready to run.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::{Adapter, FieldId, Mode, Registers};
use backporch_form::{FormError, FormErrorKind, Source, parse};
use backporch_picture::indexed::Indexed;
use backporch_picture::lay::{LayError, Placement, bits_per_pixel, lay};
use backporch_quirk::{Quirk, QuirkStack};
use backporch_raster::{Board, Healthy, QuietFrame, Tap};
use backporch_signal::Monitor;

use crate::art::{self, Art};
use crate::driven::Driven;
use crate::driver::{Drive, Driver, Named, Start};
use crate::file::{BenchFile, PictureRef, Scroll};
use crate::library::{Library, folder_of};

/// What the command line wants to be different from the bench file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wishes {
    /// Another adapter.
    pub board: Option<String>,
    /// Another mode.
    pub mode: Option<String>,
    /// Leave the bench file's quirks out.
    pub no_quirks: bool,
    /// Quirks to add, after the bench file's.
    pub quirks: Vec<String>,
    /// Registers to set, after the bench file's.
    pub set: Vec<(String, u64)>,
    /// Another picture.
    pub picture: Option<PathBuf>,
    /// Another monitor.
    pub monitor: Option<String>,
    /// Another routine.
    pub routine: Option<String>,
    /// Another CPU model for a routine script.
    pub cpu: Option<String>,
}

/// One board under test with everything on the bench around it.
#[derive(Clone, Debug)]
pub struct Bench {
    name: String,
    title: String,
    adapter: Arc<Adapter>,
    mode: Mode,
    registers: Registers,
    quirks: Vec<Quirk>,
    art: Option<Art>,
    base_memory: Vec<u8>,
    monitor: Option<Monitor>,
    drive: Drive,
    seed: u64,
    notes: Vec<String>,
}

impl Bench {
    /// Reads the bench of that name: built in, or the path of a file.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str, wishes: &Wishes) -> Result<Self, FormError> {
        match crate::built_in(name) {
            Some(source) => Self::from_source(&source, name, &Library::default(), wishes),
            None => {
                let path = Path::new(name);
                let source = match path.extension().is_none() && !path.exists() {
                    true => return Err(unknown_bench(name)),
                    false => Source::read(path)?,
                };
                Self::from_source(&source, name, &Library::beside(folder_of(path)), wishes)
            }
        }
    }

    /// Sets a bench up from its text; what it names is looked up in `library`,
    /// what `wishes` name in the working folder.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source, name: &str, library: &Library, wishes: &Wishes) -> Result<Self, FormError> {
        let file: BenchFile = parse(source)?;
        Setup { source, library, here: Library::default(), wishes }.bench(name, file)
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

    /// Quirks, in the order in which they act.
    #[must_use]
    pub fn quirks(&self) -> &[Quirk] {
        &self.quirks
    }

    /// The monitor, where the bench has one.
    #[must_use]
    pub fn monitor(&self) -> Option<&Monitor> {
        self.monitor.as_ref()
    }

    /// Name of the routine that drives the board.
    #[must_use]
    pub fn routine(&self) -> Option<&str> {
        self.drive.routine.as_ref().map(|named| named.name.as_str())
    }

    /// What drives the board, read and checked against it; none where the bench names no routine.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn driver(&self) -> Result<Option<Driver>, FormError> {
        self.drive.read(self)
    }

    /// A board of this bench under its routine from the first dot on; alone where the bench names none.
    ///
    /// # Errors
    /// As [`driver`](Self::driver).
    pub fn driven<T: Tap>(&self, board: Board<T>) -> Result<Driven<T>, FormError> {
        match self.driver()? {
            Some(driver) => driver.start(self, board, Start::default()),
            None => Ok(Driven::Alone(Box::new(board))),
        }
    }

    /// Seed of every fault that acts by chance.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
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
    pub fn field(&self, name: &str) -> Result<FieldId, FormError> {
        self.adapter.field(name).ok_or_else(|| unknown_register(&self.adapter, name))
    }

    /// Video memory with the picture laid for these registers.
    ///
    /// The picture follows the pitch; with [`Scroll::Redrawn`] it follows the
    /// start address too.
    #[must_use]
    pub fn memory(&self, registers: &Registers) -> Cow<'_, [u8]> {
        let Some(art) = &self.art else {
            return Cow::Borrowed(&self.base_memory);
        };
        let quiet = QuietFrame::new(&self.adapter, registers, &Healthy);
        let mut memory = self.base_memory.clone();
        // The mode was checked to hold the picture when the bench was set up.
        let _ = lay(&art.picture, &quiet, art.placement(&quiet), &mut memory);
        Cow::Owned(memory)
    }

    /// Column of the picture that is laid at the left edge under these
    /// registers, and the start address it is laid from.
    #[must_use]
    pub fn picture_place(&self, registers: &Registers) -> Option<Placement> {
        let quiet = QuietFrame::new(&self.adapter, registers, &Healthy);
        self.art.as_ref().map(|art| art.placement(&quiet))
    }

    /// A healthy board under these registers, the picture in its memory.
    #[must_use]
    pub fn healthy(&self, registers: &Registers) -> Board<Healthy> {
        let mut board = Board::healthy(Arc::clone(&self.adapter), registers.clone());
        board.load(&self.memory(registers));
        board
    }

    /// A board with the bench's quirks under these registers, the picture in its memory.
    #[must_use]
    pub fn faulty(&self, registers: &Registers) -> Board<QuirkStack> {
        self.under(registers, self.stack())
    }

    /// A board under another fault than the bench's, with these registers, the picture in its memory.
    #[must_use]
    pub fn under<T: Tap>(&self, registers: &Registers, tap: T) -> Board<T> {
        let mut board = Board::new(Arc::clone(&self.adapter), registers.clone(), tap);
        board.load(&self.memory(registers));
        board
    }

    /// The bench's quirks as one tap.
    #[must_use]
    pub fn stack(&self) -> QuirkStack {
        QuirkStack::new(self.quirks.clone(), self.seed)
    }

    /// The same bench under another monitor.
    #[must_use]
    pub fn with_monitor(&self, monitor: Option<Monitor>) -> Self {
        Self { monitor, ..self.clone() }
    }

    /// The same bench with other quirks.
    #[must_use]
    pub fn with_quirks(&self, quirks: Vec<Quirk>) -> Self {
        Self { quirks, ..self.clone() }
    }

    /// The same bench with what enters a moved window left as it lies, or redrawn.
    #[must_use]
    pub fn with_scroll(&self, scroll: Scroll) -> Self {
        let art = self.art.clone().map(|art| Art { scroll, ..art });
        Self { art, ..self.clone() }
    }
}

impl Art {
    fn placement(&self, quiet: &QuietFrame) -> Placement {
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

fn unknown_bench(name: &str) -> FormError {
    let known: Vec<&str> = crate::BUILT_IN_BENCHES.iter().map(|(name, _)| *name).collect();
    let error = FormError::new("bench", name, format!("{}, or the path of a bench file", known.join(", ")));
    match backporch_form::nearest(name, known.iter().copied()) {
        Some(guess) => error.with_help(format!("did you mean {guess}?")),
        None => error,
    }
}

fn unknown_register(adapter: &Adapter, name: &str) -> FormError {
    let names: Vec<&str> = adapter.fields().map(|(_, field)| field.name.as_str()).collect();
    let allowed = format!("a register of {}: {}", adapter.name(), names.join(", "));
    let error = FormError::new("register", name, allowed);
    match backporch_form::nearest(name, names.iter().copied()) {
        Some(guess) => error.with_help(format!("did you mean {guess}?")),
        None => error,
    }
}

/// One bench being set up.
struct Setup<'a> {
    source: &'a Source,
    library: &'a Library,
    here: Library,
    wishes: &'a Wishes,
}

/// The frame a mode shows as it starts up.
fn quiet_of(adapter: &Adapter, mode: &Mode) -> QuietFrame {
    QuietFrame::new(adapter, &adapter.start_up(mode), &Healthy)
}

/// The mode of another board for a bench made for one it does not have: its
/// default mode, or where there is a picture, its first one that takes it.
fn counterpart(adapter: &Adapter, shows_picture: bool) -> &Mode {
    let serves = |mode: &&Mode| !shows_picture || bits_per_pixel(&quiet_of(adapter, mode)).is_ok();
    let default = adapter.default_mode();
    if serves(&default) {
        return default;
    }
    adapter.profile().modes.iter().find(serves).unwrap_or(default)
}

impl Setup<'_> {
    fn bench(&self, name: &str, file: BenchFile) -> Result<Bench, FormError> {
        let wishes = self.wishes;
        let of_file = self.at(&["adapter"], self.library.adapter(&file.adapter))?;
        let adapter = match &wishes.board {
            Some(board) => self.here.adapter(board)?,
            None => Arc::clone(&of_file),
        };
        let moved = adapter.name() != of_file.name();
        let mut notes = Vec::new();
        let mode = self.mode(&file, &adapter, moved, &mut notes)?;
        let mut registers = adapter.start_up(&mode);
        self.registers(&file, &of_file, &adapter, &mut registers, &mut notes)?;
        let quirks = self.quirks(&file)?;
        let monitor = match (&wishes.monitor, &file.monitor) {
            (Some(name), _) => Some(self.here.monitor(name)?),
            (None, Some(name)) => Some(self.at(&["monitor"], self.library.monitor(name))?),
            (None, None) => None,
        };
        let base_memory = self.memory(&file, &adapter, &registers)?;
        let art = self.art(&file, &adapter, &mode, &mut registers)?;
        let drive = self.drive(&file);
        Ok(Bench {
            name: name.to_string(),
            title: file.title,
            mode,
            registers,
            quirks,
            art,
            base_memory,
            monitor,
            drive,
            seed: file.seed,
            notes,
            adapter,
        })
    }

    /// What drives the board; it is read when it is asked for.
    fn drive(&self, file: &BenchFile) -> Drive {
        let named = |wished: &Option<String>, written: &Option<String>, field| {
            let of =
                |name: &String, library: &Library, field| Named { name: name.clone(), library: library.clone(), field };
            match (wished, written) {
                (Some(name), _) => Some(of(name, &self.here, None)),
                (None, Some(name)) => Some(of(name, self.library, Some(field))),
                (None, None) => None,
            }
        };
        Drive {
            source: Arc::new(self.source.clone()),
            routine: named(&self.wishes.routine, &file.routine, "routine"),
            cpu: named(&self.wishes.cpu, &file.cpu, "cpu"),
            machine: file.machine.clone(),
            library: self.library.clone(),
        }
    }

    /// Places an error met while looking something up at the field that named it.
    fn at<T>(&self, path: &[&str], result: Result<T, FormError>) -> Result<T, FormError> {
        result.map_err(|error| match error.line() {
            // The named file was read and is itself at fault.
            Some(_) => error,
            None => {
                let fault = self.source.fault(path, error.found(), error.allowed()).of_kind(error.kind());
                match error.help() {
                    Some(help) => fault.with_help(help),
                    None => fault,
                }
            }
        })
    }

    /// The same, where a field of the bench file named it.
    fn named_by<T>(&self, path: Option<[&str; 2]>, result: Result<T, FormError>) -> Result<T, FormError> {
        match path {
            Some(path) => self.at(&path, result),
            None => result,
        }
    }

    fn mode(
        &self,
        file: &BenchFile,
        adapter: &Adapter,
        moved: bool,
        notes: &mut Vec<String>,
    ) -> Result<Mode, FormError> {
        let names = || adapter.profile().modes.iter().map(|mode| mode.name.as_str()).collect::<Vec<_>>().join(", ");
        if let Some(name) = &self.wishes.mode {
            let found = adapter.mode(name).cloned();
            return found.ok_or_else(|| FormError::new("mode", name, names()));
        }
        let Some(name) = &file.mode else {
            return Ok(adapter.default_mode().clone());
        };
        match adapter.mode(name) {
            Some(mode) => Ok(mode.clone()),
            None if moved => {
                let mode = counterpart(adapter, file.picture.is_some()).clone();
                notes.push(format!("{} has no mode {name}; it runs {}", adapter.name(), mode.name));
                Ok(mode)
            }
            None => Err(self.source.fault(&["mode"], name, names())),
        }
    }

    /// Sets the bench file's registers, then the command line's. On another
    /// board than the file's, a register keeps the quantity it stands for.
    fn registers(
        &self,
        file: &BenchFile,
        of_file: &Adapter,
        adapter: &Adapter,
        registers: &mut Registers,
        notes: &mut Vec<String>,
    ) -> Result<(), FormError> {
        for (name, value) in &file.registers {
            let path = ["registers", name.as_str()];
            let written = of_file.field(name).ok_or_else(|| {
                let error = unknown_register(of_file, name);
                self.source.fault(&path, error.found(), error.allowed())
            })?;
            let info = of_file.field_info(written);
            let value = u64::from(*value);
            if value > u64::from(info.max()) {
                return Err(self.source.fault(&path, value, format!("0..={}", info.max())));
            }
            let Some(field) = adapter.field(name) else {
                notes.push(format!("{} has no register {name}; it is left out", adapter.name()));
                continue;
            };
            let quantity = value + u64::from(info.plus);
            let stored = quantity.saturating_sub(u64::from(adapter.field_info(field).plus));
            if adapter.set(registers, field, stored).is_err() {
                notes.push(format!("{name} of {} cannot hold {quantity}; it is left out", adapter.name()));
            }
        }
        for (name, value) in &self.wishes.set {
            let field = adapter.field(name).ok_or_else(|| unknown_register(adapter, name))?;
            adapter
                .set(registers, field, *value)
                .map_err(|error| FormError::new("--set", error.found, format!("0..={}", error.max)).in_field(name))?;
        }
        Ok(())
    }

    fn quirks(&self, file: &BenchFile) -> Result<Vec<Quirk>, FormError> {
        let mut quirks = Vec::new();
        let of_file = if self.wishes.no_quirks { &[] } else { file.quirks.as_slice() };
        for (position, quirk) in of_file.iter().enumerate() {
            let position = position.to_string();
            let family = self.at(&["quirks", &position, "name"], self.library.family(&quirk.name))?;
            let closed = family.close(&quirk.parameters);
            quirks.push(closed.map_err(|error| {
                self.source.fault(&["quirks", &position, "parameters"], error.found(), error.allowed())
            })?);
        }
        for name in &self.wishes.quirks {
            let family = self.here.family(name)?;
            let closed = family.close(&BTreeMap::new());
            quirks.push(closed.map_err(|error| FormError::new(name, error.found(), error.allowed()))?);
        }
        Ok(quirks)
    }

    fn memory(&self, file: &BenchFile, adapter: &Adapter, registers: &Registers) -> Result<Vec<u8>, FormError> {
        let bytes = adapter.memory().bytes as usize;
        let mut memory = adapter.memory_at_start(registers);
        if let Some(name) = &file.memory {
            let image = self.at(&["memory"], art::read(&self.library.path(name), bytes as u64))?;
            memory[..image.len()].copy_from_slice(&image);
        }
        Ok(memory)
    }

    /// Loads the picture and brings it into the mode's colours; a mode with a
    /// DAC takes the picture's own.
    fn art(
        &self,
        file: &BenchFile,
        adapter: &Adapter,
        mode: &Mode,
        registers: &mut Registers,
    ) -> Result<Option<Art>, FormError> {
        let quiet = QuietFrame::new(adapter, registers, &Healthy);
        let from_file = file.picture.clone();
        let (wanted, library, named_by) = match &self.wishes.picture {
            Some(path) => {
                let source = path.to_string_lossy().into_owned();
                let place = from_file.unwrap_or_else(|| PictureRef::new(String::new()));
                (PictureRef { source, ..place }, &self.here, None)
            }
            None => match from_file {
                Some(picture) => (picture, self.library, Some(["picture", "source"])),
                None => return Ok(None),
            },
        };
        // As the mode starts up: changed geometry shows more or less of one and the same picture.
        let lines = quiet_of(adapter, mode).picture_lines();
        let image = self.named_by(named_by, art::load(&wanted.source, library, lines))?;
        let unfit = |error: LayError| {
            let (found, allowed) = match error {
                LayError::Text => ("a text mode".to_string(), "a graphics mode".to_string()),
                LayError::Colours { found, allowed } => (found.to_string(), format!("at most {allowed} colours")),
            };
            match named_by {
                Some(path) => self.source.fault(&path, found, allowed),
                None => FormError::new(&wanted.source, found, allowed).of_kind(FormErrorKind::Form),
            }
        };
        let bits = bits_per_pixel(&quiet).map_err(unfit)?;
        let picture = self.named_by(named_by, art::in_colours_of(&image, &wanted, adapter, registers, &quiet, bits))?;
        Ok(Some(Art { picture, at: wanted.at, column: wanted.column, scroll: wanted.scroll }))
    }
}
