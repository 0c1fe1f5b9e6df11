//! A routine for the real machine that scrolls by a table of start addresses.
//!
//! ```text
//! StepTable ──► Routine ──► assembly, C: set-up, table, wait, step, redraw from a strip of art, and a demonstration
//!               checked     free to use
//! ```
//!
//! The routine knows positions, not addresses: each step moves the position
//! by one stride, shows the start address the table has for it (in the
//! active area, both bytes before any take-over), waits for vertical retrace
//! and draws what enters from the top, ahead of the beam. Of several copies
//! the one that is shown is drawn first. What leaves the picture into a border gets the border's colour.

mod assembly;
mod c;

use std::sync::Arc;

use backporch_adapter::{Adapter, FirmwareMode, Mode, PortRole, Registers, StatusSignal};
use backporch_picture::lay::bits_per_pixel;
use backporch_raster::{Plain, QuietFrame};
use backporch_signal::Monitor;
use backporch_workaround::StepTable;
use thiserror::Error;

use crate::assembler::{AssemblyError, assemble};
use crate::program::TEXT_MODE;
use crate::table::WriteTable;

/// Bytes of the demonstration's art, at most.
const MOST_ART: u32 = 51_200;
/// Pixel values there are: the demonstration's art comes again after this many columns.
const VALUES: u32 = 256;
/// Bytes of a step, at most.
const MOST_STEP: u32 = 16;
/// Entries of a table, at most.
const MOST_STEPS: usize = 2048;

/// Why there is no routine.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RoutineError {
    /// The mode has no number with the firmware that is known.
    #[error("mode {0}: no firmware mode number is known for it")]
    Mode(String),
    /// The mode's pixels are not bytes in one piece of memory.
    #[error("mode {0}: routines are made for pixels of a byte in one piece of memory")]
    Pixels(String),
    /// The table scrolls up and down.
    #[error("routines are made for horizontal scrolls")]
    Direction,
    /// The table leaves positions out.
    #[error("the table leaves positions out: take one that shows every step")]
    Jumps,
    /// The table needs writes beside the beam.
    #[error(
        "the table needs {found} writes beside the beam in a frame, which no routine is made for: take one without"
    )]
    WithinFrame {
        /// Writes it needs.
        found: u32,
    },
    /// The table ends.
    #[error("the table ends after {found} steps: routines are made for scrolls that go around")]
    Ends {
        /// Steps it has.
        found: usize,
    },
    /// The table has too many different steps.
    #[error("the table has {found} different steps, allowed are {MOST_STEPS}")]
    Steps {
        /// Steps it has.
        found: usize,
    },
    /// The columns of a step do not fit the picture.
    #[error(
        "a step of {step} bytes: the {width} bytes of a line inside the border have to be a multiple of it, and it an even number up to {MOST_STEP}"
    )]
    Columns {
        /// Bytes of a step.
        step: u32,
        /// Bytes of a line.
        width: u32,
    },
    /// The assembler refused it.
    #[error("the assembler refused the routine: {0}")]
    Assembler(AssemblyError),
    /// A register or port the routine cannot drive.
    #[error("the board has no {0} that a routine could use")]
    Missing(&'static str),
}

/// A port write that selects a register, and the port that then takes its byte.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Select {
    pub index_port: u16,
    pub index: u8,
    pub data_port: u16,
}

/// A scroller by a table, ready to be written down.
#[derive(Clone, Debug)]
pub struct Routine {
    pub(crate) setup: WriteTable,
    pub(crate) mode: u8,
    pub(crate) text_mode: u8,
    pub(crate) segment: u32,
    pub(crate) status: u16,
    pub(crate) no_display: u8,
    pub(crate) retrace: u8,
    /// Upper and lower byte of the start address.
    pub(crate) start: [Select; 2],
    /// Places that differ, less one: a power of two less one, in words.
    pub(crate) ring_mask: u32,
    /// First position, in words.
    pub(crate) first: u32,
    /// Words of a step.
    pub(crate) stride: u32,
    /// Bytes of a step.
    pub(crate) step: u32,
    pub(crate) pitch: u32,
    pub(crate) height: u32,
    /// First byte of a line that is picture, and the first after them.
    pub(crate) clear: (u32, u32),
    pub(crate) bordered: bool,
    /// Words to add to the position, for each step.
    pub(crate) ahead: Vec<u32>,
    /// Bytes from the position to the copy that is shown, for each step.
    pub(crate) shown: Vec<u32>,
    /// Bytes from the position to each copy.
    pub(crate) copies: Vec<u32>,
    /// Steps of art the demonstration has.
    pub(crate) art_steps: u32,
}

impl Routine {
    /// Checks that a table can be carried out; its set-up is ordered for the monitor, where that is known.
    ///
    /// # Errors
    /// Says what of table, mode or board is in the way.
    pub fn new(
        adapter: &Arc<Adapter>,
        mode: &Mode,
        table: &StepTable,
        monitor: Option<&Monitor>,
    ) -> Result<Self, RoutineError> {
        let pixels = || RoutineError::Pixels(mode.name.clone());
        if table.step.1 > 0 || table.step.0 == 0 {
            return Err(RoutineError::Direction);
        }
        if table.cost.line_writes > 0 {
            return Err(RoutineError::WithinFrame { found: table.cost.line_writes });
        }
        if table.cost.jump > 1 {
            return Err(RoutineError::Jumps);
        }
        let found = table.steps.len();
        // The table comes round where its last step is followed by the first position, some repeats further on.
        let around =
            (found as u32 * table.stride).is_multiple_of(table.every.max(1)) && table.of_steps as usize >= found;
        if !around {
            return Err(RoutineError::Ends { found });
        }
        if found > MOST_STEPS {
            return Err(RoutineError::Steps { found });
        }
        let quiet = QuietFrame::new(adapter, &table.registers, &Plain);
        let (line, last) = (quiet.line(0, 0, 0), quiet.line(0, 0, table.height.saturating_sub(1)));
        let path = adapter.memory_path(&table.registers);
        let flat = (0..8).all(|offset| path.written(offset) == Some((offset, 1)));
        let whole = line.unit == 2 && line.bank == 0 && last.bank == 0 && line.mask == 0xFFFF;
        if bits_per_pixel(&quiet) != Ok(8) || !flat || !whole {
            return Err(pixels());
        }
        let clear = (table.border.left, table.width - table.border.right);
        let step = table.step.0;
        let beside = [table.border.left, table.border.right];
        let bordered = beside != [0, 0];
        if !step.is_multiple_of(2)
            || step > MOST_STEP
            || !(clear.1 - clear.0).is_multiple_of(step)
            || bordered && beside.iter().any(|columns| *columns < step)
        {
            return Err(RoutineError::Columns { step, width: clear.1 - clear.0 });
        }
        let bit = |signal, missing| adapter.status_mask(signal).ok_or(RoutineError::Missing(missing));
        let firmware = mode.firmware.as_ref().ok_or_else(|| RoutineError::Mode(mode.name.clone()))?;
        let group = table.height * step;
        Ok(Self {
            setup: WriteTable::new(adapter, mode, &table.registers, monitor),
            mode: firmware.number(),
            text_mode: adapter.firmware_text_mode().map_or(TEXT_MODE, FirmwareMode::number),
            segment: adapter.memory().window >> 4,
            status: adapter.port_of(&table.registers, PortRole::Status).ok_or(RoutineError::Missing("status port"))?,
            no_display: bit(StatusSignal::DisplayDisabled, "status bit for the active area")?,
            retrace: bit(StatusSignal::VerticalSync, "status bit for vertical retrace")?,
            start: start_bytes(adapter, &table.registers).ok_or(RoutineError::Missing("start address in two bytes"))?,
            ring_mask: table.ring - 1,
            first: table.steps.first().map_or(0, |step| step.position),
            stride: table.stride,
            step,
            pitch: table.pitch_bytes,
            height: table.height,
            clear,
            bordered,
            ahead: table.steps.iter().map(|step| step.ahead).collect(),
            shown: table.steps.iter().map(|step| table.copies[step.copy as usize] * 2).collect(),
            copies: table.copies.iter().map(|copy| copy * 2).collect(),
            art_steps: (MOST_ART / group.max(1)).min(VALUES / step).max(1),
        })
    }

    /// The assembly, assembled: a flat program to be loaded at 100h. Its demonstration goes on for `frames` steps and as many
    /// back, or as many as the assembly itself says.
    ///
    /// # Errors
    /// Where the assembler does not know what the routine is written in.
    pub fn to_program(&self, frames: Option<u32>) -> Result<Vec<u8>, RoutineError> {
        let defined: Vec<(&str, u32)> = frames.map(|frames| ("FRAMES", frames)).into_iter().collect();
        assemble(&self.to_assembly(), &defined).map_err(RoutineError::Assembler)
    }

    /// Groups of columns, each a step wide, that the picture has.
    pub(crate) fn groups(&self) -> u32 {
        (self.clear.1 - self.clear.0) / self.step
    }

    /// What stands above it, line by line.
    fn head(&self) -> Vec<String> {
        self.setup.head_of_routine()
    }
}

/// Upper and lower byte of the start address, where it is just these.
fn start_bytes(adapter: &Adapter, registers: &Registers) -> Option<[Select; 2]> {
    let field = adapter.field_info(adapter.start_address());
    let select = |at: usize| {
        let slice = field.bits.get(at).filter(|slice| slice.width == 8)?;
        match adapter.cell_writes(registers, slice.cell()?, 0).as_slice() {
            [(index_port, index), (data_port, _)] => {
                Some(Select { index_port: *index_port, index: *index, data_port: *data_port })
            }
            _ => None,
        }
    };
    match field.bits.len() {
        2 => Some([select(1)?, select(0)?]),
        _ => None,
    }
}
