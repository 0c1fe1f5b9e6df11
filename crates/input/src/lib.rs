//! Input files: how Backporch reads what people write, and writes what they asked for.
//!
//! Every file a person edits (bench, adapter profile, monitor, quirk, sightings) is a RON form. It passes
//! through this crate once, on its way in, and whatever is wrong with it becomes one [`InputError`]: a line that
//! names the file, the line and column, the field, what was found and what is allowed.
//!
//! ```text
//!  path ──► Source::read ──► parse::<T> ──► T ──► checks of meaning ──► the form, ready for use
//!              │                │                      │
//!              │                │                      └─ Source::fault(["registers","displayed"], 300, "0..=255")
//!              ▼                ▼                                │
//!           InputError ◄─── InputError ◄─────────────────────────┘
//!
//!  bytes ──► write_whole ──► a whole file, or the old one untouched
//! ```
//!
//! - [`Source`] is a text with a name; [`parse`] turns it into any type that serde can read.
//! - [`Catalogue`] holds what is built in of one kind, and finds a name there or as the path of a file.
//! - [`Source::fault`] and [`Source::locate`] find a field in the text again, for checks made after reading.
//! - [`number`], [`Number`] and [`Range`] are numbers and ranges as the command line and the files write them.
//! - [`Milliseconds`] are moments of a run in both.
//! - [`Version1`] is the `version: 1` that every form carries.
//! - [`refuse`] is how a `Deserialize` of one's own says what it found and what it allows.
//! - [`nearest`] guesses the name that was meant.
//! - [`write_whole`] writes a file whole or not at all; [`WholeFile`] and [`WholeFolder`] do the same bit by bit,
//!   [`write_group`] several files together.
//! - [`Case`] is a bench and all that belongs to it in one zip file; a path may lead into one.
//! - [`Overwrite`] keeps an output from replacing an input, or the file of others.
//! - [`abandon_unfinished`] is what a program does that is asked to end.
//! - [`is_hidden`] tells the characters that no name may hold, and [`visible`] shows them.
//!
//! ```
//! use backporch_input::{Source, Version1, parse};
//!
//! #[derive(serde::Deserialize)]
//! #[serde(deny_unknown_fields)]
//! struct LampForm {
//!     version: Version1,
//!     height: u8,
//! }
//!
//! let source = Source::built_in("quay.lamp.ron", "(\n    version: 1,\n    height: 300,\n)");
//! let error = parse::<LampForm>(&source).err().unwrap();
//! assert_eq!(error.to_string(), "quay.lamp.ron:3:13: height: found 300, allowed 0..=255");
//! ```
//!
//! Nothing here knows of adapters, registers or pictures.
#![forbid(unsafe_code)]

mod bounds;
mod case;
mod catalogue;
mod error;
mod explain;
mod file;
mod folder;
mod group;
mod guard;
mod hidden;
mod lex;
mod locate;
mod milliseconds;
mod nearest;
mod number;
mod outline;
mod parse;
mod place;
mod quoted;
mod range;
mod read;
mod source;
mod spelling;
mod sum;
mod temporary;
mod text_checks;
mod version;
mod words;
mod write;

pub use case::{
    CASE_ENDING, CASE_LIST, Case, CaseFile, FileOfCase, Holds, MOST_CASE_BYTES, MOST_CASE_FILE_BYTES, MOST_CASE_FILES,
    case_at, case_of, downwards, file_beside, file_on_disk, folded, is_in_case, is_there, leads_outside,
};
pub use catalogue::{Catalogue, path_or_unknown};
pub use error::{InputError, InputErrorKind, refuse};
pub use file::read_bytes;
pub use folder::WholeFolder;
pub use group::write_group;
pub use guard::{MAKER, Overwrite, files_read, note_read, was_read};
pub use hidden::{is_hidden, visible};
pub use milliseconds::{Milliseconds, MillisecondsError};
pub use nearest::nearest;
pub use number::{Number, NumberError, number};
pub use parse::parse;
pub use place::TextPosition;
pub use quoted::quoted;
pub use range::{Range, RangeError};
pub use source::{MAX_TEXT_BYTES, Source};
pub use spelling::spelling;
pub use temporary::abandon_unfinished;
pub use text_checks::refuse_doubled_keys;
pub use version::Version1;
pub use write::{WholeFile, cannot_write, write_whole};
