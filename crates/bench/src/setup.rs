//! Setting a bench up: the bench file, with the command line's overrides laid over it.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::{Adapter, Mode, Registers};
use backporch_input::{Case, InputError, InputErrorKind, Source, file_on_disk, parse, read_bytes};
use backporch_picture::lay::{LayError, bits_per_pixel};
use backporch_quirk::{Layers, Quirk};
use backporch_raster::{Plain, QuietFrame};

use crate::art::{self, Art};
use crate::bench::{Bench, Overrides, unknown_register};
use crate::built_in::BENCHES;
use crate::file::{BenchFile, PictureRef};
use crate::library::{Library, folder_of};
use crate::named::{DriverSettings, Named};
use crate::overlay::OverlayReader;
use crate::resource::Resource;

impl Bench {
    /// Reads the bench of that name: built in, or the path of a file or of a case.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str, overrides: &Overrides) -> Result<Self, InputError> {
        let source = source_of(name)?;
        Self::from_source(&source, name, &Library::beside(folder_of_bench(name)), overrides)
    }

    /// Sets a bench up from its text; what it names is looked up in `library`,
    /// what `overrides` name in the working folder.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(
        source: &Source,
        name: &str,
        library: &Library,
        overrides: &Overrides,
    ) -> Result<Self, InputError> {
        let file: BenchFile = parse(source)?;
        Setup { source, library, here: Library::default(), overrides }.bench(name, file)
    }
}

/// The text of the bench of that name.
///
/// # Errors
/// Where there is none, or no case that holds together.
pub fn source_of(name: &str) -> Result<Source, InputError> {
    BENCHES.open(&file_of(name)?, Path::new("")).map_err(|error| match error.kind() {
        // What exists and is no text may be a program.
        InputErrorKind::Unreadable if error.line().is_some() => {
            error.with_help(format!("a real-mode program is run by: backporch run {name}"))
        }
        _ => error,
    })
}

/// The case of that name, where it is one.
///
/// # Errors
/// Where it does not hold together.
pub fn case_of_bench(name: &str) -> Result<Option<Case>, InputError> {
    let path = Path::new(name);
    if BENCHES.contains(name) || !Case::is_case(path) { Ok(None) } else { Case::open(path).map(Some) }
}

/// The name of a bench by itself: of a case, that of the bench file in it.
fn file_of(name: &str) -> Result<Cow<'_, str>, InputError> {
    let case = case_of_bench(name)?;
    Ok(case.map_or(Cow::Borrowed(name), |case| Cow::Owned(case.bench().to_string_lossy().into_owned())))
}

/// Every file that the bench of that name is made of, with what `overrides` lay over it: to be watched for changes.
#[must_use]
pub fn files_of(name: &str, file: &BenchFile, overrides: &Overrides) -> Vec<PathBuf> {
    let own = (!BENCHES.contains(name)).then(|| PathBuf::from(name));
    let named = file.resources(&Library::beside(folder_of_bench(name)), overrides);
    own.into_iter().chain(named.iter().filter_map(Resource::path)).map(|path| file_on_disk(&path)).collect()
}

/// The folder that the paths in a bench are taken from: its own, or for a built-in one the working folder.
#[must_use]
pub fn folder_of_bench(name: &str) -> PathBuf {
    match file_of(name) {
        _ if BENCHES.contains(name) => PathBuf::new(),
        Ok(file) => folder_of(Path::new(file.as_ref())),
        // A case that cannot be opened has nothing beside it.
        Err(_) => PathBuf::from(name),
    }
}

/// One bench being set up.
struct Setup<'a> {
    pub source: &'a Source,
    pub library: &'a Library,
    pub here: Library,
    pub overrides: &'a Overrides,
}

/// An error met while looking up what an option names, blamed on the option.
fn by_option<T>(option: &str, result: Result<T, InputError>) -> Result<T, InputError> {
    result.map_err(|error| error.by_option(option))
}

/// The frame a mode shows as it starts up.
fn quiet_of(adapter: &Adapter, mode: &Mode) -> QuietFrame {
    QuietFrame::new(adapter, &adapter.start_up(mode), &Plain)
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
    pub fn bench(&self, name: &str, file: BenchFile) -> Result<Bench, InputError> {
        let overrides = self.overrides;
        let mut notes = self.outside(&file)?;
        let of_file = self.at(&["adapter"], self.library.adapter(&file.adapter))?;
        let adapter = match &overrides.board {
            Some(board) => by_option("--board", self.here.adapter(board))?,
            None => Arc::clone(&of_file),
        };
        let moved = adapter.name() != of_file.name();
        let mode = self.mode(&file, &adapter, moved, &mut notes)?;
        let mut registers = adapter.start_up(&mode);
        self.registers(&file, &of_file, &adapter, &mut registers, &mut notes)?;
        let layers = Layers::new(&adapter, self.quirks(&file)?, file.seed)?;
        let layers = if overrides.plain || file.plain { layers.without_design() } else { layers };
        let monitor = match (&overrides.monitor, &file.monitor) {
            (Some(name), _) => Some(by_option("--monitor", self.here.monitor(name))?),
            (None, Some(name)) => Some(self.at(&["monitor"], self.library.monitor(name))?),
            (None, None) => None,
        };
        let mut base_memory = self.memory(&file, &adapter, &registers)?;
        let art = self.art(&file, &adapter, &mode, &mut registers)?;
        let overlays = OverlayReader {
            source: self.source,
            library: self.library,
            adapter: &adapter,
            registers: &registers,
            quiet: &QuietFrame::new(&adapter, &registers, &Plain),
            lines: quiet_of(&adapter, &mode).picture_lines(),
            is_own_board: !moved,
        };
        let overlays = overlays.bytes(&file.overlays)?;
        if art.is_none() {
            overlays.iter().for_each(|byte| byte.write(&mut base_memory));
        }
        let driver = self.driver(&file);
        Ok(Bench {
            name: name.to_string(),
            title: file.title,
            mode,
            registers,
            layers,
            art,
            base_memory,
            overlays,
            monitor,
            driver,
            notes,
            adapter,
            is_test_card: false,
        })
    }

    /// What the bench reads from outside its folder, in words; refuses what was not asked for.
    fn outside(&self, file: &BenchFile) -> Result<Vec<String>, InputError> {
        let named = file.resources(self.library, self.overrides);
        let outside = named.iter().filter(|one| one.is_outside());
        outside
            .map(|one| {
                one.check_outside(self.source, &self.overrides.allow)?;
                Ok(format!("{} was read from outside the bench's folder", one.name))
            })
            .collect()
    }

    /// What drives the board; it is read when it is asked for.
    fn driver(&self, file: &BenchFile) -> DriverSettings {
        let named = |wished: &Option<String>, written: &Option<String>, field| {
            let of =
                |name: &String, library: &Library, field| Named { name: name.clone(), library: library.clone(), field };
            match (wished, written) {
                (Some(name), _) => Some(of(name, &self.here, None)),
                (None, Some(name)) => Some(of(name, self.library, Some(field))),
                (None, None) => None,
            }
        };
        DriverSettings {
            source: Arc::new(self.source.clone()),
            routine: named(&self.overrides.routine, &file.routine, "routine"),
            cpu: named(&self.overrides.cpu, &file.cpu, "cpu"),
            machine: file.machine.clone(),
            library: self.library.clone(),
        }
    }

    /// Places an error met while looking something up at the field that named it.
    fn at<T>(&self, path: &[&str], result: Result<T, InputError>) -> Result<T, InputError> {
        result.map_err(|error| self.source.at_field(path, error))
    }

    /// The same, where a field of the bench file named it.
    fn named_by<T>(&self, path: Option<[&str; 2]>, result: Result<T, InputError>) -> Result<T, InputError> {
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
    ) -> Result<Mode, InputError> {
        let names = || adapter.profile().modes.iter().map(|mode| mode.name.as_str()).collect::<Vec<_>>().join(", ");
        if let Some(name) = &self.overrides.mode {
            let found = adapter.mode(name).cloned();
            let known = adapter.profile().modes.iter().map(|mode| mode.name.as_str());
            return found.ok_or_else(|| InputError::new("--mode", name, names()).with_nearest(name, known));
        }
        let Some(name) = &file.mode else {
            return Ok(adapter.default_mode().clone());
        };
        match adapter.mode(name) {
            Some(mode) => Ok(mode.clone()),
            None if moved => {
                let mode = counterpart(adapter, file.picture.is_some() || !file.overlays.is_empty()).clone();
                notes.push(format!("{} has no mode {name}; it runs {}", adapter.name(), mode.name));
                Ok(mode)
            }
            None => {
                let known = adapter.profile().modes.iter().map(|mode| mode.name.as_str());
                Err(self.source.fault(&["mode"], name, names()).with_nearest(name, known))
            }
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
    ) -> Result<(), InputError> {
        for (name, value) in &file.registers {
            let path = ["registers", name.as_str()];
            let written = of_file.field(name).ok_or_else(|| unknown_register(of_file, name));
            let written = self.at(&path, written)?;
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
        let named = |(name, value): &(String, u64)| {
            Ok((adapter.field(name).ok_or_else(|| unknown_register(adapter, name))?, *value))
        };
        let start = self.overrides.start.map(|start| Ok((adapter.start_address(), start)));
        for wish in self.overrides.set.iter().map(named).chain(start) {
            let (field, value) = wish?;
            adapter.set(registers, field, value).map_err(|error| {
                InputError::new("--set", error.found, format!("0..={}", error.max)).in_field(&error.field)
            })?;
        }
        Ok(())
    }

    fn quirks(&self, file: &BenchFile) -> Result<Vec<Quirk>, InputError> {
        let mut quirks = Vec::new();
        let of_file = if self.overrides.no_quirks { &[] } else { file.quirks.as_slice() };
        for (position, quirk) in of_file.iter().enumerate() {
            let position = position.to_string();
            let family = self.at(&["quirks", &position, "name"], self.library.family(&quirk.name))?;
            let closed = family.close(&quirk.parameters);
            quirks.push(self.at(&["quirks", &position, "parameters"], closed)?);
        }
        for name in &self.overrides.quirks {
            let family = by_option("--quirk", self.here.family(name))?;
            let closed = family.close(&BTreeMap::new());
            quirks.push(closed.map_err(|error| InputError::new(name, error.found(), error.allowed()))?);
        }
        Ok(quirks)
    }

    fn memory(&self, file: &BenchFile, adapter: &Adapter, registers: &Registers) -> Result<Vec<u8>, InputError> {
        let bytes = adapter.memory().bytes as usize;
        let mut memory = adapter.memory_at_start(registers);
        if let Some(name) = &file.memory {
            let image = self.at(&["memory"], read_bytes(&self.library.path(name), bytes as u64))?;
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
    ) -> Result<Option<Art>, InputError> {
        let quiet = QuietFrame::new(adapter, registers, &Plain);
        let from_file = file.picture.clone();
        let (wanted, library, named_by) = match &self.overrides.picture {
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
                None => InputError::new(&wanted.source, found, allowed).of_kind(InputErrorKind::Form),
            }
        };
        let bits = bits_per_pixel(&quiet).map_err(unfit)?;
        let picture = self.named_by(named_by, art::in_colours_of(&image, &wanted, adapter, registers, &quiet, bits))?;
        Ok(Some(Art { picture, at: wanted.at, column: wanted.column, scroll: wanted.scroll }))
    }
}
