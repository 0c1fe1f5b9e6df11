//! The one room for *file forms*: how Backporch reads what people write, and writes what they asked for.
//!
//! Every file a person edits (bench, adapter profile, monitor, quirk, sightings) is a RON form. It passes
//! through this crate once, on its way in, and whatever is wrong with it becomes one [`FormError`]: a line that
//! names the file, the line and column, the field, what was found and what is allowed.
//!
//! ```text
//!  path ──► Source::read ──► parse::<T> ──► T ──► checks of meaning ──► the form, ready for use
//!              │                │                      │
//!              │                │                      └─ Source::fault(["registers","displayed"], 300, "0..=255")
//!              ▼                ▼                                │
//!           FormError ◄──── FormError ◄──────────────────────────┘
//!
//!  bytes ──► write_whole ──► a whole file, or the old one untouched
//! ```
//!
//! - [`Source`] is a text with a name; [`parse`] turns it into any type that serde can read.
//! - [`Source::fault`] and [`Source::locate`] find a field in the text again, for checks made after reading.
//! - [`number`], [`Number`] and [`Range`] are numbers and ranges as the command line and the files write them.
//! - [`Version1`] is the `version: 1` that every form carries.
//! - [`refuse`] is how a `Deserialize` of one's own says what it found and what it allows.
//! - [`nearest`] guesses the name somebody meant.
//! - [`write_whole`] writes a file whole or not at all.
//!
//! Nothing here knows of adapters, registers or pictures.
#![forbid(unsafe_code)]

mod error;
mod lex;
mod locate;
mod nearest;
mod outline;
mod parse;
mod place;
mod source;
mod version;

pub use error::{FormError, FormErrorKind, refuse};
pub use nearest::nearest;
pub use parse::parse;
pub use place::Place;
pub use source::{MAX_TEXT_BYTES, Source};
pub use version::Version1;
