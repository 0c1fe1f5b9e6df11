//! Pictures: into a board's colours and back, onto sheets a person reads, into files.
//!
//! A picture comes from a file ([`load`]), is the built-in panorama ([`harbour`]) or the numbered test [`mod@card`]. [`quantise`] reduces
//! it to palette indices ([`indexed`]), and [`mod@lay`] puts those into video memory as the board will fetch
//! them. Frames that come out of a board go onto a contact sheet ([`sheet`]) or beside each other
//! ([`difference`]), and [`mod@write`] encodes whatever is to be kept.
//!
//! ```text
//! load ───┐                                                      ┌─► sheet ──────┐
//!         ├─► RgbImage ─► quantise ─► Indexed ─► lay … frames ───┤               ├─► write ─► PNG bytes
//! harbour ┘                                                      └─► difference ─┘
//! ```
//!
//! Frames that follow each other become an animation in [`record`].
//!
//! Nothing here reads or writes a file, and everything comes out the same on every machine.
#![forbid(unsafe_code)]

pub mod card;
pub mod dac;
pub mod difference;
pub mod dither;
pub mod harbour;
pub mod indexed;
pub mod lay;
pub mod load;
pub mod mark;
mod perceptual;
mod plate;
pub mod qr;
pub mod quantise;
pub mod record;
pub mod sheet;
pub mod write;

pub use plate::Lettering;
