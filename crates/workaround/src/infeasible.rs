//! Needs that no setting can meet, answered in words.

use backporch_bench::Bench;
use backporch_signal::{Judgement, Monitor};
use thiserror::Error;

use crate::claims::{step_lines, step_pixels};
use crate::requirements::{Direction, Requirements};
use crate::setting::Setting;

/// Why there is nothing to search: an answer, not a mistake of the program's.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Infeasible {
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
    /// The mode has too few colours.
    #[error("the mode shows {found} colours, {wanted} are needed: `modes` finds settings that show them")]
    Colours {
        /// Colours it has.
        found: u32,
        /// Least asked for.
        wanted: u32,
    },
    /// The frame rate is another one.
    #[error("the bench makes {found} frames a second, {wanted} are needed: `modes` finds settings at such rates")]
    Rate {
        /// Its frame rate in hertz.
        found: String,
        /// Those asked for.
        wanted: String,
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

impl Infeasible {
    pub(crate) fn monitor(monitor: &Monitor, judgement: &Judgement) -> Self {
        let reason = judgement.reasons().into_iter().next().unwrap_or_default();
        Self::Monitor { monitor: monitor.name.clone(), reason }
    }

    pub(crate) fn size((width, height): (u32, u32), crowded: u32) -> Self {
        Self::Size { width, height, crowded }
    }
}

/// Checks the requirements against the board's own steps, start addresses and memory.
pub(crate) fn check(bench: &Bench, requirements: &Requirements, own: &Setting) -> Result<(), Infeasible> {
    let colours = own.colours(bench.adapter());
    if let Some(wanted) = requirements.colours.filter(|wanted| *wanted > colours) {
        return Err(Infeasible::Colours { found: colours, wanted });
    }
    if let (Some(rate), Ok(signal)) = (&requirements.rate, bench.adapter().signal(bench.registers()))
        && !rate.takes(signal.frame_rate_hz())
    {
        let found = format!("{:.2}", signal.frame_rate_hz());
        return Err(Infeasible::Rate { found, wanted: format!("{:.2} to {:.2}", rate.from, rate.to) });
    }
    let (across, down) = (own.pixels_of_unit(), own.lines_of_row);
    let (pixels, lines) = (step_pixels(requirements, own), step_lines(requirements, own));
    if requirements.direction != Direction::Vertical && pixels % across != 0 || requirements.step_pixels == Some(0) {
        return Err(Infeasible::Step { found: requirements.step_pixels.unwrap_or(0), what: "pixels", unit: across });
    }
    if requirements.direction != Direction::Horizontal && lines % down != 0 || requirements.step_lines == Some(0) {
        return Err(Infeasible::Step { found: requirements.step_lines.unwrap_or(0), what: "lines", unit: down });
    }
    match &requirements.starts {
        Some(range) if *range.end() >= own.starts => {
            return Err(Infeasible::Starts { found: *range.end(), ring: own.starts });
        }
        Some(_) => {}
        None => {
            let (used, bytes) = (own.places * own.line.unit * own.banks(), bench.adapter().memory().bytes);
            if bytes.saturating_sub(used) < requirements.keep_free {
                return Err(Infeasible::Memory { kept: requirements.keep_free, used, bytes });
            }
        }
    }
    Ok(())
}
