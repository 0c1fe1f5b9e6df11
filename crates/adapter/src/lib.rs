//! What an adapter *is*, before any beam moves: its registers and ports, its
//! memory, its modes, and the rules by which registers become a raster.
//!
//! An adapter is data. A profile (RON, [`AdapterProfile`]) chooses among a small
//! set of engine rules; [`Adapter::from_source`] checks it once and compiles the
//! names into indices, so that nothing later meets a name it does not know.
//!
//! ```text
//! profile.ron ──► AdapterProfile ──► Adapter ─┬─► Registers   what the ports store
//!                  (as written)     (checked)  ├─► Timing      what the counters compare with
//!                                              ├─► Format      how bytes become pixels
//!                                              └─► Palette     how pixel values become colour
//! ```
//!
//! In: a profile, port writes and reads. Out: what the registers mean, in the
//! units each field states. People name fields and modes; code asks for a field
//! by its [`Role`] and for a mode by its firmware number, so that it works on
//! every class that has them, whatever they are called there.
//!
//! ```
//! use backporch_adapter::{Adapter, Guard, Role};
//!
//! let adapter = Adapter::built_in("colour-graphics").unwrap();
//! let (mode, firmware) = adapter.mode_numbered(0x03).unwrap();
//! assert_eq!((mode.name.as_str(), firmware.columns), ("text-80", 80));
//!
//! // 114 character clocks a line; the register holds one less.
//! let mut registers = adapter.start_up(mode);
//! let total = adapter.field_with(Role::HorizontalTotal).unwrap();
//! assert_eq!((adapter.get(&registers, total), adapter.quantity(&registers, total)), (113, 114));
//!
//! // One more: the port writes, and a signal a monitor tells from the first.
//! let before = registers.clone();
//! let writes = adapter.programming(&registers, total, 114);
//! assert_eq!(writes, [(0x3D4, 0x00), (0x3D5, 114)]);
//! for (port, byte) in writes {
//!     adapter.write_port(&mut registers, port, byte, Guard::AsRegister);
//! }
//! assert_eq!(adapter.timing(&registers).chars(), 115);
//! assert!(adapter.changes_signal(&before, &registers));
//! ```
//!
//! The rules know nothing of pixels on a screen: they give comparands, address
//! rules and colour tables, and the `raster` crate lets the beam run over them.
#![forbid(unsafe_code)]

mod adapter;
mod aspects;
mod basis;
mod built_in;
mod bus;
mod by_design;
pub mod charset;
mod check;
mod colour;
mod derived;
mod format;
mod memory_bus;
mod mode;
mod mode_set;
mod planes;
mod port;
mod profile;
mod program;
mod reader;
mod register;
mod role;
mod shown;
mod signals;
mod timing;

pub use adapter::Adapter;
pub use aspects::Aspects;
pub use basis::{Basis, Fact};
pub use built_in::ADAPTERS;
pub use by_design::{Behaviour, ByDesign};
pub use charset::{CharacterSet, CharsetError};
pub use colour::{Palette, RGBI, Rgba, widen_dac};
pub use derived::DerivedProfile;
pub use format::{AddressRule, AttributeColour, BorderRule, ColourRule, Format, RowBit, Serialise};
pub use memory_bus::{AccessSlots, BusCase, BusySpan, LinePlace, MemoryBus};
pub use mode::{DacColours, FirmwareMode, Mode, RegisterBlock};
pub use mode_set::BoardPorts;
pub use planes::{MemoryPath, PLANES};
pub use port::{BeamSignals, Effect, Guard, InputStatus0, LightPenCells, PortAt, PortRole, StatusBit, StatusSignal};
pub use profile::{AdapterProfile, MemoryAccess, MemoryRule};
pub use register::{Access, Bank, Cell, Field, FieldId, Registers, SetError, Slice};
pub use role::Role;
pub use shown::{Addressing, Cursor, Glyphs, Shown, Spread};
pub use timing::{
    FramePosition, LineTiming, Pitch, PulseEnd, RowTiming, StartLoad, SyncWidthZero, Timing, TimingRule, Vertical,
    VerticalSync,
};
