//! What every command answers: types for programs, words for people, a published schema.
//!
//! ```text
//! Frame, Sweep, Diagnosis, … ──► FrameAnswer, SweepAnswer, DiagnoseAnswer, … ──┬─► Document ──► JSON
//!                                        │              │                      └─► text() ──► words
//!                                        ▼              ▼
//!                                  report, window    schemas() ──► reference() ──► docs/json.md
//! ```
//!
//! What was found comes in; for each command there goes out one type whose name ends in `Answer`: plain data that
//! serialises and deserialises. [`Document`] puts the version before it. An answer that was written can be read again
//! and go on a page or into a search, so nothing downstream reads JSON by hand.
//!
//! Every answer has a JSON Schema (draft 2020-12), listed by [`schemas`]; the tests hold every document that a command
//! prints to it, and [`reference`](reference()) makes the reference page from it.
//!
//! ```
//! use backporch_answer::{Document, SweepAnswer};
//! use backporch_analysis::{SweepAxis, sweep};
//! use backporch_bench::{Bench, Overrides};
//!
//! let bench = Bench::open("harbour-256-plain", &Overrides { quirks: vec!["row-reload".into()], ..Overrides::default() })?;
//! let start = bench.adapter().start_address();
//! let swept = sweep(&bench, &[SweepAxis::new(bench.adapter(), start, 0..2)?], 1, &|| ())?;
//! let json = serde_json::to_string(&Document::new(SweepAnswer::new(&bench, &swept)))?;
//! let read: Document<SweepAnswer> = serde_json::from_str(&json)?;
//! assert_eq!(read.answer.steps[1].damaged_lines, 50);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod art;
mod calibrate;
mod compare;
mod demo;
mod diagnose;
mod emit;
mod frame;
mod hazards;
mod library;
mod measure;
mod modes;
mod pack;
mod passing;
mod record;
mod reference;
mod report;
mod run;
mod schema;
mod signal;
mod step_table;
mod sweep;
mod verdict;
mod version;
mod window;
mod within_frame;
mod words;
mod workaround;

pub use art::{ArtAnswer, ArtSettingAnswer, ArtStartAnswer};
pub use calibrate::{AgreementAnswer, CalibrateAnswer, FigureAnswer};
pub use compare::{
    BlameAnswer, ClassBehaviourAnswer, CompareAnswer, ComparedBoardAnswer, FirstDifferenceAnswer, MomentAnswer,
};
pub use demo::DemoAnswer;
pub use diagnose::{
    AgainstAnswer, CheckAnswer, CheckedSuspectAnswer, ConclusionAnswer, DiagnoseAnswer, FamilyAnswer, GuessAnswer,
    MemberAnswer, OtherCauseAnswer, OutcomeAnswer, ProbeAnswer, SightingAnswer, SuspectAnswer,
};
pub use emit::{EmitAnswer, EmitsAnswer, NothingToEmitAnswer};
pub use frame::{AddressChangeAnswer, FrameAnswer, PixelAnswer};
pub use hazards::{
    AdviceAnswer, BudgetAnswer, FitAnswer, HazardAnswer, HazardShareAnswer, HazardsAnswer, MarginsAnswer, MoveAnswer,
    MoveKindAnswer, RoomAnswer, ShareAnswer, StrikeAnswer,
};
pub use library::{
    BenchesAnswer, BoardAnswer, BoardProfileAnswer, BoardsAnswer, EntryAnswer, ModeAnswer, MonitorsAnswer,
    ProcessorsAnswer, QuirkAnswer, QuirksAnswer, RoutinesAnswer, SightingsAnswer, entries_text,
};
pub use measure::{
    DarkBandAnswer, LineFindingAnswer, LineLikelihoodsAnswer, LookFoundAnswer, MeasureAnswer, MeasuredBoardAnswer,
    MeasuredCaptureAnswer, MeasuredLineAnswer, MeasuredLookAnswer, NextStepAnswer, StepFoundAnswer, TestCardAnswer,
};
pub use modes::{ModeSettingAnswer, ModesAnswer, NoModeAnswer};
pub use pack::{CaseFileAnswer, HoldsAnswer, PackAnswer, UnpackAnswer};
pub use passing::PassingAnswer;
pub use record::{RecordAnswer, RecordingAnswer};
pub use reference::reference;
pub use report::ReportAnswer;
pub use run::{AskedAnswer, EndAnswer, RunAnswer, StoppedAnswer, StuckAnswer, TroubleAnswer, WrittenPixelAnswer};
pub use schema::{AnswerSchema, schemas};
pub use signal::{
    ActiveAreaAnswer, HorizontalAnswer, MonitorAnswer, NoSignalAnswer, ReadingAnswer, SignalAnswer, SignalsAnswer,
    VerticalAnswer,
};
pub use step_table::{StepTableAnswer, TableStepAnswer};
pub use sweep::{StepAnswer, SweepAnswer};
pub use verdict::VerdictAnswer;
pub use version::{Document, Version};
pub use window::WindowAnswer;
pub use within_frame::{PhaseShareAnswer, WithinFrameAnswer};
pub use workaround::{
    CandidateAnswer, FailingAnswer, NoWorkaroundAnswer, UsedMemoryAnswer, WorkaroundAnswer, WorkaroundsAnswer,
};
