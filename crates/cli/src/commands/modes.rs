//! `modes`: register settings for a picture of a wanted size, rate and number of colours, on a monitor.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Result, anyhow};
use backporch_adapter::{ADAPTERS, Adapter};
use backporch_answer::{ModeSettingAnswer, ModesAnswer};
use backporch_bench::{BenchFile, PictureRef, ResourceKind};
use backporch_input::{InputError, Number, Source, Version1};
use backporch_signal::Monitor;
use backporch_workaround::RequirementsFile;
use backporch_workaround::mode_search::{ModeNeed, ModeSearch, RateWanted, modes};
use clap::Args;

use crate::args::{known, pixels, rate, small};
use crate::files;
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct ModesArgs {
    /// Size of the picture in pixels
    #[arg(long, value_name = "WIDTHxHEIGHT", value_parser = pixels, required_unless_present = "need")]
    pub size: Option<(u32, u32)>,
    /// Frame rate: what rounds to it, or a range [default: each mode's own as nearly as may be]
    #[arg(long, value_name = "HZ|FROM..=TO", value_parser = rate)]
    pub rate: Option<RateWanted>,
    /// Least number of colours at once [default: 2]
    #[arg(long, value_name = "NUMBER", value_parser = small)]
    pub colours: Option<u32>,
    /// The monitor it is for
    #[arg(long, value_name = "NAME|FILE", value_parser = known::monitor(), hide_possible_values = true, required_unless_present = "need")]
    pub monitor: Option<String>,
    /// An adapter that may make it (again for more) [default: every built-in one]
    #[arg(long = "board", value_name = "NAME|FILE", value_parser = known::board(), hide_possible_values = true)]
    pub boards: Vec<String>,
    /// A file that says what the routine needs: its size, rate_hz, colours, mode and monitor; options go before it
    #[arg(long, value_name = "FILE")]
    pub need: Option<PathBuf>,
    /// Settings printed
    #[arg(long, value_name = "NUMBER", default_value_t = 4)]
    pub most: usize,
    /// Where to write a bench with a setting
    #[arg(long, value_name = "BENCH")]
    pub out: Option<PathBuf>,
    /// Which setting that bench gets
    #[arg(long, value_name = "NUMBER", default_value_t = 1, requires = "out")]
    pub take: usize,
}

/// Everything that was asked for, from file and options.
struct Wanted {
    need: ModeNeed,
    monitor: Monitor,
    /// The monitor as a bench names it.
    monitor_name: String,
    /// The only mode to look at.
    mode: Option<String>,
}

pub fn run(args: &ModesArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["ron"])?;
    let wanted = args.wanted()?;
    let boards = args.boards()?;
    let found: Vec<(Arc<Adapter>, ModeSearch)> = boards
        .into_iter()
        .map(|adapter| {
            let mut found = modes(&adapter, &wanted.monitor, &wanted.need);
            if let Some(only) = &wanted.mode {
                found.settings.retain(|setting| setting.mode == *only);
                found.without.retain(|(mode, _)| mode == only);
            }
            (adapter, found)
        })
        .collect();
    let pairs = found.iter().map(|(adapter, found)| (adapter.as_ref(), found));
    let mut answer = ModesAnswer::new(&wanted.need, &wanted.monitor, pairs);
    if let Some(path) = args.out.as_deref().filter(|_| !answer.settings.is_empty()) {
        let taken = args.take.checked_sub(1).and_then(|at| answer.settings.get(at));
        let allowed = || format!("1..={}", answer.settings.len());
        let taken = taken.ok_or_else(|| InputError::new("--take", args.take, allowed()))?;
        let bench = args.bench(taken, &wanted);
        files::write(output, path, bench.to_text().as_bytes())?;
        answer.out = Some(path.display().to_string());
    }
    output.answer(&answer, |answer| answer.text(args.most))?;
    Ok(if answer.settings.is_empty() { CheckResult::Something } else { CheckResult::Nothing })
}

impl ModesArgs {
    fn wanted(&self) -> Result<Wanted> {
        let file = self.need.as_deref().map(Source::read).transpose()?;
        let file = file.as_ref().map(RequirementsFile::from_source).transpose()?.unwrap_or_default();
        // Every number was checked when the file was read.
        let small = |number: Number| u64::from(number).min(u64::from(u32::MAX)) as u32;
        let size = self.size.or(file.size.map(|size| (small(size.width), small(size.height))));
        let missing = |option: &'static str, what: &'static str| anyhow!("no {what} is named: {option} names one");
        let (width, height) = size.ok_or_else(|| missing("--size", "size"))?;
        let monitor_name =
            self.monitor.clone().or(file.monitor.clone()).ok_or_else(|| missing("--monitor", "monitor"))?;
        let monitor = Monitor::open(&monitor_name, Path::new(""))?;
        let colours = self.colours.or(file.colours.map(small)).unwrap_or(2);
        let need = ModeNeed { width, height, rate: self.rate.or(file.rate()), colours };
        Ok(Wanted { need, monitor, monitor_name, mode: file.mode })
    }

    fn boards(&self) -> Result<Vec<Arc<Adapter>>> {
        let named = self.boards.iter().map(String::as_str);
        let names: Vec<&str> = if self.boards.is_empty() { ADAPTERS.names().collect() } else { named.collect() };
        Ok(names.into_iter().map(|name| Adapter::open(name, Path::new(""))).collect::<Result<_, _>>()?)
    }

    /// A bench with a setting and a picture to look at.
    fn bench(&self, setting: &ModeSettingAnswer, wanted: &Wanted) -> BenchFile {
        let is_of_board =
            |name: &&String| Adapter::open(name, Path::new("")).is_ok_and(|adapter| adapter.name() == setting.board);
        let board = self.boards.iter().find(is_of_board).unwrap_or(&setting.board);
        let (width, height) = (wanted.need.width, wanted.need.height);
        BenchFile {
            version: Version1,
            title: format!(
                "{width} x {height} pixels at {:.2} Hz on {}",
                setting.signal.frame_rate_hz, wanted.monitor_name
            ),
            adapter: from_anywhere(ResourceKind::Adapter, board),
            mode: Some(setting.mode.clone()),
            registers: setting.registers.iter().map(|(name, value)| (name.clone(), u64::from(*value).into())).collect(),
            plain: false,
            quirks: Vec::new(),
            picture: Some(PictureRef::new("harbour".to_string())),
            overlays: Vec::new(),
            memory: None,
            routine: None,
            cpu: None,
            machine: Default::default(),
            monitor: Some(from_anywhere(ResourceKind::Monitor, &wanted.monitor_name)),
            seed: 0,
        }
    }
}

/// A name as a bench in any folder has it: built in, or a whole path.
fn from_anywhere(kind: ResourceKind, name: &str) -> String {
    let whole = || std::path::absolute(name).map_or_else(|_| name.to_string(), |path| path.display().to_string());
    if kind.built_in().contains(&name) { name.to_string() } else { whole() }
}
