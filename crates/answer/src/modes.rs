//! `modes`: settings for a picture of a wanted size, rate and number of colours.

use std::collections::BTreeMap;

use backporch_adapter::Adapter;
use backporch_signal::{Monitor, SYNC_CAUTION};
use backporch_workaround::mode_search::{ModeNeed, ModeSearch, ModeSetting};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::passing::PassingAnswer;
use crate::signal::SignalAnswer;
use crate::words::{self, counted};

/// Settings for a picture, of one board or several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ModesAnswer {
    /// Pixels across that were asked for.
    pub width_px: u32,
    /// Picture lines that were asked for.
    pub height_px: u32,
    /// Slowest and fastest frame rate that will do; null where each mode's own was to be come near to.
    pub rate_hz: Option<[f64; 2]>,
    /// Least number of colours at once.
    pub colours: u32,
    /// The monitor.
    pub monitor: String,
    /// Settings, the largest on the glass first.
    pub settings: Vec<ModeSettingAnswer>,
    /// Modes without one.
    pub without: Vec<NoModeAnswer>,
    /// Read this before a setting is tried on a real monitor; null where no setting changes the signal of its mode.
    pub caution: Option<String>,
    /// The bench file that was written.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub out: Option<String>,
}

/// A setting for a picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ModeSettingAnswer {
    /// The adapter profile.
    pub board: String,
    /// Other profiles on which the same registers make the same picture.
    pub also_on: Vec<String>,
    /// The mode that it begins with.
    pub mode: String,
    /// Colours at once.
    pub colours: u32,
    /// Registers that differ from the mode's start-up values.
    pub registers: BTreeMap<String, u32>,
    /// Scan lines that show one picture line.
    pub scan_lines: u32,
    /// Bytes from one row of memory to the next.
    pub pitch_bytes: u32,
    /// Bytes of video memory that are shown.
    pub memory_bytes: u32,
    /// Share of line and frame that is picture.
    pub share: f64,
    /// The signal, held against the monitor.
    pub signal: SignalAnswer,
    /// What the monitor gets while it is set.
    pub passing: Option<PassingAnswer>,
}

/// A mode that makes no such picture.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct NoModeAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode.
    pub mode: String,
    /// Why.
    pub reason: String,
}

impl ModesAnswer {
    /// What was found on each of several boards.
    #[must_use]
    pub fn new<'a>(
        need: &ModeNeed,
        monitor: &Monitor,
        found: impl Iterator<Item = (&'a Adapter, &'a ModeSearch)> + Clone,
    ) -> Self {
        let mut settings: Vec<ModeSettingAnswer> = Vec::new();
        for (adapter, setting) in
            found.clone().flat_map(|(adapter, of)| of.settings.iter().map(move |one| (adapter, one)))
        {
            let answer = ModeSettingAnswer::new(adapter, monitor, setting);
            match settings.iter_mut().find(|known| known.is_like(&answer)) {
                Some(known) => known.also_on.push(answer.board),
                None => settings.push(answer),
            }
        }
        settings.sort_by(|one, other| other.share.total_cmp(&one.share));
        let changes =
            |setting: &ModeSettingAnswer| setting.passing.as_ref().is_none_or(|passing| passing.signal_changes > 0);
        let without = found.flat_map(|(adapter, of)| {
            let board = adapter.name();
            of.without.iter().map(move |(mode, reason)| NoModeAnswer {
                board: board.to_string(),
                mode: mode.clone(),
                reason: reason.to_string(),
            })
        });
        Self {
            width_px: need.width,
            height_px: need.height,
            rate_hz: need.rate.map(|rate| [rate.from, rate.to]),
            colours: need.colours,
            monitor: monitor.name.clone(),
            caution: settings.iter().any(changes).then(|| SYNC_CAUTION.to_string()),
            without: without.collect(),
            settings,
            out: None,
        }
    }

    /// The answer in words, with `most` settings at most.
    #[must_use]
    pub fn text(&self, most: usize) -> String {
        let rate = self.rate_hz.map_or_else(String::new, |[from, to]| format!(", {from:.2} to {to:.2} Hz"));
        let (width, height, monitor) = (self.width_px, self.height_px, &self.monitor);
        let found = counted(self.settings.len() as u64, "setting");
        let mut text =
            format!("{width} x {height} pixels{rate}, {} colours at least, on {monitor}: {found}\n", self.colours);
        for (number, setting) in (1..).zip(self.settings.iter().take(most)) {
            text += &format!("\n{number:2}  {}", setting.text());
        }
        if let left @ 1.. = self.settings.len().saturating_sub(most) {
            text += &format!("\n  … and {left} more; --most or --format json has them all\n");
        }
        if self.settings.is_empty() {
            text += "\nNo setting makes it:\n";
            text.extend(self.reasons());
        }
        if let Some(path) = &self.out {
            text += &format!("\nwritten: {path}\n");
        }
        if let Some(caution) = &self.caution {
            text += &format!("\n{caution}\n");
        }
        text
    }

    /// A line for each board and reason.
    fn reasons(&self) -> impl Iterator<Item = String> {
        let mut by_reason: Vec<(&str, &str, Vec<&str>)> = Vec::new();
        for NoModeAnswer { board, mode, reason } in &self.without {
            match by_reason.iter_mut().find(|(of, why, _)| of == board && why == reason) {
                Some((_, _, modes)) => modes.push(mode),
                None => by_reason.push((board, reason, vec![mode])),
            }
        }
        by_reason.into_iter().map(|(board, reason, modes)| format!("  {board} {}: {reason}\n", modes.join(", ")))
    }
}

impl ModeSettingAnswer {
    fn new(adapter: &Adapter, monitor: &Monitor, setting: &ModeSetting) -> Self {
        let mode = adapter.mode(&setting.mode).unwrap_or_else(|| adapter.default_mode());
        let start_up = adapter.start_up(mode);
        let changed = adapter.fields().filter_map(|(field, info)| {
            let value = adapter.get(&setting.registers, field);
            (value != adapter.get(&start_up, field)).then(|| (info.name.clone(), value))
        });
        Self {
            board: adapter.name().to_string(),
            also_on: Vec::new(),
            mode: setting.mode.clone(),
            colours: setting.colours,
            registers: changed.collect(),
            scan_lines: setting.scan_lines,
            pitch_bytes: setting.pitch_bytes,
            memory_bytes: setting.memory_bytes,
            share: setting.share(),
            signal: SignalAnswer::of(adapter.name(), &setting.mode, Some(monitor), &setting.signal),
            passing: PassingAnswer::new(adapter, mode, Some(monitor), &setting.registers),
        }
    }

    /// Whether the same registers make the same on two boards.
    fn is_like(&self, other: &Self) -> bool {
        let same_signal = SignalAnswer { board: self.board.clone(), ..other.signal.clone() } == self.signal;
        same_signal && self.mode == other.mode && self.registers == other.registers && self.colours == other.colours
    }

    fn text(&self) -> String {
        let also = if self.also_on.is_empty() { String::new() } else { format!(" (and {})", self.also_on.join(", ")) };
        let registers = words::settings(&self.registers);
        let registers = if registers.is_empty() { "the mode's own".to_string() } else { registers };
        format!(
            "{}{also} in {}: {} colours, {:.2} Hz, {:.0} % of line and frame are picture\n\
             \x20   registers   {registers}\n\
             {}\
             \x20   picture     {} dots of {} across, {} of {} scan lines, {} to a picture line\n\
             \x20   memory      {} bytes, pitch {} bytes\n\
             {}",
            self.board,
            self.mode,
            self.colours,
            self.signal.frame_rate_hz,
            100.0 * self.share,
            self.signal.brief(),
            self.signal.active.dots,
            self.signal.dots_per_line,
            self.signal.active.lines,
            self.signal.lines_per_frame,
            self.scan_lines,
            self.memory_bytes,
            self.pitch_bytes,
            PassingAnswer::brief(self.passing.as_ref()),
        )
    }
}
