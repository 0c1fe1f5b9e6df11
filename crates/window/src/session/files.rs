//! Files of a session: read again when they change, and written on request.

use std::path::{Path, PathBuf};

use backporch_adapter::Adapter;
use backporch_bench::{BenchFile, MachineRef, Overrides};
use backporch_drive::{is_built_in_routine, is_lone_program};
use backporch_input::{InputError, write_whole};
use backporch_picture::write::png;
use backporch_quirk::Family;
use backporch_script::CpuModel;
use backporch_signal::Monitor;
use image::RgbImage;

use super::absolute_name::absolute_name;
use super::recorder::Recorder;
use super::{Session, folder_of};

/// Names tried for a new file before giving up.
const MOST_NUMBERED: u32 = 10_000;

/// Every file a bench is made of.
pub(crate) fn files_of(name: &str, file: &BenchFile, overrides: &Overrides) -> Vec<PathBuf> {
    let folder = folder_of(name);
    let mut files = Vec::new();
    if backporch_bench::built_in(name).is_none() {
        files.push(PathBuf::from(name));
    }
    let mut beside = |name: &str, built_in: bool| {
        if !built_in {
            files.push(folder.join(name));
        }
    };
    beside(&file.adapter, Adapter::built_in(&file.adapter).is_some());
    file.quirks.iter().for_each(|quirk| beside(&quirk.name, Family::built_in(&quirk.name).is_some()));
    file.picture.iter().for_each(|picture| beside(&picture.source, picture.source == "harbour"));
    file.memory.iter().for_each(|name| beside(name, false));
    file.routine.iter().for_each(|name| beside(name, is_built_in_routine(name)));
    file.monitor.iter().for_each(|name| beside(name, Monitor::built_in(name).is_some()));
    let wished = overrides.quirks.iter().filter(|name| Family::built_in(name).is_none()).map(PathBuf::from);
    let pictured = overrides.picture.iter().cloned();
    let routine = overrides.routine.iter().filter(|name| !is_built_in_routine(name)).map(PathBuf::from);
    files.extend(wished.chain(pictured).chain(routine));
    files
}

impl Session {
    /// Reads the bench again where one of its files changed.
    pub fn look_at_files(&mut self) {
        if self.watch.changed() {
            self.reload();
        }
    }

    /// Reads the bench's files again. Where they cannot be read, everything stays.
    pub fn reload(&mut self) {
        let overrides = self.overrides.clone();
        if self.reopen(&self.name.clone(), &overrides) {
            self.report(format!("read {} again", self.name));
        }
    }

    /// Opens another bench, with nothing laid over it; a program runs on the bench at active.
    pub fn open_another(&mut self, name: &str) {
        if is_lone_program(name) {
            let overrides = Overrides { routine: Some(name.to_string()), ..self.overrides.clone() };
            if self.reopen(&self.name.clone(), &overrides) {
                self.report(format!("{name} drives the board"));
            }
            return;
        }
        if self.reopen(name, &Overrides::default()) {
            self.report(format!("opened {name}"));
        }
    }

    /// What was set up, as a bench file.
    #[must_use]
    pub fn bench_file(&self) -> BenchFile {
        let folder = folder_of(&self.name);
        let named = |name: &str, built_in: bool| absolute_name(name, &folder, built_in);
        let adapter = match &self.overrides.board {
            Some(board) => absolute_name(board, Path::new(""), Adapter::built_in(board).is_some()),
            None => named(&self.file.adapter, Adapter::built_in(&self.file.adapter).is_some()),
        };
        let monitor = match &self.overrides.monitor {
            Some(monitor) => Some(absolute_name(monitor, Path::new(""), Monitor::built_in(monitor).is_some())),
            None => self.file.monitor.as_ref().map(|name| named(name, Monitor::built_in(name).is_some())),
        };
        let mut picture = self.file.picture.clone();
        if let Some(picture) = &mut picture {
            picture.source = match &self.overrides.picture {
                Some(path) => absolute_name(&path.to_string_lossy(), Path::new(""), false),
                None => named(&picture.source, picture.source == "harbour"),
            };
        }
        BenchFile {
            version: self.file.version,
            title: self.file.title.clone(),
            adapter,
            mode: Some(self.bench.mode().name.clone()),
            registers: self.differing_from(&self.bench.adapter().start_up(self.bench.mode())),
            quirks: self.fitted_quirks.iter().filter(|fitted| fitted.on).map(|fitted| fitted.written.clone()).collect(),
            picture,
            memory: self.file.memory.as_ref().map(|name| named(name, false)),
            routine: match &self.overrides.routine {
                Some(name) => Some(absolute_name(name, Path::new(""), is_built_in_routine(name))),
                None => self.file.routine.as_ref().map(|name| named(name, is_built_in_routine(name))),
            },
            cpu: match &self.overrides.cpu {
                Some(name) => Some(absolute_name(name, Path::new(""), CpuModel::built_in(name).is_some())),
                None => self.file.cpu.as_ref().map(|name| named(name, CpuModel::built_in(name).is_some())),
            },
            machine: MachineRef {
                folder: self.file.machine.folder.as_ref().map(|name| named(name, false)),
                ..self.file.machine.clone()
            },
            monitor,
            seed: self.bench.seed(),
        }
    }

    pub(crate) fn save_bench(&mut self) {
        let text = self.bench_file().to_text();
        self.write_new_file("bench", ".bench.ron", |_| Ok(text.into_bytes()));
    }

    pub(crate) fn save_sightings(&mut self) {
        if self.notes.noted().is_empty() {
            self.report("nothing is noted: there are no sightings to save");
            return;
        }
        let text = self.sightings_text();
        if self.write_new_file("sightings", ".sightings.ron", |_| Ok(text.into_bytes())) {
            self.notes.saved();
        }
    }

    /// Keeps the canvas as it is as a PNG.
    pub(crate) fn save_picture(&mut self) {
        self.write_new_file("picture", ".png", |session| {
            let canvas = session.canvas(false);
            let pixel = |x: u32, y: u32| {
                let [red, green, blue, _] = canvas.rgba[(y * canvas.width + x) as usize];
                image::Rgb([red, green, blue])
            };
            let image = RgbImage::from_fn(canvas.width, canvas.height, pixel);
            png(&image).map_err(|error| InputError::new("picture", error, "a picture with pixels"))
        });
    }

    /// Begins to record the frames shown, or ends and writes them.
    pub(crate) fn record(&mut self) {
        match self.recorder.take() {
            None => {
                self.recorder = Some(Recorder::default());
                self.report("recording the frames shown");
            }
            Some(recorder) => {
                let rate = self.frame_rate_hz();
                self.write_new_file("recording", ".png", |_| recorder.apng(rate));
            }
        }
    }

    /// Frames recorded so far, while recording.
    #[must_use]
    pub fn recorded(&self) -> Option<usize> {
        self.recorder.as_ref().map(Recorder::len)
    }

    /// Takes the frame shown onto the recording under way.
    pub(crate) fn capture(&mut self) {
        if self.recorder.is_none() {
            return;
        }
        let canvas = self.canvas(false);
        let frame = self.frame_shown();
        if let Some(recorder) = &mut self.recorder {
            recorder.take(frame, canvas);
        }
    }

    /// Writes a file under a name not taken yet, and says where it lies.
    fn write_new_file(
        &mut self,
        what: &str,
        ending: &str,
        bytes: impl FnOnce(&Self) -> Result<Vec<u8>, InputError>,
    ) -> bool {
        let written = bytes(self).and_then(|bytes| {
            let path = self.free_name(ending);
            write_whole(&path, &bytes).map(|()| path)
        });
        match written {
            Ok(path) => {
                self.report(format!("{what}: {}", path.display()));
                true
            }
            Err(error) => {
                self.report(error.to_string());
                false
            }
        }
    }

    /// A path for a new file: the bench's name, and a number where that is taken.
    #[must_use]
    pub fn free_name(&self, ending: &str) -> PathBuf {
        let name = Path::new(&self.name).file_name().map_or_else(|| "bench".into(), |name| name.to_string_lossy());
        let stem = name.split('.').next().filter(|stem| !stem.is_empty()).unwrap_or("bench").to_string();
        let numbered = |number: u32| self.out.join(format!("{stem}-{number}{ending}"));
        (1..MOST_NUMBERED).map(numbered).find(|path| !path.exists()).unwrap_or_else(|| numbered(MOST_NUMBERED))
    }
}
