//! The quirk language: faults of video adapters as data.
//!
//! A *quirk* is a fault in an adapter: a few effects, each an action at one
//! stage of the raster pipeline, a condition on when it acts, and perhaps a
//! threshold from which another action takes its place. A *family* is a quirk
//! with parameters left open; a file holds one family, and the folder
//! `quirks/` holds the built-in ones.
//!
//! ```text
//! file ──► Family ──► Quirk ──► QuirkStack ──► Board
//!          open       every     several, in     the tap that changes
//!          parameters number    stated order,   port, latch, address,
//!          checked    chosen    made ready      fetch, pixel, colour, sync
//! ```
//!
//! * [`Family::from_source`] reads and checks a file; every member of a family
//!   that passes is a quirk that runs.
//! * [`Family::quirks`] lists the members, lazily and in order;
//!   [`Family::close`] chooses one.
//! * [`QuirkStack`] is the tap: put it on a board, or on a plan.
//! * [`Family::describe`] says a family back in plain words, and
//!   [`Family::warnings`] what in it can never come about.
//!
//! ```
//! use backporch_adapter::Adapter;
//! use backporch_quirk::{Family, QuirkStack};
//! use backporch_raster::QuietFrame;
//!
//! let adapter = Adapter::built_in("linear-256").unwrap();
//! let registers = adapter.start_up(adapter.default_mode());
//! let quirk = Family::built_in("row-reload").unwrap().close_default();
//! let stack = QuirkStack::new(vec![quirk], 0);
//! let plan = QuietFrame::new(&adapter, &registers, &stack).at(1).plan(&stack);
//! // Line 3 starts at byte 962, crosses a row after 62 bytes, and ought to cross another after 318:
//! // there it goes on at the beginning of the row it is in.
//! let spans = plan.spans_of(&plan.lines[3]);
//! assert_eq!(spans.iter().map(|span| (span.address, span.len)).collect::<Vec<_>>(), [(962, 318), (1024, 2)]);
//! ```
#![forbid(unsafe_code)]

mod chance;
mod check;
mod compiled;
mod compiled_condition;
mod compiled_effect;
mod context;
mod dependencies;
mod describe;
mod family;
mod family_form;
mod language;
mod layers;
mod library;
mod line_stage;
mod members;
mod no_op;
mod on_line;
mod parameters;
mod quirk;
mod reference;
mod satisfiability;
mod stack;
mod stage;
mod warn;

pub use family::Family;
pub use family_form::{FamilyEffect, FamilyForm, Standing, Threshold};
pub use language::{Action, ActionEntry, Condition, DecisionPoint, Each, Limits, Quantity, Value};
pub use layers::{DesignQuirk, Layers};
pub use library::QUIRKS;
pub use parameters::{Choices, Parameters};
pub use quirk::Quirk;
pub use reference::{actions, quantities_known, reference};
pub use stack::QuirkStack;
pub use stage::{AddressAction, ColourAction, FetchAction, LatchAction, PixelAction, PortAction, SyncAction};
