//! A reading of the signal between the limits of a monitor.

use askama::Template;
use backporch_signal::{Judgement, Reading};

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
            allowed: if closed {
                format!("{} to {}", number(from), number(to))
            } else {
                format!("at least {}", number(from))
            },
            margin: if reading.holds() {
                format!("{} to spare", number(reading.margin()))
            } else {
                format!("{} outside", number(-reading.margin()))
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
pub(crate) fn quantity(value: f64, unit: &str) -> String {
    match unit {
        "Hz" if value.abs() >= 1000.0 => format!("{:.3} kHz", value / 1000.0),
        "us" if value.abs() >= 1000.0 => format!("{:.2} ms", value / 1000.0),
        "us" => format!("{value:.2} µs"),
        unit => format!("{value:.2} {unit}"),
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
