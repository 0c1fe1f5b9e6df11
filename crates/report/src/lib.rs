//! The report: what was found, on a page that a person looks at and passes on.
//!
//! ```text
//! Bench, Sweep, answers ─► page ─► one self-contained HTML file
//! ```
//!
//! A bench, its sweep and the answers of other commands come in; HTML goes out. Nothing here reads or writes a file.
//! The least of pages, of a bench and its signal:
//!
//! ```
//! use backporch_bench::{Bench, Overrides};
//! use backporch_report::page::{BenchPart, Embedded, Page, SignalPart};
//!
//! let bench = Bench::open("harbour-vga", &Overrides::default())?;
//! let page = Page {
//!     title: bench.title().to_string(),
//!     made_by: "an example".to_string(),
//!     bench: BenchPart::new(&bench),
//!     signal: SignalPart::new(&bench, bench.registers()),
//!     sweep: None,
//!     comparison: None,
//!     captures: None,
//!     diagnosis: None,
//!     workarounds: None,
//!     hazards: None,
//!     tables: Vec::new(),
//!     cautions: Vec::new(),
//!     command: "backporch report harbour-vga".to_string(),
//!     case: Embedded { name: "harbour-vga.case.zip".to_string(), bytes: Vec::new() },
//!     files: Vec::new(),
//! };
//! assert!(page.html()?.contains("<!doctype html>"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

pub mod page;
