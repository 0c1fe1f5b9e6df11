//! The set-up of a session: its bench, and how the bench was written.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_bench::{Bench, BenchFile, MachineRef, Overrides, QuirkRef, source_of};
use backporch_drive::{files_of, is_built_in_routine};
use backporch_input::{InputError, Number, parse};
use backporch_script::CpuModel;
use backporch_signal::Monitor;

use super::board_pair::BoardPair;
use super::file_watch::FileWatch;
use super::fitted_quirks::FittedQuirks;
use super::live_driver::LiveDriver;
use super::paths::{absolute_name, folder_of};

/// The bench on which a session works.
#[derive(Debug)]
pub(crate) struct SessionSetup {
    /// Name or path the bench was opened by.
    pub name: String,
    /// What is to be different from the file.
    pub overrides: Overrides,
    /// The file as it was written.
    pub file: BenchFile,
    /// The bench, with the quirks that are switched on.
    pub bench: Bench,
    /// Registers as the file alone sets them: what sightings are compared with.
    as_filed: Registers,
}

/// A bench just read, and everything a session begins with.
pub(crate) struct Opened {
    pub setup: SessionSetup,
    pub quirks: FittedQuirks,
    pub watch: FileWatch,
    pub boards: BoardPair,
}

impl Opened {
    /// Reads and checks a bench and sets its boards up.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn read(name: &str, overrides: &Overrides) -> Result<Self, InputError> {
        let bench = Bench::open(name, overrides)?;
        let file: BenchFile = parse(&source_of(name)?)?;
        let quirks = FittedQuirks::of(&bench, &file, overrides, &folder_of(name));
        let watch = FileWatch::new(files_of(name, &file, overrides));
        let board_alone = Overrides { board: overrides.board.clone(), ..Overrides::default() };
        let as_filed = Bench::open(name, &board_alone)
            .map_or_else(|_| bench.registers().clone(), |filed| filed.registers().clone());
        let boards = BoardPair::new(&bench, Arc::new(quirks.clone()), LiveDriver::of(&bench)?);
        let setup = SessionSetup { name: name.to_string(), overrides: overrides.clone(), file, bench, as_filed };
        Ok(Self { setup, quirks, watch, boards })
    }
}

impl SessionSetup {
    /// The folder that paths in the bench are taken from.
    pub fn folder(&self) -> PathBuf {
        folder_of(&self.name)
    }

    /// Registers that differ from those of the file alone, as sightings name them.
    pub fn differing_from_file(&self, registers: &Registers) -> BTreeMap<String, Number> {
        backporch_bench::differing(self.bench.adapter(), registers, &self.as_filed)
    }

    /// What was set up, as a bench file that can be written anywhere.
    pub fn to_file(&self, registers: &Registers, quirks: Vec<QuirkRef>) -> BenchFile {
        let (file, overrides, folder) = (&self.file, &self.overrides, self.folder());
        // A override_name stands in place of what the file names; its path is taken from the working folder.
        let named = |override_name: Option<&str>, filed: Option<&String>, is_built_in: &dyn Fn(&str) -> bool| {
            match override_name {
                Some(name) => Some(absolute_name(name, Path::new(""), is_built_in(name))),
                None => filed.map(|name| absolute_name(name, &folder, is_built_in(name))),
            }
        };
        let is_adapter = |name: &str| Adapter::built_in(name).is_some();
        let is_monitor = |name: &str| Monitor::built_in(name).is_some();
        let is_cpu = |name: &str| CpuModel::built_in(name).is_some();
        let adapter = named(overrides.board.as_deref(), Some(&file.adapter), &is_adapter);
        let mut picture = file.picture.clone();
        if let Some(picture) = &mut picture {
            let override_name = overrides.picture.as_ref().map(|path| path.to_string_lossy());
            let is_demo = |name: &str| override_name.is_none() && name == "harbour";
            let source = named(override_name.as_deref(), Some(&picture.source), &is_demo);
            picture.source = source.unwrap_or_default();
        }
        let start_up = self.bench.adapter().start_up(self.bench.mode());
        BenchFile {
            version: file.version,
            title: file.title.clone(),
            adapter: adapter.unwrap_or_default(),
            mode: Some(self.bench.mode().name.clone()),
            registers: backporch_bench::differing(self.bench.adapter(), registers, &start_up),
            plain: file.plain || overrides.plain,
            quirks,
            picture,
            memory: named(None, file.memory.as_ref(), &|_| false),
            routine: named(overrides.routine.as_deref(), file.routine.as_ref(), &is_built_in_routine),
            cpu: named(overrides.cpu.as_deref(), file.cpu.as_ref(), &is_cpu),
            machine: MachineRef {
                folder: named(None, file.machine.folder.as_ref(), &|_| false),
                ..file.machine.clone()
            },
            monitor: named(overrides.monitor.as_deref(), file.monitor.as_ref(), &is_monitor),
            seed: self.bench.seed(),
        }
    }
}
