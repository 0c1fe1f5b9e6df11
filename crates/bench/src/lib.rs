//! Bench files: one board under test with everything on the bench around it.
//!
//! A bench file names an adapter, a mode, the registers that differ from the
//! mode's start-up values, quirks, a picture and where it lies in memory, a
//! routine, a monitor and a seed. Read, checked and with the command line's overrides laid
//! over it, it is a [`Bench`]: from there every board, healthy or faulty, is
//! one call away.
//!
//! ```text
//! *.bench.ron ─► BenchFile ─┬─► Bench ─┬─► registers, memory
//! command line ─► Overrides ┘          ├─► healthy board
//!                                      ├─► board under its quirks
//!                                      └─► DriverSettings: what is to drive the board, not yet read
//! ```
//!
//! A bench is passed on as a [pack]: one file that says everything, and the files
//! it needs beside it.
//! What is meant at a start address, and what a board as its class is built shows there:
//!
//! ```
//! use backporch_bench::{Bench, Overrides};
//!
//! let step = Overrides { set: vec![("start_address".to_string(), 4)], ..Overrides::default() };
//! let bench = Bench::open("harbour-256", &step)?;
//! let meant = bench.plain(bench.registers()).run_frame();
//! let built = bench.by_design(bench.registers()).run_frame();
//! assert_eq!(meant.picture_size(), built.picture_size());
//! assert_ne!(meant, built);
//! # Ok::<(), backporch_input::InputError>(())
//! ```
//!
//! The command line, the window, the reports and the analysis all set a board up here, and so alike.
//! What drives a board is read and run elsewhere: analysis needs no processor.
#![forbid(unsafe_code)]

mod art;
mod bench;
mod built_in;
mod card;
mod file;
mod laid_memory;
mod library;
mod named;
mod overlay;
mod pack;
mod resource;
mod setup;
mod written;

pub use bench::{Bench, Overrides};
pub use built_in::{BENCHES, PROGRAMS};
pub use card::CARD_VERSION;
pub use file::{BenchFile, ClockRef, KeyRef, MachineRef, MouseRef, OverlayRef, PictureRef, PlaceRef, QuirkRef, Scroll};
pub use laid_memory::LaidMemory;
pub use library::Library;
pub use named::{DriverSettings, Named};
pub use pack::{Along, Handed, Outside, Pack, bench_name, case_name, pack, place_of_handed};
pub use resource::{Resource, ResourceKind};
pub use setup::{case_of_bench, files_of, folder_of_bench, source_of};
pub use written::differing;
