//! Where the fault is: suspects ranked by what was seen, and what to look at next.
//!
//! Every member of every [family](FaultFamilies) is a suspect, beside a board as its class is built, a routine with hazards, and *none
//! of these*. Its [prior](Prior) is the family's share of its members; what it predicts is held against every
//! [sighting](backporch_evidence::Sighting). [`probes`] then finds the experiment that distinguishes best between the
//! suspects left:
//!
//! ```text
//! FaultFamilies ──► members ──► signatures of the set-ups ──► likelihood of the sightings
//! Prior ────────────────────────────────────────────────────► × ──► posterior ──► Diagnosis
//! the best suspects ──► could they have led to what was seen? ──► ModelCheck; if none could: learn ──► Guess
//! Diagnosis ──► members left ──► what each would show ──► expected information ──► Probe
//! ```
//!
//! In come [sightings](backporch_evidence::Sightings) and families; out go probabilities, 0 to 1, that add up to 1 over
//! the suspects. The same sightings give the same answer on any number of threads.
//!
//! ```
//! use backporch_analysis::PredictionCache;
//! use backporch_diagnosis::{Prior, QuirkFamilies, diagnose};
//! use backporch_evidence::Sightings;
//! use backporch_quirk::Family;
//!
//! let sightings = Sightings::open("harbour-widths")?;
//! let faults = QuirkFamilies::new([Family::built_in("row-reload").expect("a family of the library")], sightings.bench().layers());
//! let cache = PredictionCache::default();
//! let diagnosis = diagnose(&sightings, &faults, &Prior::default(), &cache, &|_| ());
//! assert_eq!(diagnosis.suspects[0].name, "row-reload");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod assess;
mod cause;
mod check;
mod diagnose;
mod diagnosis;
mod families;
mod learn;
mod pattern;
mod posterior;
mod prior;
mod probe;
mod registers;
mod unmodelled;
mod variation;

pub use assess::Assessment;
pub use cause::Cause;
pub use check::{Against, CheckedSuspect, ModelCheck};
pub use diagnose::{assess, diagnose, likelihoods, members};
pub use diagnosis::{Conclusion, Diagnosis, RankedCause, Suspect};
pub use families::{FamilyInfo, FaultFamilies, Member, QuirkFamilies};
pub use learn::{Guess, learn};
pub use pattern::{Pattern, Regime};
pub use prior::Prior;
pub use probe::{Change, Prediction, Probe, ProbeCandidate, candidate_count, probes};
