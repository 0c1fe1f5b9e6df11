//! What goes to the monitor: rates, porches, sync, margins.

use askama::Template;
use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_signal::{Judgement, Reading, Signal};

use super::part::Row;
use super::plot::AxisPlot;

/// The signal and what the monitor makes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct SignalPart {
    /// Rates and sizes.
    pub rows: Vec<Row>,
    /// Why there is no stable signal, where there is none.
    pub unstable: Option<String>,
    pub(super) line: Option<AxisPlot>,
    pub(super) frame: Option<AxisPlot>,
    pub(super) line_parts: Vec<Row>,
    pub(super) frame_parts: Vec<Row>,
    /// The monitor, in words, and whether it takes the signal.
    pub monitor: Option<(String, bool)>,
    /// Margins of the monitor.
    pub gauges: Vec<Gauge>,
}

/// A reading between the limits of a monitor.
#[derive(Clone, Debug, PartialEq, Template)]
#[template(path = "gauge.svg")]
pub struct Gauge {
    /// What was measured.
    pub what: String,
    /// Its value, with its unit.
    pub value: String,
    /// What the monitor takes.
    pub allowed: String,
    /// Distance to the nearer limit.
    pub margin: String,
    /// Whether it lies inside.
    pub holds: bool,
    /// Place on the scale, whose limits lie at 20 and 80 of 100.
    at: f64,
    /// Whether there is an upper limit.
    closed: bool,
}

impl Gauge {
    /// A reading as a gauge.
    #[must_use]
    pub fn new(reading: &Reading) -> Self {
        let (from, to) = (reading.limit.from, reading.limit.to);
        let closed = to.is_finite();
        // Without an upper limit, three times the lower one stands where it would.
        let span = if closed { to - from } else { 2.0 * from };
        let share = if span > 0.0 { (reading.value - from) / span } else { 0.5 };
        let number = |value: f64| quantity(value, reading.unit);
        Self {
            what: reading.what.to_string(),
            value: number(reading.value),
            allowed: match closed {
                true => format!("{} to {}", number(from), number(to)),
                false => format!("at least {}", number(from)),
            },
            margin: match reading.holds() {
                true => format!("{} to spare", number(reading.margin())),
                false => format!("{} outside", number(-reading.margin())),
            },
            holds: reading.holds(),
            at: (20.0 + 60.0 * share).clamp(3.0, 97.0),
            closed,
        }
    }

    /// All readings of a monitor as gauges.
    #[must_use]
    pub fn all(judgement: &Judgement) -> Vec<Self> {
        judgement.readings.iter().map(Self::new).collect()
    }

    fn place(&self) -> String {
        format!("{:.1}", self.at)
    }
}

/// A value as people say it.
fn quantity(value: f64, unit: &str) -> String {
    match unit {
        "Hz" if value.abs() >= 1000.0 => format!("{:.3} kHz", value / 1000.0),
        "us" if value.abs() >= 1000.0 => format!("{:.2} ms", value / 1000.0),
        "us" => format!("{value:.2} µs"),
        unit => format!("{value:.2} {unit}"),
    }
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
        };
        match bench.adapter().signal(registers) {
            Ok(signal) => part.fill(bench, &signal),
            Err(error) => part.unstable = Some(error.to_string()),
        }
        part
    }

    fn fill(&mut self, bench: &Bench, signal: &Signal) {
        let Signal { dot_clock, horizontal, vertical } = signal;
        let dots = |dots: u32| format!("{dots} dots, {}", quantity(signal.microseconds(dots), "us"));
        let lines =
            |lines: u32| format!("{lines} lines, {}", quantity(signal.microseconds(lines * horizontal.total()), "us"));
        self.rows = vec![
            Row::new("Dot clock", dot_clock.to_string()),
            Row::new("Line rate", quantity(signal.line_rate_hz(), "Hz")),
            Row::new("Frame rate", quantity(signal.frame_rate_hz(), "Hz")),
        ];
        self.line = Some(AxisPlot::new(*horizontal));
        self.frame = Some(AxisPlot::new(*vertical));
        self.line_parts = vec![
            Row::new("active", dots(horizontal.active())),
            Row::new("front porch", dots(horizontal.front_porch())),
            Row::new("sync", dots(horizontal.sync())),
            Row::new("back porch", dots(horizontal.back_porch())),
        ];
        self.frame_parts = vec![
            Row::new("active", lines(vertical.active())),
            Row::new("front porch", lines(vertical.front_porch())),
            Row::new("sync", lines(vertical.sync())),
            Row::new("back porch", lines(vertical.back_porch())),
        ];
        if let Some(monitor) = bench.monitor() {
            let judgement = monitor.judge(signal);
            self.monitor = Some((monitor.title.clone(), judgement.accepts()));
            self.gauges = Gauge::all(&judgement);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_signal::Limit;

    #[test]
    fn gauges_show_limits_and_margins() {
        let reading = |value, to| Reading { what: "line rate", unit: "Hz", value, limit: Limit { from: 31100.0, to } };
        let gauge = Gauge::new(&reading(31450.0, 31800.0));
        assert_eq!((gauge.at, gauge.holds), (50.0, true));
        assert_eq!(gauge.margin, "350.00 Hz to spare");
        assert_eq!(gauge.allowed, "31.100 kHz to 31.800 kHz");
        let outside = Gauge::new(&reading(15_700.0, 31800.0));
        assert_eq!((outside.at, outside.holds), (3.0, false));
        assert_eq!(outside.margin, "15.400 kHz outside");
        assert_eq!(Gauge::new(&reading(31100.0, f64::INFINITY)).at, 20.0);
        let point = Reading { limit: Limit { from: 5.0, to: 5.0 }, ..reading(5.0, 5.0) };
        assert_eq!(Gauge::new(&point).at, 50.0);
    }
}
