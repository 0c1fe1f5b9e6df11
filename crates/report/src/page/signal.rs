//! What goes to the monitor: rates, porches, sync, margins.

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_signal::{PolarityReading, Signal};

use super::gauge::{Gauge, quantity};
use super::part::NamedValue;
use super::plot::AxisPlot;

/// The signal and what the monitor makes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct SignalPart {
    /// Rates and sizes.
    pub rows: Vec<NamedValue>,
    /// Why there is no stable signal, where there is none.
    pub unstable: Option<String>,
    pub(super) line: Option<AxisPlot>,
    pub(super) frame: Option<AxisPlot>,
    pub(super) line_parts: Vec<NamedValue>,
    pub(super) frame_parts: Vec<NamedValue>,
    /// The monitor, in words, and whether it takes the signal.
    pub monitor: Option<(String, bool)>,
    /// Margins of the monitor.
    pub gauges: Vec<Gauge>,
    /// The polarity of sync, where the monitor asks for one.
    pub polarity: Option<PolarityReading>,
}

impl SignalPart {
    /// The signal of a bench under these registers, held against its monitor.
    #[must_use]
    pub fn new(bench: &Bench, registers: &Registers) -> Self {
        let mut part = Self {
            rows: Vec::new(),
            unstable: None,
            line: None,
            frame: None,
            line_parts: Vec::new(),
            frame_parts: Vec::new(),
            monitor: None,
            gauges: Vec::new(),
            polarity: None,
        };
        match bench.adapter().signal(registers) {
            Ok(signal) => part.fill(bench, &signal),
            Err(error) => part.unstable = Some(error.to_string()),
        }
        part
    }

    fn fill(&mut self, bench: &Bench, signal: &Signal) {
        let Signal { dot_clock, horizontal, vertical, polarity } = signal;
        let dots = |dots: u32| format!("{dots} dots, {}", quantity(signal.microseconds(dots), "us"));
        let lines =
            |lines: u32| format!("{lines} lines, {}", quantity(signal.microseconds(lines * horizontal.total()), "us"));
        self.rows = vec![
            NamedValue::new("Dot clock", dot_clock.to_string()),
            NamedValue::new("Line rate", quantity(signal.line_rate_hz(), "Hz")),
            NamedValue::new("Frame rate", quantity(signal.frame_rate_hz(), "Hz")),
        ];
        self.rows.extend(polarity.map(|polarity| NamedValue::new("Sync polarity", polarity.to_string())));
        self.line = Some(AxisPlot::new(*horizontal));
        self.frame = Some(AxisPlot::new(*vertical));
        self.line_parts = vec![
            NamedValue::new("active", dots(horizontal.active())),
            NamedValue::new("front porch", dots(horizontal.front_porch())),
            NamedValue::new("sync", dots(horizontal.sync())),
            NamedValue::new("back porch", dots(horizontal.back_porch())),
        ];
        self.frame_parts = vec![
            NamedValue::new("active", lines(vertical.active())),
            NamedValue::new("front porch", lines(vertical.front_porch())),
            NamedValue::new("sync", lines(vertical.sync())),
            NamedValue::new("back porch", lines(vertical.back_porch())),
        ];
        if let Some(monitor) = bench.monitor() {
            let judgement = monitor.judge(signal);
            self.monitor = Some((monitor.title.clone(), judgement.accepts()));
            self.gauges = Gauge::all(&judgement);
            self.polarity = judgement.polarity;
        }
    }
}
