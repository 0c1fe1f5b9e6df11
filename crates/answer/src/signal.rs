//! `signal`: rates, porches, sync, and whether the monitor takes them.

use backporch_bench::Bench;
use backporch_signal::{Axis, AxisError, Monitor, PolarityReading, Reading, SYNC_CAUTION, Signal, SyncPolarity};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the registers put on the monitor's cable.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum SignalsAnswer {
    /// A signal that a monitor can lock to, or at least be held against.
    Stable(Box<SignalAnswer>),
    /// No stable signal.
    Unstable(NoSignalAnswer),
}

/// Rates, porches and sync.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SignalAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode.
    pub mode: String,
    /// Dots a second.
    pub dot_clock_hz: f64,
    /// Dots of a scan line, blanking included.
    pub dots_per_line: u32,
    /// Scan lines of a frame, blanking included.
    pub lines_per_frame: u32,
    /// Scan lines a second.
    pub line_rate_hz: f64,
    /// Frames a second.
    pub frame_rate_hz: f64,
    /// The active area.
    pub active: ActiveAreaAnswer,
    /// Porches and sync of a line.
    pub horizontal: HorizontalAnswer,
    /// Porches and sync of a frame.
    pub vertical: VerticalAnswer,
    /// Polarity of the sync lines; null where it is not known.
    #[serde(default)]
    pub polarity: Option<PolarityAnswer>,
    /// What the bench's monitor makes of it; null without one.
    pub monitor: Option<MonitorAnswer>,
}

/// Size of the active area.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ActiveAreaAnswer {
    /// Dots across.
    pub dots: u32,
    /// Scan lines down.
    pub lines: u32,
}

/// Porches and sync of a line, in microseconds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HorizontalAnswer {
    /// From the active area to sync.
    pub front_porch_us: f64,
    /// Sync.
    pub sync_us: f64,
    /// From sync to the active area.
    pub back_porch_us: f64,
}

/// Porches and sync of a frame, in scan lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct VerticalAnswer {
    /// From the active area to sync.
    pub front_porch_lines: u32,
    /// Sync.
    pub sync_lines: u32,
    /// From sync to the active area.
    pub back_porch_lines: u32,
}

/// Polarity of the sync lines, `positive` or `negative`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PolarityAnswer {
    /// Of horizontal sync.
    pub horizontal: String,
    /// Of vertical sync.
    pub vertical: String,
}

/// A monitor's verdict on a signal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MonitorAnswer {
    /// The monitor.
    pub name: String,
    /// Whether it takes the signal.
    pub accepts: bool,
    /// Why it does not, a sentence a reason.
    pub reasons: Vec<String>,
    /// Every quantity held against its limits.
    #[serde(default)]
    pub readings: Vec<ReadingAnswer>,
    /// The polarity of sync against those it takes; null where that is not known, or the monitor takes any.
    #[serde(default)]
    pub polarity: Option<PolarityReadingAnswer>,
}

/// The polarity of sync held against those a monitor takes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PolarityReadingAnswer {
    /// The signal's polarity.
    pub value: PolarityAnswer,
    /// Polarities the monitor takes.
    pub allowed: Vec<PolarityAnswer>,
    /// Both in words.
    pub says: String,
    /// Whether the monitor takes it.
    pub holds: bool,
}

/// A quantity held against a monitor's limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadingAnswer {
    /// The quantity.
    pub what: String,
    /// The signal's value.
    pub value: f64,
    /// The monitor's lower limit.
    pub from: f64,
    /// The monitor's upper limit; null where it has none.
    pub to: Option<f64>,
    /// Value and limits in words.
    pub says: String,
    /// Whether it is within the limits.
    pub holds: bool,
    /// Distance to the nearer limit; negative outside of them.
    pub margin: f64,
    /// Unit of value, limits and margin.
    pub unit: String,
}

/// Why there is no stable signal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NoSignalAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode.
    pub mode: String,
    /// Always false.
    pub stable: bool,
    /// Why.
    pub reason: String,
}

impl SignalsAnswer {
    /// The signal of a bench under its registers.
    #[must_use]
    pub fn new(bench: &Bench) -> Self {
        match bench.adapter().signal(bench.registers()) {
            Ok(signal) => Self::Stable(Box::new(SignalAnswer::new(bench, &signal))),
            Err(error) => Self::Unstable(NoSignalAnswer::new(bench, &error)),
        }
    }

    /// Whether a monitor could show it, as far as is known.
    #[must_use]
    pub fn is_accepted(&self) -> bool {
        match self {
            Self::Stable(signal) => signal.monitor.as_ref().is_none_or(|monitor| monitor.accepts),
            Self::Unstable(_) => false,
        }
    }

    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Self::Stable(signal) => signal.text(),
            Self::Unstable(NoSignalAnswer { reason, .. }) => {
                format!("No stable signal: {reason}. A monitor would show nothing.\n\n{SYNC_CAUTION}\n")
            }
        }
    }
}

impl NoSignalAnswer {
    fn new(bench: &Bench, error: &AxisError) -> Self {
        Self {
            board: bench.adapter().name().to_string(),
            mode: bench.mode().name.clone(),
            stable: false,
            reason: error.to_string(),
        }
    }
}

impl SignalAnswer {
    /// A signal of the bench's board, held against the bench's monitor.
    #[must_use]
    pub fn new(bench: &Bench, signal: &Signal) -> Self {
        Self::of(bench.adapter().name(), &bench.mode().name, bench.monitor(), signal)
    }

    /// A signal of a board in a mode, held against a monitor.
    #[must_use]
    pub fn of(board: &str, mode: &str, monitor: Option<&Monitor>, signal: &Signal) -> Self {
        let Signal { dot_clock, horizontal, vertical, polarity } = signal;
        let us = |dots: fn(&Axis) -> u32| signal.microseconds(dots(horizontal));
        Self {
            board: board.to_string(),
            mode: mode.to_string(),
            dot_clock_hz: dot_clock.get(),
            dots_per_line: horizontal.total(),
            lines_per_frame: vertical.total(),
            line_rate_hz: signal.line_rate_hz(),
            frame_rate_hz: signal.frame_rate_hz(),
            active: ActiveAreaAnswer { dots: horizontal.active(), lines: vertical.active() },
            horizontal: HorizontalAnswer {
                front_porch_us: us(Axis::front_porch),
                sync_us: us(Axis::sync),
                back_porch_us: us(Axis::back_porch),
            },
            vertical: VerticalAnswer {
                front_porch_lines: vertical.front_porch(),
                sync_lines: vertical.sync(),
                back_porch_lines: vertical.back_porch(),
            },
            polarity: polarity.map(PolarityAnswer::new),
            monitor: monitor.map(|monitor| MonitorAnswer::new(monitor, signal)),
        }
    }

    /// Rates, porches and the monitor's verdict in three lines, to stand under a candidate.
    #[must_use]
    pub fn brief(&self) -> String {
        let Self { horizontal, vertical, .. } = self;
        let mut text = format!(
            "    signal      {:.3} kHz, {:.2} Hz; line: front porch {:.2} us, sync {:.2} us, back porch {:.2} us\n\
             \x20               frame: front porch {} lines, sync {}, back porch {}\n",
            self.line_rate_hz / 1e3,
            self.frame_rate_hz,
            horizontal.front_porch_us,
            horizontal.sync_us,
            horizontal.back_porch_us,
            vertical.front_porch_lines,
            vertical.sync_lines,
            vertical.back_porch_lines,
        );
        if let Some(monitor) = &self.monitor {
            let margins: Vec<String> = monitor.readings.iter().map(ReadingAnswer::margin).collect();
            let verdict = monitor.verdict();
            text += &format!("    monitor     {} {verdict}; margins: {}\n", monitor.name, margins.join(", "));
        }
        text
    }

    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let Self { horizontal, vertical, active, .. } = self;
        let mut text = format!(
            "{} in {}\n\
             dot clock     {:.5} MHz\n\
             line          {} dots, {:.3} kHz\n\
             frame         {} lines, {:.2} Hz\n\
             active area   {} dots x {} lines\n\
             horizontal    front porch {:.2} us, sync {:.2} us, back porch {:.2} us\n\
             vertical      front porch {} lines, sync {} lines, back porch {} lines\n",
            self.board,
            self.mode,
            self.dot_clock_hz / 1e6,
            self.dots_per_line,
            self.line_rate_hz / 1e3,
            self.lines_per_frame,
            self.frame_rate_hz,
            active.dots,
            active.lines,
            horizontal.front_porch_us,
            horizontal.sync_us,
            horizontal.back_porch_us,
            vertical.front_porch_lines,
            vertical.sync_lines,
            vertical.back_porch_lines,
        );
        if let Some(PolarityAnswer { horizontal, vertical }) = &self.polarity {
            text += &format!("polarity      horizontal {horizontal}, vertical {vertical}\n");
        }
        if let Some(monitor) = &self.monitor {
            text += &format!("monitor       {} {}\n", monitor.name, monitor.verdict());
            text.extend(monitor.readings.iter().map(ReadingAnswer::text));
            text.extend(monitor.polarity.iter().map(PolarityReadingAnswer::text));
            if !monitor.accepts {
                text += &format!("\n{SYNC_CAUTION}\n");
            }
        }
        text
    }
}

impl MonitorAnswer {
    fn new(monitor: &Monitor, signal: &Signal) -> Self {
        let judgement = monitor.judge(signal);
        Self {
            name: monitor.name.clone(),
            accepts: judgement.accepts(),
            reasons: judgement.reasons(),
            readings: judgement.readings.iter().map(ReadingAnswer::new).collect(),
            polarity: judgement.polarity.as_ref().map(PolarityReadingAnswer::new),
        }
    }

    fn verdict(&self) -> &'static str {
        if self.accepts { "takes it" } else { "does NOT take it" }
    }
}

impl PolarityAnswer {
    fn new(polarity: SyncPolarity) -> Self {
        let SyncPolarity { horizontal, vertical } = polarity;
        Self { horizontal: horizontal.name().to_string(), vertical: vertical.name().to_string() }
    }
}

impl PolarityReadingAnswer {
    fn new(reading: &PolarityReading) -> Self {
        Self {
            value: PolarityAnswer::new(reading.value),
            allowed: reading.allowed.iter().copied().map(PolarityAnswer::new).collect(),
            says: reading.to_string(),
            holds: reading.holds(),
        }
    }

    fn text(&self) -> String {
        let mark = if self.holds { "ok" } else { "OUT" };
        format!("              {mark:4}{}\n", self.says)
    }
}

impl ReadingAnswer {
    fn new(reading: &Reading) -> Self {
        Self {
            what: reading.what.to_string(),
            value: reading.value,
            from: reading.limit.from,
            to: Some(reading.limit.to).filter(|to| to.is_finite()),
            says: reading.to_string(),
            holds: reading.holds(),
            margin: reading.margin(),
            unit: reading.unit.to_string(),
        }
    }

    fn margin(&self) -> String {
        format!("{} {:.2} {}", self.what, self.margin, self.unit)
    }

    fn text(&self) -> String {
        let mark = if self.holds { "ok" } else { "OUT" };
        format!("              {mark:4}{}, margin {:.2} {}\n", self.says, self.margin, self.unit)
    }
}
