//! What was seen on real hardware, and how likely it is under a prediction.
//!
//! An [`Experiment`] is a setting of registers on a board and a register that is stepped; a [`Sighting`] is what was
//! [`Seen`] at one step or over a range of them, in words as vague or as exact as one can be. [`Sightings`] come from a
//! file ([`Sightings::open`]) or are added one by one, as after a probe. The [`likelihood`] module says how well each
//! fits a predicted [signature](backporch_analysis::FrameSignature); an [`Impression`] is what a person would say of one.
//!
//! ```text
//! *.sightings.ron ──► file ──► read ──► Sightings ──► set-ups: the settings looked at
//! "every fourth line" ──► phrase ──► Seen ──┐
//! FrameSignature of a set-up under a fault ─┴──► likelihood ──► diagnosis
//! ```
//!
//! A test session on the real machine ([`TestSession`]) brings its answers back in a file ([`Answers`]), which become sightings;
//! what a survey of a machine counted is read by [`survey::Survey`].
//!
//! In come words and settings, out go set-ups to be predicted and natural logarithms of likelihoods. The observer may
//! be wrong: see [`Observer`].
//!
//! ```
//! use backporch_analysis::{FrameSignature, Nature};
//! use backporch_evidence::{Impression, Statement, likelihood};
//!
//! let mut signature = FrameSignature::clean(320, 200);
//! (3..200).step_by(4).for_each(|line| signature.mark(line, (318, 319), Nature::Addresses));
//! assert_eq!(Impression::of(&signature).words(), "damaged, every fourth line, at the right edge");
//! assert_eq!(likelihood::grade(&Statement::Count(50), &signature), 1.0);
//! ```
#![forbid(unsafe_code)]

mod answers;
mod check;
mod conflict;
mod experiment;
mod file;
mod impression;
pub mod likelihood;
mod lines;
mod measured;
mod nearest;
mod phrase;
mod plan;
mod read;
mod session;
mod settings;
mod sightings;
mod statement;
pub mod survey;
mod written;

pub use answers::{Answers, BlankAnswers};
pub use check::SightingError;
pub use conflict::Note;
pub use experiment::{Experiment, Observer, StepRange};
pub use file::{ExperimentFile, SightingFile, SightingsFile};
pub use impression::{Amount, Band, Impression, Side};
pub use measured::MeasuredLines;
pub use plan::{PlanFile, PlannedFile};
pub use read::SIGHTINGS;
pub use session::{MARKS, MOST_LOOKS, SAW, SYMBOLS, SessionLook, TINGES, TestSession};
pub use sightings::{MOST_SIGHTINGS, Sighting, Sightings};
pub use statement::{MoveDirection, Primary, Seen, Share, Statement, Tinge};
