//! The report page: one HTML file that needs nothing else, opens from disk and prints.
//!
//! ```text
//! Bench ──────► BenchPart, SignalPart ─┐
//! Bench, Sweep ► SweepPart ────────────┼─► Page ─► template ─► HTML
//! answers ────► parts, where there are ┘
//! ```
//!
//! A [`Page`] is filled with *parts*; a section is printed where its part has something to say. Parts are plain
//! data in the words of the reader, so that whoever has a finding can put it on a page.
//!
//! **Nothing of a user's becomes markup.** All texts go through the template's escaping, pictures and files
//! through base64, and the page forbids its reader's browser, by its content security policy, every request and
//! every script but the one whose digest it states.
//!
//! **Frames are small.** For each step the page holds the plain frame as a palette picture, and of the faulty one
//! the pixels that differ; the script lays one over the other.

use askama::Template;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};
use thiserror::Error;

mod answers;
mod bench;
mod embed;
mod gauge;
mod heat;
mod part;
mod plot;
mod signal;
mod strip;
mod sweep;
mod words;

pub use answers::{candidate_facts, candidate_title, way_facts, way_title};
pub use bench::{BenchPart, QuirkPart};
pub use embed::{Embedded, EmbeddedPicture};
pub use gauge::Gauge;
pub use part::{
    CandidatePart, CapturedLine, CapturedLook, CapturedPicture, CapturesPart, Compared, ComparisonPart, DiagnosisPart,
    FilmStep, HazardPart, HazardsPart, NamedValue, ProbePart, RegisterValues, SightingPart, SuspectPart, Way,
    WorkaroundsPart,
};
pub use plot::BeamChart;
pub use signal::SignalPart;
pub use sweep::SweepPart;

use crate::page::plot::Symbols;

const STYLE: &str = include_str!("../templates/page.css");
const SCRIPT: &str = include_str!("../templates/page.js");

/// Why a page could not be made.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PageError {
    /// A picture could not be encoded.
    #[error(transparent)]
    Picture(#[from] backporch_picture::write::WriteError),
    /// The template could not be filled.
    #[error("cannot fill the page: {0}")]
    Template(#[from] askama::Error),
}

/// What goes on a page.
#[derive(Clone, Debug)]
pub struct Page {
    /// What the page is about, in a line.
    pub title: String,
    /// The program that made it, with its version.
    pub made_by: String,
    /// What is on the bench.
    pub bench: BenchPart,
    /// What goes to the monitor.
    pub signal: SignalPart,
    /// Step by step through a range of registers.
    pub sweep: Option<SweepPart>,
    /// The same on other boards.
    pub comparison: Option<ComparisonPart>,
    /// What captures of the real screen show.
    pub captures: Option<CapturesPart>,
    /// Which faults could explain what was seen.
    pub diagnosis: Option<DiagnosisPart>,
    /// Settings that hold.
    pub workarounds: Option<WorkaroundsPart>,
    /// Mistakes of timing and order in the routine.
    pub hazards: Option<HazardsPart>,
    /// Register values to copy.
    pub tables: Vec<RegisterValues>,
    /// What can hurt, and how to avoid it.
    pub cautions: Vec<String>,
    /// The command that makes this page again from the case.
    pub command: String,
    /// The case: all that the command needs, in one file.
    pub case: Embedded,
    /// What lies in it, for people to read.
    pub files: Vec<Embedded>,
}

#[derive(Template)]
#[template(path = "page.html")]
struct Filled<'a> {
    page: &'a Page,
    style: &'static str,
    script: &'static str,
    script_digest: String,
    symbols: Symbols,
}

impl Page {
    /// The page as HTML, the same for the same content.
    ///
    /// # Errors
    /// Where the template cannot be filled.
    pub fn html(&self) -> Result<String, PageError> {
        let script_digest = STANDARD.encode(Sha256::digest(SCRIPT));
        let filled = Filled { page: self, style: STYLE, script: SCRIPT, script_digest, symbols: Symbols };
        Ok(filled.render()?)
    }

    /// What was found, in a sentence, for the head of the page.
    fn lede(&self) -> String {
        match &self.sweep {
            Some(sweep) => sweep.finding(),
            None => "One setting, as it stands.".to_string(),
        }
    }
}
