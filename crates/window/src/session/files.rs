//! Files of a session: read again when they change, and written on request.

use std::path::{Path, PathBuf};

use backporch_bench::{BenchFile, MouseRef, Overrides};
use backporch_drive::is_lone_program;
use backporch_input::{InputError, write_whole};
use backporch_picture::write::png;
use image::RgbImage;

use super::Session;
use super::file_watch::FileWatch;
use super::live_driver::LiveProgram;
use super::noting::{counted, names_sightings};
use super::photograph::{PhotographBeside, names_photograph};
use super::recorder::FrameRecorder;
use super::sighting_notes::SightingNotes;

/// Names tried for a new file before giving up.
const MOST_NUMBERED: u32 = 10_000;

/// Seconds from one look at the files to the next.
const LOOK_EVERY_S: f64 = 1.0;

/// The files a session reads and writes.
#[derive(Debug)]
pub struct SessionFiles {
    pub(super) watch: FileWatch,
    looked_at_s: f64,
    /// Where files are written.
    pub(super) folder: PathBuf,
    pub(super) recorder: Option<FrameRecorder>,
    pub(super) problem: Option<InputError>,
}

/// What would be lost if a session were to end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unsaved {
    /// Sightings, where some of them are in no file.
    pub sightings: usize,
    /// Frames of a recording under way.
    pub frames: usize,
}

impl Unsaved {
    /// Whether nothing would be.
    #[must_use]
    pub fn is_nothing(self) -> bool {
        self == Self::default()
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> String {
        let sightings = (self.sightings > 0).then(|| counted(self.sightings));
        let frames = match self.frames {
            0 => None,
            1 => Some("a recording of 1 frame".to_string()),
            frames => Some(format!("a recording of {frames} frames")),
        };
        let both: Vec<String> = [sightings, frames].into_iter().flatten().collect();
        both.join(" and ")
    }
}

impl SessionFiles {
    pub(super) fn new(watch: FileWatch) -> Self {
        Self { watch, looked_at_s: 0.0, folder: PathBuf::from("."), recorder: None, problem: None }
    }

    /// What the last file read again was refused for, until it is mended.
    #[must_use]
    pub fn problem(&self) -> Option<&InputError> {
        self.problem.as_ref()
    }

    /// Frames recorded so far, while recording.
    #[must_use]
    pub fn recorded(&self) -> Option<usize> {
        self.recorder.as_ref().map(FrameRecorder::len)
    }

    /// Whether it is time to look at the files again; seconds count from any start.
    pub(super) fn is_look_due(&mut self, now_s: f64) -> bool {
        let due = now_s - self.looked_at_s >= LOOK_EVERY_S || now_s < self.looked_at_s;
        if due {
            self.looked_at_s = now_s;
        }
        due
    }

    /// A path for a new file: the bench's name, and a number where that is taken.
    pub(super) fn free_name(&self, bench: &str, ending: &str) -> PathBuf {
        let name = Path::new(bench).file_name().map_or_else(|| "bench".into(), |name| name.to_string_lossy());
        let stem = name.split('.').next().filter(|stem| !stem.is_empty()).unwrap_or("bench").to_string();
        let numbered = |number: u32| self.folder.join(format!("{stem}-{number}{ending}"));
        (1..MOST_NUMBERED).map(numbered).find(|path| !path.exists()).unwrap_or_else(|| numbered(MOST_NUMBERED))
    }
}

impl Session {
    /// Reads the bench again where one of its files changed.
    pub fn look_at_files(&mut self) {
        if self.files.watch.changed() {
            self.reload();
        }
    }

    /// Reads the bench's files again. Where they cannot be read, everything stays.
    pub fn reload(&mut self) {
        let overrides = self.setup.overrides.clone();
        if self.reopen(&self.setup.name.clone(), &overrides) {
            self.report(format!("read {} again{}", self.setup.name, self.carried.words()));
        }
    }

    /// Opens another bench, with nothing laid over it, or sightings with their bench; a program runs on
    /// the open bench. Sightings noted of one bench are none of another: they go with it.
    pub fn open_another(&mut self, name: &str) {
        if names_sightings(name) {
            self.open_sightings(name);
            return;
        }
        if names_photograph(name) {
            self.open_photograph(name);
            return;
        }
        if is_lone_program(name) {
            let overrides = Overrides { routine: Some(name.to_string()), ..self.setup.overrides.clone() };
            if self.reopen(&self.setup.name.clone(), &overrides) {
                self.report(format!("{name} drives the board{}", self.carried.words()));
            }
            return;
        }
        let is_another = name != self.setup.name;
        if self.reopen(name, &Overrides::default()) {
            if is_another {
                self.findings.notes = SightingNotes::default();
                self.photograph = PhotographBeside::default();
                self.take_sightings_of_case(name);
            }
            let noted = self.findings.notes.noted().len();
            let along = if is_another && noted > 0 { format!(" with {}", counted(noted)) } else { String::new() };
            self.report(format!("opened {name}{along}{}", self.carried.words()));
        }
    }

    /// What would be lost if the session were to end now.
    #[must_use]
    pub fn unsaved(&self) -> Unsaved {
        let notes = self.findings.notes();
        Unsaved {
            sightings: if notes.unsaved() { notes.noted().len() } else { 0 },
            frames: self.files.recorded().unwrap_or(0),
        }
    }

    /// Saves the sightings and the recording under way that no file has yet; `false` where one of them
    /// cannot be written, and the message says why.
    pub fn save_unsaved(&mut self) -> bool {
        if self.findings.notes.unsaved() {
            self.save_sightings();
        }
        let sightings_are_safe = !self.findings.notes.unsaved();
        sightings_are_safe && (self.unsaved().frames == 0 || self.end_recording())
    }

    /// What was set up, as a bench file, with the keys pressed and the mouse moved so far.
    #[must_use]
    pub fn bench_file(&self) -> BenchFile {
        let quirks = self.quirks.on().map(|fitted| fitted.written.clone()).collect();
        let boards = self.transport.boards();
        let mut file = self.setup.to_file(&boards.intended, quirks);
        file.machine.keys.extend(boards.program().into_iter().flat_map(LiveProgram::typed));
        let moved = boards.program().map(LiveProgram::moved).unwrap_or_default();
        let is_idle = moved.iter().all(|MouseRef(_, right, down, buttons)| (*right, *down, *buttons) == (0, 0, 0));
        if !is_idle || file.machine.mouse.is_empty() {
            file.machine.mouse.extend(moved);
        }
        file
    }

    pub(crate) fn save_bench(&mut self) {
        let text = self.bench_file().to_text();
        self.write_new_file("bench", ".bench.ron", |_| Ok(text.into_bytes()));
    }

    pub(crate) fn save_sightings(&mut self) {
        if self.findings.notes.noted().is_empty() {
            self.report("nothing is noted: there are no sightings to save");
            return;
        }
        let text = self.sightings_text();
        if self.write_new_file("sightings", ".sightings.ron", |_| Ok(text.into_bytes())) {
            self.findings.notes.saved();
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
        match self.files.recorder.take() {
            None => {
                self.files.recorder = Some(FrameRecorder::default());
                self.report("recording the frames shown");
            }
            Some(recorder) => {
                self.files.recorder = Some(recorder);
                self.end_recording();
            }
        }
    }

    /// Ends the recording under way and writes it; one that cannot be written stays, unless nothing is on it.
    fn end_recording(&mut self) -> bool {
        let Some(recorder) = self.files.recorder.take() else {
            return true;
        };
        let rate = self.frame_rate_hz();
        let written = self.write_new_file("recording", ".png", |_| recorder.apng(rate));
        if !written && recorder.len() > 0 {
            self.files.recorder = Some(recorder);
        }
        written
    }

    /// Takes the frame shown onto the recording under way.
    pub(crate) fn capture(&mut self) {
        if self.files.recorder.is_none() {
            return;
        }
        let canvas = self.canvas(false);
        let frame = self.transport.frame_shown();
        if let Some(recorder) = &mut self.files.recorder {
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
        self.files.free_name(&self.setup.name, ending)
    }
}
