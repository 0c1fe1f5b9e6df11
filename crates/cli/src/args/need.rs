//! What the routine needs, as it is typed.

use std::path::PathBuf;

use anyhow::Result;
use backporch_adapter::Adapter;
use backporch_bench::Bench;
use backporch_input::{InputError, Source};
use backporch_workaround::{Direction, Origin, Requirements, RequirementsFile, may_change};
use clap::{Args, ValueEnum};

use super::BenchArgs;
use super::values::{StartsArg, small, starts};

/// What the routine needs: a file, or one option for each of its fields.
#[derive(Debug, Args)]
pub struct NeedArgs {
    /// A file that says what the routine needs; options below go before it
    #[arg(long, value_name = "FILE")]
    pub need: Option<PathBuf>,
    /// Which way the picture scrolls
    #[arg(long, value_enum)]
    pub direction: Option<DirectionArg>,
    /// Pixels a horizontal step moves the picture
    #[arg(long, value_name = "PIXELS", value_parser = small)]
    pub step: Option<u32>,
    /// Picture lines a vertical step moves it
    #[arg(long, value_name = "LINES", value_parser = small)]
    pub step_lines: Option<u32>,
    /// Start addresses it shows: `endless`, or a range as the register holds them
    #[arg(long, value_name = "RANGE", value_parser = starts)]
    pub starts: Option<StartsArg>,
    /// Let the range of start addresses begin anywhere
    #[arg(long)]
    pub free_origin: bool,
    /// Least pixels across
    #[arg(long, value_name = "PIXELS", value_parser = small)]
    pub least_width: Option<u32>,
    /// Least picture lines
    #[arg(long, value_name = "LINES", value_parser = small)]
    pub least_height: Option<u32>,
    /// A register that may change (again for more) [default: all that matter]
    #[arg(long, value_name = "REGISTER")]
    pub may_change: Vec<String>,
    /// Bytes of video memory the routine keeps for itself
    #[arg(long, value_name = "BYTES", value_parser = small)]
    pub keep_free: Option<u32>,
    /// List settings that the monitor refuses, too
    #[arg(long)]
    pub out_of_margin: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DirectionArg {
    Horizontal,
    Vertical,
    Both,
}

impl NeedArgs {
    /// The bench and the need, the need's own mode and monitor on the bench.
    pub fn open(&self, bench: &BenchArgs) -> Result<(Bench, Requirements)> {
        let mut overrides = bench.overrides();
        let mut written = None;
        if let Some(path) = &self.need {
            let source = Source::read(path)?;
            let file = RequirementsFile::from_source(&source)?;
            overrides.mode = overrides.mode.or_else(|| file.mode.clone());
            overrides.monitor = overrides.monitor.or_else(|| file.monitor.clone());
            written = Some((file, source));
        }
        let bench = Bench::open(&bench.bench, &overrides)?;
        let mut need = match &written {
            Some((file, source)) => file.requirements(source, bench.adapter())?,
            None => Requirements::default(),
        };
        self.lay_over(bench.adapter(), &mut need)?;
        Ok((bench, need))
    }

    /// Lays what was typed over the need.
    fn lay_over(&self, adapter: &Adapter, need: &mut Requirements) -> Result<()> {
        need.direction = self.direction.map_or(need.direction, Direction::from);
        match self.starts {
            Some(StartsArg::Endless) => need.starts = None,
            Some(StartsArg::Range(from, to)) => need.starts = Some(from..=to),
            None => {}
        }
        need.step_pixels = self.step.or(need.step_pixels);
        need.step_lines = self.step_lines.or(need.step_lines);
        need.least_width = self.least_width.or(need.least_width);
        need.least_height = self.least_height.or(need.least_height);
        need.keep_free = self.keep_free.unwrap_or(need.keep_free);
        need.out_of_margin |= self.out_of_margin;
        if self.free_origin {
            need.origin = Origin::Free;
        }
        if !self.may_change.is_empty() {
            let roles = self.may_change.iter().map(|name| may_change(adapter, name));
            let roles = roles.collect::<Result<_, _>>();
            need.may_change = roles.map_err(|error| InputError::new("--may-change", error.found(), error.allowed()))?;
        }
        Ok(())
    }
}

impl From<DirectionArg> for Direction {
    fn from(direction: DirectionArg) -> Self {
        match direction {
            DirectionArg::Horizontal => Self::Horizontal,
            DirectionArg::Vertical => Self::Vertical,
            DirectionArg::Both => Self::Both,
        }
    }
}
