//! The session: everything the window shows and does, without a window.
//!
//! A session holds one bench with three boards in lock step: plain, as its
//! class is built, and as it stands, with its faults. What it knows stands in small groups, each with one job; panels read
//! them, and ask the session for [`Command`]s; time comes in through
//! [`Session::tick`]. Nothing here knows of a display, so all of it is tested
//! without one.
//!
//! | group | holds |
//! | --- | --- |
//! | set-up | the bench, and how it was written |
//! | [`Transport`] | the boards with their history, and how time goes on |
//! | [`Inspection`] | how the boards are looked at, and what is seen of them |
//! | [`RegisterSweep`] | the active register and its thumbnails |
//! | [`FittedQuirks`] | the quirks, on or off |
//! | [`Findings`] | sightings, suspects, workarounds |
//! | [`SessionFiles`] | what is read again, written and recorded |
//!
//! ```text
//! bench file ─► Setup ─► BoardPair ◄─ History (actions, snapshots)
//!                           │            ▲
//!                 refresh   ▼            │ Command, register edits, quirks
//!     Inspection, RegisterSweep, Canvas, MemoryMap ─► panels
//! ```

mod active_register;
pub(crate) mod autosave;
mod background;
mod board_pair;
mod breakpoint;
mod bus_writes;
pub(crate) mod canvas;
mod case;
mod diagnosis;
mod editing;
pub(crate) mod face;
mod file_watch;
mod files;
mod findings;
mod fitted_quirks;
mod fitting;
mod hazard_trail;
mod hazards;
mod headline;
mod history;
mod inspection;
mod kept_pasts;
mod live_driver;
mod memory;
mod note_chips;
mod noting;
mod pace;
mod past;
mod paths;
mod photograph;
mod pixel_inspector;
mod program;
mod recorder;
mod register_sweep;
mod registers;
mod routine;
mod setup;
mod showing;
mod sighting_notes;
mod stepping;
pub(crate) mod stop_condition;
#[cfg(test)]
mod tests;
mod thumbnails;
mod timeline;
mod transport;
mod tube;
mod waveform;
mod workarounds;

use std::path::PathBuf;
use std::sync::Arc;

use backporch_bench::{Bench, Overrides};
use backporch_hazards::Hazard;
use backporch_input::InputError;

pub use active_register::ActiveRegister;
pub use bus_writes::{BusWrite, WriteTarget};
pub use canvas::{BoardSide, BoardView, Canvas, Tile};
pub use diagnosis::{LiveDiagnosis, ProbeRow, SuspectRow};
pub use editing::WritePath;
pub use files::{SessionFiles, Unsaved};
pub use findings::Findings;
pub use fitted_quirks::{FittedQuirk, FittedQuirks};
pub use hazard_trail::HazardTrail;
pub use hazards::HazardCount;
pub use headline::{Headline, RoutineVerdict, blame_words};
pub use inspection::Inspection;
pub use memory::{MapRows, MemoryCoverage, MemoryPicture, ShownMemory};
pub use note_chips::Chip;
pub use noting::names_sightings;
pub use pace::{Lateness, Pace, SLOWNESS};
pub use past::PastView;
pub use photograph::{Corner, names_photograph};
pub use pixel_inspector::{InspectedPixel, PixelRun, shown_at};
pub use program::{Listing, ProgramState, ProgramView};
pub use register_sweep::RegisterSweep;
pub use registers::NamedRegister;
pub use routine::RoutineView;
pub use showing::SignalView;
pub use sighting_notes::{NotedSighting, SightingNotes};
pub use stop_condition::StopCondition;
pub use thumbnails::{THUMBNAIL_COUNT, Thumbnail, Thumbnails};
pub use timeline::FrameTimeline;
pub use transport::Transport;
pub use tube::TubePlace;
pub use waveform::{Level, WaveColumn, WaveMoment, Waveform};
pub use workarounds::{LiveFilmStep, LiveWorkarounds, Workaround};

use crate::command::Command;
use board_pair::BoardPair;
use file_watch::FileWatch;
use kept_pasts::{Carried, Ground, KeptPasts};
use live_driver::LiveDriver;
use photograph::PhotographBeside;
use setup::{Opened, SessionSetup};

/// One bench, live.
#[derive(Debug)]
pub struct Session {
    setup: SessionSetup,
    transport: Transport,
    inspection: Inspection,
    sweep: RegisterSweep,
    quirks: FittedQuirks,
    /// The same as they were put on the boards last.
    fitted: Arc<FittedQuirks>,
    findings: Findings,
    files: SessionFiles,
    photograph: PhotographBeside,
    message: Option<String>,
    /// Pasts of benches that were left.
    pasts: KeptPasts,
    /// What became of the past of the bench when it was read last.
    carried: Carried,
    /// The hazard gone to last, and the dot at which the beam stood then.
    at_hazard: Option<(u64, Arc<Hazard>)>,
}

impl Session {
    /// Opens a bench and shows its first frame, paused.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str, overrides: &Overrides) -> Result<Self, InputError> {
        let Opened { setup, quirks, watch, boards } = Opened::read(name, overrides)?;
        let adapter = setup.bench.adapter();
        let start = adapter.start_address();
        let active = ActiveRegister::of(adapter, setup.bench.registers(), start);
        let fitted = Arc::clone(&boards.fitted);
        let mut session = Self {
            transport: Transport::new(boards),
            inspection: Inspection::default(),
            sweep: RegisterSweep::new(active),
            fitted,
            quirks,
            findings: Findings::default(),
            files: SessionFiles::new(watch),
            photograph: PhotographBeside::default(),
            message: None,
            pasts: KeptPasts::default(),
            carried: Carried::default(),
            at_hazard: None,
            setup,
        };
        session.report_bench_notes();
        session.start();
        session.take_sightings_of_case(name);
        Ok(session)
    }

    /// Shows the first frame of boards just made.
    fn start(&mut self) {
        self.transport.history.finish_frame(&self.setup.bench);
        self.tell_end(Some(ProgramState::Runs));
        self.inspection.restart();
        self.sweep.thumbnails.clear();
        self.findings.forget_workarounds();
        // The first value is settled from the start.
        self.sweep.active.shown_since(self.transport.frame_shown());
        self.refresh();
    }

    /// Reads the bench again, or another one. Where it cannot be read, the
    /// session stays as it was and [`SessionFiles::problem`] says why.
    pub fn reopen(&mut self, name: &str, overrides: &Overrides) -> bool {
        match Opened::read(name, overrides) {
            Ok(opened) => {
                self.take_over(opened);
                true
            }
            Err(error) => {
                // What is written next may mend it: the file that was asked for is watched, too.
                let files: Vec<PathBuf> = self.files.watch.files().cloned().chain([PathBuf::from(name)]).collect();
                self.files.watch = FileWatch::new(files);
                self.files.problem = Some(error);
                false
            }
        }
    }

    fn take_over(&mut self, opened: Opened) {
        let name = self.sweep.active.name().to_string();
        let left = self.transport.history.all_courses();
        self.pasts.keep(&self.setup.name, self.setup.bench.adapter(), &left);
        self.setup = opened.setup;
        self.quirks = opened.quirks;
        self.fitted = Arc::clone(&opened.boards.fitted);
        self.files.watch = opened.watch;
        self.files.problem = None;
        self.findings.forget_results();
        self.transport.replace_boards(opened.boards);
        let ground = Ground { bench: &self.setup.bench, quirks: &self.quirks, runs_program: self.runs_program() };
        let (courses, carried) = self.pasts.take(&self.setup.name, &ground);
        self.transport.history.keep_unplaced(courses);
        self.carried = carried;
        let adapter = self.setup.bench.adapter();
        let field = adapter.field(&name).unwrap_or(adapter.start_address());
        self.sweep.active = ActiveRegister::of(adapter, self.setup.bench.registers(), field);
        self.report_bench_notes();
        self.start();
    }

    /// Begins anew on the same bench, under another driver.
    fn run_beside(&mut self, driver: Option<LiveDriver>) {
        let left = self.transport.history.all_courses();
        self.pasts.keep(&self.setup.name, self.setup.bench.adapter(), &left);
        self.transport.replace_boards(BoardPair::new(&self.setup.bench, Arc::clone(&self.fitted), driver));
        self.start();
    }

    fn report_bench_notes(&mut self) {
        let notes = self.setup.bench.notes().join("; ");
        self.message = Some(notes).filter(|notes| !notes.is_empty());
    }

    /// Does what a key or a button asks for.
    pub fn perform(&mut self, command: Command) {
        match command {
            Command::RunOrPause => self.run(!self.transport.is_running()),
            Command::FrameOn => self.step_frames(1),
            Command::FrameBack => self.step_frames(-1),
            Command::LineOn => self.step_lines(1),
            Command::LineBack => self.step_lines(-1),
            Command::CharOn => self.step_chars(1),
            Command::CharBack => self.step_chars(-1),
            Command::InstructionOn => self.step_instructions(true),
            Command::InstructionBack => self.step_instructions(false),
            Command::FirstFrame => self.step_to_first(),
            Command::Slower => self.transport.pace.shift(true),
            Command::Faster => self.transport.pace.shift(false),
            Command::StepRegister(steps) => self.step_active_register(steps),
            Command::ResetRegister => self.reset_active_register(),
            Command::NextRegister => self.other_register(true),
            Command::PreviousRegister => self.other_register(false),
            Command::BoardView(view) if view.needs_photograph() && !self.has_photograph() => {
                self.report("no photograph is open: drop one of the real screen on the window");
            }
            Command::BoardView(view) => self.inspection.set_board_view(view),
            Command::RasterOrPicture => self.inspection.toggle_raster(),
            Command::AllQuirks => self.switch_all_quirks(),
            Command::Quirk(at) => self.switch_quirk(at),
            Command::Note(verdict) => self.note(Some(verdict)),
            Command::NoteUntold => self.note(None),
            Command::PickLine => self.pick_inspected_line(),
            Command::UndoNote => self.undo_note(),
            Command::RunUntil(until) => self.run_until(until),
            Command::NextBoard => self.next_board(),
            Command::NextMonitor => self.next_monitor(),
            Command::Reload => self.reload(),
            Command::SaveBench => self.save_bench(),
            Command::Undo => self.undo(),
            Command::Redo => self.redo(),
            Command::SaveCase => self.save_case(),
            Command::SaveSightings => self.save_sightings(),
            Command::SavePicture => self.save_picture(),
            Command::Record => self.record(),
            Command::ToggleMapRows => self.inspection.toggle_map_rows(),
            Command::Workarounds => self.search_workarounds(),
            Command::NextWorkaround => self.try_next_workaround(),
            Command::Diagnose => self.diagnose(),
            Command::NextSuspect => self.fit_next_suspect(),
            Command::NextHazard => self.step_to_hazard(true),
            Command::PreviousHazard => self.step_to_hazard(false),
        }
    }

    /// Name or path the bench was opened by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.setup.name
    }

    /// The bench, with the quirks that are switched on.
    #[must_use]
    pub fn bench(&self) -> &Bench {
        &self.setup.bench
    }

    /// Where in time the boards stand, and how time goes on.
    #[must_use]
    pub fn transport(&self) -> &Transport {
        &self.transport
    }

    /// How the boards are looked at, and what is seen of them.
    #[must_use]
    pub fn inspection(&self) -> &Inspection {
        &self.inspection
    }

    /// The active register and its thumbnails.
    #[must_use]
    pub fn sweep(&self) -> &RegisterSweep {
        &self.sweep
    }

    /// The fitted quirks, on or off.
    #[must_use]
    pub fn quirks(&self) -> &FittedQuirks {
        &self.quirks
    }

    /// Sightings, suspects and workarounds.
    #[must_use]
    pub fn findings(&self) -> &Findings {
        &self.findings
    }

    /// The files that are read, written and recorded.
    #[must_use]
    pub fn files(&self) -> &SessionFiles {
        &self.files
    }

    /// What the session reported last.
    #[must_use]
    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    /// Lets the session report something.
    pub fn report(&mut self, words: impl Into<String>) {
        self.message = Some(words.into());
    }

    /// Where files are written.
    pub fn write_to(&mut self, folder: impl Into<PathBuf>) {
        self.files.folder = folder.into();
    }
}
