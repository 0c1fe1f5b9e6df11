//! Needs that no setting can meet, answered in words.

use backporch_bench::Bench;
use backporch_signal::{Judgement, Monitor};
use thiserror::Error;

use super::need::{Direction, Need};
use super::offer::{step_lines, step_pixels};
use super::setting::Setting;

/// Why there is nothing to search: an answer, not a mistake of the program's.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Impossible {
    /// No fault to get around.
    #[error("there is no fault to get around: name a quirk, a bench that has one, or a diagnosis")]
    NoFault,
    /// The bench shows no picture.
    #[error("the bench's registers show no pixels, so there is no picture to keep")]
    NoPicture,
    /// No stable signal anywhere.
    #[error("neither the mode's start-up values nor the bench's registers make a stable signal to centre by")]
    NoSignal,
    /// A step that the address counter cannot make.
    #[error("a step of {found} {what} cannot be made: the start address moves the picture by {unit} at a time")]
    Step {
        /// Step asked for.
        found: u32,
        /// Pixels or lines.
        what: &'static str,
        /// The board's own step.
        unit: u32,
    },
    /// Start addresses that show the same memory again.
    #[error("start addresses go to {found}, but from {ring} on the board shows the same memory again")]
    Starts {
        /// Last start address asked for.
        found: u32,
        /// Start addresses that differ.
        ring: u32,
    },
    /// Memory is both scrolled through whole and kept free.
    #[error(
        "an endless scroll goes through all {used} bytes that are shown, so of the board's {bytes} bytes no \
         {kept} can be kept free"
    )]
    Memory {
        /// Bytes to be kept free.
        kept: u32,
        /// Bytes the scroll uses.
        used: u32,
        /// Bytes of the board.
        bytes: u32,
    },
    /// No setting is as large as needed.
    #[error("no setting of the registers that may change shows {width} x {height} pixels{}", crowd(*crowded))]
    Size {
        /// Least width.
        width: u32,
        /// Least height.
        height: u32,
        /// Settings whose picture is larger than memory.
        crowded: u32,
    },
    /// Every setting is refused by the monitor.
    #[error("the monitor {monitor} refuses every setting of this size: {reason}")]
    Monitor {
        /// The monitor.
        monitor: String,
        /// Its first reason.
        reason: String,
    },
}

fn crowd(crowded: u32) -> String {
    match crowded {
        0 => String::new(),
        crowded => format!(": {crowded} settings would, but their picture is larger than memory"),
    }
}

impl Impossible {
    pub(super) fn monitor(monitor: &Monitor, judgement: &Judgement) -> Self {
        let reason = judgement.reasons().into_iter().next().unwrap_or_default();
        Self::Monitor { monitor: monitor.name.clone(), reason }
    }

    pub(super) fn size((width, height): (u32, u32), crowded: u32) -> Self {
        Self::Size { width, height, crowded }
    }
}

/// Checks a need against the board's own steps, start addresses and memory.
pub(super) fn check(bench: &Bench, need: &Need, own: &Setting) -> Result<(), Impossible> {
    let (across, down) = (own.pixels_of_unit(), own.lines_of_row);
    let (pixels, lines) = (step_pixels(need, own), step_lines(need, own));
    if need.direction != Direction::Vertical && pixels % across != 0 || need.step_pixels == Some(0) {
        return Err(Impossible::Step { found: need.step_pixels.unwrap_or(0), what: "pixels", unit: across });
    }
    if need.direction != Direction::Horizontal && lines % down != 0 || need.step_lines == Some(0) {
        return Err(Impossible::Step { found: need.step_lines.unwrap_or(0), what: "lines", unit: down });
    }
    match &need.starts {
        Some(range) if *range.end() >= own.starts => {
            return Err(Impossible::Starts { found: *range.end(), ring: own.starts });
        }
        Some(_) => {}
        None => {
            let (used, bytes) = (own.places * own.line.unit * own.banks(), bench.adapter().memory().bytes);
            if bytes.saturating_sub(used) < need.keep_free {
                return Err(Impossible::Memory { kept: need.keep_free, used, bytes });
            }
        }
    }
    Ok(())
}
