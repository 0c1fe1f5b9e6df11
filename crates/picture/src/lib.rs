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
//! A picture of two colours, reduced to a palette and written as a PNG:
//!
//! ```
//! use backporch_picture::quantise::Dither;
//! use backporch_picture::{load, quantise, write};
//! use image::{Rgb, RgbImage};
//!
//! let picture = RgbImage::from_fn(8, 4, |x, _| if x < 4 { Rgb([250, 5, 5]) } else { Rgb([0, 0, 0]) });
//! let indexed = quantise::to_palette(&picture, &[[0, 0, 0], [255, 0, 0]], Dither::Off)?;
//! assert_eq!(indexed.indices()[..8], [1, 1, 1, 1, 0, 0, 0, 0]);
//! assert_eq!(load::load(&write::indexed_png(&indexed)?)?, indexed.to_rgb());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
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
pub mod overlay;
mod perceptual;
mod plate;
pub mod qr;
pub mod quantise;
pub mod record;
pub mod sheet;
pub mod write;

pub use plate::Lettering;
