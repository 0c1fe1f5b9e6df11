//! Workarounds: register settings under which every frame a routine needs is clean.
//!
//! ```text
//! Need ──► Levers ──► Settings ──► Judge ──► Ground ──► Walks ──► Fit ──► Candidates
//!          registers  what is      fault by  where      steps,    totals,  those that no
//!          to step    fetched      fault     not        origins   sync,    other covers
//!                                            to begin             monitor
//! ```
//!
//! A [`Need`] says what has to stay and what may change. The levers give every
//! [`Setting`] of the registers that decide what is fetched. A [`Judge`] finds,
//! for one fault, all start addresses of a setting that are not clean, as a
//! [`Ring`] of bits. [`Walk`]s look for steps and origins whose start addresses
//! are all clean, and a [`Fit`] puts totals and sync around what was found.
//! A fault that does more than bend addresses and timing is proven by
//! [rendering](rendered) every start address of the candidates found.
//!
//! What is searched whole, and what is left out because it can be proven not
//! to matter, is told in [`Answer::remarks`].

mod candidate;
mod confirm;
mod content;
mod fit;
mod impossible;
mod judge;
mod need;
mod offer;
mod price;
mod ring;
mod search;
mod setting;
mod steps;

pub use candidate::{Candidate, Cost, Failing, MemoryMap, Redraw, worth_showing};
pub use confirm::{holds, rendered};
pub use fit::{Fit, Fitter, Sound};
pub use impossible::Impossible;
pub use judge::{FRAMES_LOOKED_AT, FRAMES_TREMBLING, Ground, Judge, trembles};
pub use need::{Direction, MAY_CHANGE, Need, NeedFile, Origin, Starts, may_change};
pub use offer::{Claim, Offering};
pub use price::Pricing;
pub use ring::Ring;
pub use search::{Answer, Suspect, search};
pub use setting::{Levers, Pixels, Setting};
pub use steps::{Standing, Walk, greatest_common_divisor};
