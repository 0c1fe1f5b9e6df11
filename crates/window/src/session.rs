//! The session: everything the window shows and does, without a window.
//!
//! A session holds one bench with its healthy and its faulty board in lock
//! step, the tape of what was done to them, the register in hand, and what was
//! noted. The panels read it and ask it for [`Command`]s; time comes in through
//! [`Session::tick`]. Nothing here knows of a display, so all of it is tested
//! without one.
//!
//! ```text
//! bench file ─► Bench ─► Pair of boards ◄─ Tape (acts, snapshots)
//!                           │                 ▲
//!                           ▼                 │ Command, register edits, quirks
//!            Canvas, Damage, Finger, MemoryMap, Strip ─► panels
//! ```

pub(crate) mod canvas;
mod drive;
mod errand;
mod finger;
mod hand;
mod hazards;
mod keep;
mod memory;
mod moving;
mod notes;
mod offers;
mod pace;
mod pair;
mod place;
mod program;
mod rack;
mod record;
mod registers;
mod renamed;
mod routine;
mod setting;
mod strip;
mod suspects;
mod tape;
#[cfg(test)]
mod tests;
mod trail;
pub(crate) mod until;
mod view;
mod watch;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_analysis::Damage;
use backporch_analysis::memo::Memo;
use backporch_bench::{Bench, BenchFile, Wishes};
use backporch_input::{FormError, Number, Source, parse};
use backporch_raster::{Span, View};

pub use canvas::{Canvas, Look, Side, Tile};
pub use finger::{Finger, Pixels, shown_at};
pub use hand::Hand;
pub use hazards::HazardCount;
pub use memory::{Cover, Edge, MemoryMap, Rows};
pub use notes::{Notes, Sighting};
pub use offers::{Offer, Offers};
pub use pace::{Lateness, Pace, SLOWNESS};
pub use program::{Listing, ProgramState, ProgramView};
pub use rack::Fitted;
pub use registers::RegisterRow;
pub use routine::RoutineView;
pub use setting::Way;
pub use strip::{Cell, STRIP_CELLS, Strip};
pub use suspects::{Findings, ProbeRow, SuspectRow};
pub use trail::Trail;
pub use until::Until;
pub use view::SignalView;
pub use watch::Watch;

use crate::command::Command;
use drive::Drive;
use errand::Errand;
use pair::{Act, Pair};
use record::Recorder;
use tape::Tape;
use until::Wait;

/// One bench, live.
#[derive(Debug)]
pub struct Session {
    name: String,
    wishes: Wishes,
    file: BenchFile,
    bench: Bench,
    as_filed: Registers,
    rack: Vec<Fitted>,
    tape: Tape,
    damage: Damage,
    trail: Trail,
    hand: Hand,
    strip: Strip,
    look: Look,
    view: View,
    rows: Rows,
    running: bool,
    wait: Option<Wait>,
    goal: Option<u64>,
    pace: Pace,
    pending: Vec<Act>,
    notes: Notes,
    search: Errand<Offers>,
    findings: Errand<Findings>,
    memo: Arc<Memo>,
    offer_tried: usize,
    finger: Option<Finger>,
    fetched: Vec<Span>,
    cover: Cover,
    entered: Cover,
    recorder: Option<Recorder>,
    watch: Watch,
    looked_at_files_s: f64,
    out: PathBuf,
    problem: Option<FormError>,
    said: Option<String>,
    revision: u64,
    memory_revision: u64,
}

/// A bench read and checked, with what a session keeps of how it was written.
struct Opened {
    file: BenchFile,
    bench: Bench,
    /// Registers as the file alone sets them: what sightings are told against.
    as_filed: Registers,
    drive: Option<Drive>,
    rack: Vec<Fitted>,
    watch: Watch,
}

impl Opened {
    fn read(name: &str, wishes: &Wishes) -> Result<Self, FormError> {
        let bench = Bench::open(name, wishes)?;
        let source = match backporch_bench::built_in(name) {
            Some(source) => source,
            None => Source::read(Path::new(name))?,
        };
        let file: BenchFile = parse(&source)?;
        let rack = rack::fitted(&bench, &file, wishes, &folder_of(name));
        let watch = Watch::new(keep::files_of(name, &file, wishes));
        let board_alone = Wishes { board: wishes.board.clone(), ..Wishes::default() };
        let as_filed = Bench::open(name, &board_alone)
            .map_or_else(|_| bench.registers().clone(), |filed| filed.registers().clone());
        let drive = Drive::of(&bench)?;
        Ok(Self { file, bench, as_filed, drive, rack, watch })
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
    pub fn open(name: &str, wishes: &Wishes) -> Result<Self, FormError> {
        let Opened { file, bench, as_filed, drive, rack, watch } = Opened::read(name, wishes)?;
        let field = bench.adapter().start_address();
        let info = bench.adapter().field_info(field);
        let value = bench.adapter().get(bench.registers(), field);
        let hand = Hand::new(field, &info.name, info.max(), value);
        let tape = Tape::new(Pair::new(&bench, drive));
        let mut session = Self {
            name: name.to_string(),
            wishes: wishes.clone(),
            file,
            bench,
            as_filed,
            rack,
            tape,
            damage: Damage::default(),
            trail: Trail::default(),
            hand,
            strip: Strip::default(),
            look: Look::default(),
            view: View::Picture,
            rows: Rows::default(),
            running: false,
            wait: None,
            goal: None,
            pace: Pace::new(60.0),
            pending: Vec::new(),
            notes: Notes::default(),
            search: Errand::default(),
            findings: Errand::default(),
            memo: Arc::default(),
            offer_tried: 0,
            finger: None,
            fetched: Vec::new(),
            cover: Cover::default(),
            entered: Cover::default(),
            recorder: None,
            watch,
            looked_at_files_s: 0.0,
            out: PathBuf::from("."),
            problem: None,
            said: None,
            revision: 0,
            memory_revision: 0,
        };
        session.say_notes();
        session.start();
        Ok(session)
    }

    /// Shows the first frame of boards just made.
    fn start(&mut self) {
        self.tape.finish_frame(&self.bench);
        self.tell_end(Some(ProgramState::Runs));
        self.fetched.clear();
        self.trail = Trail::default();
        self.cover = Cover::default();
        self.entered = Cover::default();
        self.finger = None;
        self.memory_revision += 1;
        self.strip.clear();
        self.search = Errand::Idle;
        self.refresh();
        // The first value is settled from the start.
        let frame = self.frame_shown();
        self.hand.shown_since(frame);
        self.refresh();
    }

    /// Reads the bench again, or another one. Where it cannot be read, the
    /// session stays as it was and [`problem`](Self::problem) tells why.
    pub fn reopen(&mut self, name: &str, wishes: &Wishes) -> bool {
        match Opened::read(name, wishes) {
            Ok(opened) => {
                self.name = name.to_string();
                self.wishes = wishes.clone();
                self.take_over(opened);
                true
            }
            Err(error) => {
                // What is written next may mend it: keep an eye on the file that was asked for.
                let files: Vec<PathBuf> = self.watch.files().cloned().chain([PathBuf::from(name)]).collect();
                self.watch = Watch::new(files);
                self.problem = Some(error);
                false
            }
        }
    }

    fn take_over(&mut self, opened: Opened) {
        let Opened { file, bench, as_filed, drive, rack, watch } = opened;
        let name = self.hand.name().to_string();
        self.file = file;
        self.bench = bench;
        self.as_filed = as_filed;
        self.memo = Arc::default();
        self.findings = Errand::Idle;
        self.rack = rack;
        self.watch = watch;
        self.problem = None;
        self.pending.clear();
        self.wait = None;
        self.goal = None;
        self.tape = Tape::new(Pair::new(&self.bench, drive));
        let start = self.bench.adapter().start_address();
        let field = self.bench.adapter().field(&name).unwrap_or(start);
        self.take_in_hand(field);
        self.say_notes();
        self.start();
    }

    fn say_notes(&mut self) {
        let notes = self.bench.notes().join("; ");
        self.said = Some(notes).filter(|notes| !notes.is_empty());
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
            Command::Step(steps) => self.step_hand(steps),
            Command::ToOrigin => self.hand_to_origin(),
            Command::OtherRegister { next } => self.other_register(next),
            Command::Look(look) => self.set_look(look),
            Command::RasterOrPicture => self.raster_or_picture(),
            Command::AllQuirks => self.switch_all_quirks(),
            Command::Quirk(at) => self.switch_quirk(at),
            Command::Note(verdict) => self.note(verdict),
            Command::TakeBack => self.take_note_back(),
            Command::RunUntil(until) => self.run_until(until),
            Command::NextBoard => self.next_board(),
            Command::NextMonitor => self.next_monitor(),
            Command::Reload => self.reload(),
            Command::SaveBench => self.save_bench(),
            Command::SaveSightings => self.save_sightings(),
            Command::KeepPicture => self.keep_picture(),
            Command::Record => self.record(),
            Command::MapRows => self.other_rows(),
            Command::Workarounds => self.search_workarounds(),
            Command::NextWorkaround => self.try_next_offer(),
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
    pub fn problem(&self) -> Option<&FormError> {
        self.problem.as_ref()
    }

    /// What the session last had to say.
    #[must_use]
    pub fn said(&self) -> Option<&str> {
        self.said.as_deref()
    }

    /// Lets the session say something.
    pub fn say(&mut self, words: impl Into<String>) {
        self.said = Some(words.into());
    }

    /// The register in hand, and what was seen at its values.
    #[must_use]
    pub fn hand(&self) -> &Hand {
        &self.hand
    }

    /// Thumbnails of the register in hand.
    #[must_use]
    pub fn strip(&self) -> &Strip {
        &self.strip
    }

    /// The verdicts of the frames shown lately.
    #[must_use]
    pub fn trail(&self) -> &Trail {
        &self.trail
    }

    /// Sightings noted.
    #[must_use]
    pub fn notes(&self) -> &Notes {
        &self.notes
    }

    /// The quirks at hand, on or off.
    #[must_use]
    pub fn rack(&self) -> &[Fitted] {
        &self.rack
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
        backporch_bench::differing(self.bench.adapter(), &self.tape.pair().wanted, before)
    }
}
