//! The session: everything the window shows and does, without a window.
//!
//! A session holds one bench with its healthy and its faulty board in lock
//! step, the history of what was done to them, the active register, and what was
//! noted. The panels read it and ask it for [`Command`]s; time comes in through
//! [`Session::tick`]. Nothing here knows of a display, so all of it is tested
//! without one.
//!
//! ```text
//! bench file ─► Bench ─► BoardPair ◄─ History (actions, snapshots)
//!                           │                 ▲
//!                           ▼                 │ Command, register edits, quirks
//!            Canvas, Damage, InspectedPixel, MemoryMap, Thumbnails ─► panels
//! ```

mod absolute_name;
mod active_register;
mod background;
mod board_pair;
mod breakpoint;
pub(crate) mod canvas;
mod diagnosis;
mod file_watch;
mod files;
mod fitted_quirks;
mod hazards;
mod history;
mod live_driver;
mod memory;
mod pace;
mod pixel_inspector;
mod program;
mod recorder;
mod registers;
mod routine;
mod setting;
mod sighting_notes;
pub(crate) mod stop_condition;
#[cfg(test)]
mod tests;
mod thumbnails;
mod timeline;
mod transport;
mod view;
mod workarounds;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_analysis::{Damage, PredictionCache};
use backporch_bench::{Bench, BenchFile, Overrides};
use backporch_input::{InputError, Number, Source, parse};
use backporch_raster::{Span, View};

pub use active_register::ActiveRegister;
pub use canvas::{BoardView, Canvas, Side, Tile};
pub use diagnosis::{Findings, ProbeRow, SuspectRow};
pub use file_watch::FileWatch;
pub use fitted_quirks::FittedQuirk;
pub use hazards::HazardCount;
pub use memory::{MapRows, MemoryCoverage, MemoryMap, OutlineEdge};
pub use pace::{Lateness, Pace, SLOWNESS};
pub use pixel_inspector::{InspectedPixel, PixelRun, shown_at};
pub use program::{Listing, ProgramState, ProgramView};
pub use registers::RegisterRow;
pub use routine::RoutineView;
pub use setting::WritePath;
pub use sighting_notes::{Sighting, SightingNotes};
pub use stop_condition::StopCondition;
pub use thumbnails::{THUMBNAIL_COUNT, Thumbnail, Thumbnails};
pub use timeline::FrameTimeline;
pub use view::SignalView;
pub use workarounds::{Workaround, Workarounds};

use crate::command::Command;
use background::BackgroundTask;
use board_pair::{Action, BoardPair};
use history::History;
use live_driver::LiveDriver;
use recorder::Recorder;
use stop_condition::Wait;

/// One bench, live.
#[derive(Debug)]
pub struct Session {
    name: String,
    overrides: Overrides,
    file: BenchFile,
    bench: Bench,
    as_filed: Registers,
    fitted_quirks: Vec<FittedQuirk>,
    history: History,
    damage: Damage,
    timeline: FrameTimeline,
    active: ActiveRegister,
    thumbnails: Thumbnails,
    board_view: BoardView,
    view: View,
    rows: MapRows,
    running: bool,
    wait: Option<Wait>,
    goal: Option<u64>,
    pace: Pace,
    pending: Vec<Action>,
    notes: SightingNotes,
    search: BackgroundTask<Workarounds>,
    findings: BackgroundTask<Findings>,
    predictions: Arc<PredictionCache>,
    workarounds_tried: usize,
    inspected: Option<InspectedPixel>,
    fetched: Vec<Span>,
    coverage: MemoryCoverage,
    newly_shown: MemoryCoverage,
    recorder: Option<Recorder>,
    watch: FileWatch,
    looked_at_files_s: f64,
    out: PathBuf,
    problem: Option<InputError>,
    message: Option<String>,
    revision: u64,
    memory_revision: u64,
}

/// A bench read and checked, with what a session keeps of how it was written.
struct Opened {
    file: BenchFile,
    bench: Bench,
    /// Registers as the file alone sets them: what sightings are compared with.
    as_filed: Registers,
    driver: Option<LiveDriver>,
    fitted_quirks: Vec<FittedQuirk>,
    watch: FileWatch,
}

impl Opened {
    fn read(name: &str, overrides: &Overrides) -> Result<Self, InputError> {
        let bench = Bench::open(name, overrides)?;
        let source = match backporch_bench::built_in(name) {
            Some(source) => source,
            None => Source::read(Path::new(name))?,
        };
        let file: BenchFile = parse(&source)?;
        let fitted_quirks = fitted_quirks::fitted(&bench, &file, overrides, &folder_of(name));
        let watch = FileWatch::new(files::files_of(name, &file, overrides));
        let board_alone = Overrides { board: overrides.board.clone(), ..Overrides::default() };
        let as_filed = Bench::open(name, &board_alone)
            .map_or_else(|_| bench.registers().clone(), |filed| filed.registers().clone());
        let driver = LiveDriver::of(&bench)?;
        Ok(Self { file, bench, as_filed, driver, fitted_quirks, watch })
    }
}

/// The folder that paths in a bench are taken from; the working folder for one that is built in.
pub(crate) fn folder_of(name: &str) -> PathBuf {
    match backporch_bench::built_in(name) {
        Some(_) => PathBuf::new(),
        None => Path::new(name).parent().map(Path::to_path_buf).unwrap_or_default(),
    }
}

impl Session {
    /// Opens a bench and shows its first frame, paused.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str, overrides: &Overrides) -> Result<Self, InputError> {
        let Opened { file, bench, as_filed, driver, fitted_quirks, watch } = Opened::read(name, overrides)?;
        let field = bench.adapter().start_address();
        let info = bench.adapter().field_info(field);
        let value = bench.adapter().get(bench.registers(), field);
        let active = ActiveRegister::new(field, &info.name, info.max(), value);
        let history = History::new(BoardPair::new(&bench, driver));
        let mut session = Self {
            name: name.to_string(),
            overrides: overrides.clone(),
            file,
            bench,
            as_filed,
            fitted_quirks,
            history,
            damage: Damage::default(),
            timeline: FrameTimeline::default(),
            active,
            thumbnails: Thumbnails::default(),
            board_view: BoardView::default(),
            view: View::Picture,
            rows: MapRows::default(),
            running: false,
            wait: None,
            goal: None,
            pace: Pace::new(60.0),
            pending: Vec::new(),
            notes: SightingNotes::default(),
            search: BackgroundTask::default(),
            findings: BackgroundTask::default(),
            predictions: Arc::default(),
            workarounds_tried: 0,
            inspected: None,
            fetched: Vec::new(),
            coverage: MemoryCoverage::default(),
            newly_shown: MemoryCoverage::default(),
            recorder: None,
            watch,
            looked_at_files_s: 0.0,
            out: PathBuf::from("."),
            problem: None,
            message: None,
            revision: 0,
            memory_revision: 0,
        };
        session.report_bench_notes();
        session.start();
        Ok(session)
    }

    /// Shows the first frame of boards just made.
    fn start(&mut self) {
        self.history.finish_frame(&self.bench);
        self.tell_end(Some(ProgramState::Runs));
        self.fetched.clear();
        self.timeline = FrameTimeline::default();
        self.coverage = MemoryCoverage::default();
        self.newly_shown = MemoryCoverage::default();
        self.inspected = None;
        self.memory_revision += 1;
        self.thumbnails.clear();
        self.search = BackgroundTask::Idle;
        self.refresh();
        // The first value is settled from the start.
        let frame = self.frame_shown();
        self.active.shown_since(frame);
        self.refresh();
    }

    /// Reads the bench again, or another one. Where it cannot be read, the
    /// session stays as it was and [`problem`](Self::problem) says why.
    pub fn reopen(&mut self, name: &str, overrides: &Overrides) -> bool {
        match Opened::read(name, overrides) {
            Ok(opened) => {
                self.name = name.to_string();
                self.overrides = overrides.clone();
                self.take_over(opened);
                true
            }
            Err(error) => {
                // What is written next may mend it: keep an eye on the file that was asked for.
                let files: Vec<PathBuf> = self.watch.files().cloned().chain([PathBuf::from(name)]).collect();
                self.watch = FileWatch::new(files);
                self.problem = Some(error);
                false
            }
        }
    }

    fn take_over(&mut self, opened: Opened) {
        let Opened { file, bench, as_filed, driver, fitted_quirks, watch } = opened;
        let name = self.active.name().to_string();
        self.file = file;
        self.bench = bench;
        self.as_filed = as_filed;
        self.predictions = Arc::default();
        self.findings = BackgroundTask::Idle;
        self.fitted_quirks = fitted_quirks;
        self.watch = watch;
        self.problem = None;
        self.pending.clear();
        self.wait = None;
        self.goal = None;
        self.history = History::new(BoardPair::new(&self.bench, driver));
        let start = self.bench.adapter().start_address();
        let field = self.bench.adapter().field(&name).unwrap_or(start);
        self.select_field(field);
        self.report_bench_notes();
        self.start();
    }

    fn report_bench_notes(&mut self) {
        let notes = self.bench.notes().join("; ");
        self.message = Some(notes).filter(|notes| !notes.is_empty());
    }

    /// Does what a key or a button asks for.
    pub fn perform(&mut self, command: Command) {
        match command {
            Command::RunOrPause => self.run(!self.is_running()),
            Command::FrameOn => self.step_frames(1),
            Command::FrameBack => self.step_frames(-1),
            Command::LineOn => self.step_lines(1),
            Command::LineBack => self.step_lines(-1),
            Command::CharOn => self.step_chars(1),
            Command::CharBack => self.step_chars(-1),
            Command::InstructionOn => self.step_instructions(true),
            Command::InstructionBack => self.step_instructions(false),
            Command::FirstFrame => self.jump(0),
            Command::Slower => self.pace.shift(true),
            Command::Faster => self.pace.shift(false),
            Command::StepRegister(steps) => self.step_active_register(steps),
            Command::ResetRegister => self.reset_active_register(),
            Command::NextRegister => self.other_register(true),
            Command::PreviousRegister => self.other_register(false),
            Command::BoardView(view) => self.set_board_view(view),
            Command::RasterOrPicture => self.raster_or_picture(),
            Command::AllQuirks => self.switch_all_quirks(),
            Command::Quirk(at) => self.switch_quirk(at),
            Command::Note(verdict) => self.note(verdict),
            Command::UndoNote => self.undo_note(),
            Command::RunUntil(until) => self.run_until(until),
            Command::NextBoard => self.next_board(),
            Command::NextMonitor => self.next_monitor(),
            Command::Reload => self.reload(),
            Command::SaveBench => self.save_bench(),
            Command::SaveSightings => self.save_sightings(),
            Command::SavePicture => self.save_picture(),
            Command::Record => self.record(),
            Command::ToggleMapRows => self.other_rows(),
            Command::Workarounds => self.search_workarounds(),
            Command::NextWorkaround => self.try_next_workaround(),
            Command::Diagnose => self.diagnose(),
            Command::NextSuspect => self.fit_next_suspect(),
        }
    }

    /// Name or path the bench was opened by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The bench, with the quirks that are switched on.
    #[must_use]
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// What the last file read again was refused for, until it is mended.
    #[must_use]
    pub fn problem(&self) -> Option<&InputError> {
        self.problem.as_ref()
    }

    /// What the session last had to say.
    #[must_use]
    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    /// Lets the session say something.
    pub fn report(&mut self, words: impl Into<String>) {
        self.message = Some(words.into());
    }

    /// The active register, and what was seen at its values.
    #[must_use]
    pub fn active_register(&self) -> &ActiveRegister {
        &self.active
    }

    /// Thumbnails of the register in active.
    #[must_use]
    pub fn thumbnails(&self) -> &Thumbnails {
        &self.thumbnails
    }

    /// The verdicts of the frames shown lately.
    #[must_use]
    pub fn timeline(&self) -> &FrameTimeline {
        &self.timeline
    }

    /// Sightings noted.
    #[must_use]
    pub fn notes(&self) -> &SightingNotes {
        &self.notes
    }

    /// The quirks at hand, on or off.
    #[must_use]
    pub fn fitted_quirks(&self) -> &[FittedQuirk] {
        &self.fitted_quirks
    }

    /// When frames are due.
    #[must_use]
    pub fn pace(&self) -> &Pace {
        &self.pace
    }

    /// Changes with everything the canvas shows.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Changes with memory, its colours and the rows of its map.
    #[must_use]
    pub fn memory_revision(&self) -> u64 {
        self.memory_revision
    }

    /// Where files are written.
    pub fn write_to(&mut self, folder: impl Into<PathBuf>) {
        self.out = folder.into();
    }

    /// Registers that differ from `before`, as sightings and benches name them.
    fn differing_from(&self, before: &Registers) -> BTreeMap<String, Number> {
        backporch_bench::differing(self.bench.adapter(), &self.history.boards().intended, before)
    }
}
