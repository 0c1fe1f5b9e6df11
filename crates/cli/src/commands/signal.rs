//! `signal`: rates, porches, sync, and what the monitor says.

use anyhow::Result;
use backporch_bench::Bench;
use backporch_signal::{Axis, Monitor, SYNC_CAUTION, Signal};
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::SignalArgs;

/// The JSON form.
#[derive(Debug, Serialize)]
pub struct SignalAnswer {
    board: String,
    mode: String,
    dot_clock_hz: f64,
    dots_per_line: u32,
    lines_per_frame: u32,
    line_rate_hz: f64,
    frame_rate_hz: f64,
    active: Active,
    horizontal: Horizontal,
    vertical: Vertical,
    monitor: Option<MonitorAnswer>,
}

#[derive(Debug, Serialize)]
struct Active {
    dots: u32,
    lines: u32,
}

#[derive(Debug, Serialize)]
struct Horizontal {
    front_porch_us: f64,
    sync_us: f64,
    back_porch_us: f64,
}

#[derive(Debug, Serialize)]
struct Vertical {
    front_porch_lines: u32,
    sync_lines: u32,
    back_porch_lines: u32,
}

#[derive(Debug, Serialize)]
struct MonitorAnswer {
    name: String,
    accepts: bool,
    reasons: Vec<String>,
    #[serde(skip)]
    readings: Vec<String>,
    #[serde(skip)]
    margins: Vec<String>,
}

/// No stable signal, in JSON.
#[derive(Debug, Serialize)]
struct NoSignal {
    board: String,
    mode: String,
    stable: bool,
    reason: String,
}

pub fn run(args: &SignalArgs, answer: &mut Answer) -> Result<Found> {
    let bench = Bench::open(&args.bench.bench, &args.bench.overrides())?;
    super::frame::say_notes(&bench, answer)?;
    match bench.adapter().signal(bench.registers()) {
        Ok(signal) => {
            let told = SignalAnswer::new(&bench, &signal);
            answer.give(&told, SignalAnswer::text)?;
            let refused = told.monitor.is_some_and(|monitor| !monitor.accepts);
            Ok(if refused { Found::Something } else { Found::Nothing })
        }
        Err(error) => {
            let told = NoSignal {
                board: bench.adapter().name().to_string(),
                mode: bench.mode().name.clone(),
                stable: false,
                reason: error.to_string(),
            };
            answer.give(&told, |told| {
                format!("No stable signal: {}. A monitor would show nothing.\n\n{SYNC_CAUTION}\n", told.reason)
            })?;
            Ok(Found::Something)
        }
    }
}

impl SignalAnswer {
    pub fn new(bench: &Bench, signal: &Signal) -> Self {
        let Signal { dot_clock, horizontal, vertical } = signal;
        let us = |dots: fn(&Axis) -> u32| signal.microseconds(dots(horizontal));
        Self {
            board: bench.adapter().name().to_string(),
            mode: bench.mode().name.clone(),
            dot_clock_hz: dot_clock.get(),
            dots_per_line: horizontal.total(),
            lines_per_frame: vertical.total(),
            line_rate_hz: signal.line_rate_hz(),
            frame_rate_hz: signal.frame_rate_hz(),
            active: Active { dots: horizontal.active(), lines: vertical.active() },
            horizontal: Horizontal {
                front_porch_us: us(Axis::front_porch),
                sync_us: us(Axis::sync),
                back_porch_us: us(Axis::back_porch),
            },
            vertical: Vertical {
                front_porch_lines: vertical.front_porch(),
                sync_lines: vertical.sync(),
                back_porch_lines: vertical.back_porch(),
            },
            monitor: bench.monitor().map(|monitor| MonitorAnswer::new(monitor, signal)),
        }
    }

    /// Rates, porches and the monitor's verdict in three lines, to stand under a candidate.
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
            let verdict = if monitor.accepts { "takes it" } else { "does NOT take it" };
            let margins = monitor.margins.join(", ");
            text += &format!("    monitor     {} {verdict}; margins: {margins}\n", monitor.name);
        }
        text
    }

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
        if let Some(monitor) = &self.monitor {
            let verdict = if monitor.accepts { "takes it" } else { "does NOT take it" };
            text += &format!("monitor       {} {verdict}\n", monitor.name);
            for reading in &monitor.readings {
                text += &format!("              {reading}\n");
            }
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
        let margin =
            |reading: &backporch_signal::Reading| format!("{} {:.2} {}", reading.what, reading.margin(), reading.unit);
        let line = |reading: &backporch_signal::Reading| {
            let mark = if reading.holds() { "ok" } else { "OUT" };
            format!("{mark:4}{reading}, margin {:.2} {}", reading.margin(), reading.unit)
        };
        Self {
            name: monitor.name.clone(),
            accepts: judgement.accepts(),
            reasons: judgement.reasons(),
            readings: judgement.readings.iter().map(line).collect(),
            margins: judgement.readings.iter().map(margin).collect(),
        }
    }
}
