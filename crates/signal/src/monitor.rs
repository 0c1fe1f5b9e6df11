//! Monitors: which signals they will take, and how far from their limits a signal lies.

use std::fmt;
use std::path::Path;

use backporch_input::{Catalogue, InputError, Source, Version1, parse};
use serde::{Deserialize, Serialize};

use crate::{Formula, PolarityReading, Signal, SyncPolarity};

/// Printed with any advice that changes the signal.
pub const SYNC_CAUTION: &str = "Caution: a fixed-frequency monitor can be damaged by out-of-range sync. Check the \
monitor's manual before driving it from changed totals or sync positions, and switch off at once if the picture tears \
or the set whistles. CRT sets hold lethal voltage long after they are unplugged: opening one is for trained people, \
under local safety rules.";

/// What the reading of the width of horizontal sync is called.
const HORIZONTAL_SYNC: &str = "horizontal sync";

/// Built-in monitors, as RON texts.
pub const MONITORS: Catalogue = Catalogue::new(
    "monitor",
    &[
        ("fixed-15", include_str!("../../../assets/monitors/fixed-15.ron")),
        ("fixed-18", include_str!("../../../assets/monitors/fixed-18.ron")),
        ("fixed-21", include_str!("../../../assets/monitors/fixed-21.ron")),
        ("fixed-31", include_str!("../../../assets/monitors/fixed-31.ron")),
        ("multi", include_str!("../../../assets/monitors/multi.ron")),
    ],
);

/// A closed interval a reading must lie in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Least value allowed.
    pub from: f64,
    /// Greatest value allowed.
    pub to: f64,
}

/// A monitor profile: the file form `monitor` (RON, one monitor a file).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Monitor {
    /// Version of the file form.
    pub version: Version1,
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// Line rates it locks to, in hertz.
    pub line_rate_hz: Limit,
    /// Frame rates it locks to, in hertz.
    pub frame_rate_hz: Limit,
    /// Width of the horizontal sync pulse it needs, in microseconds.
    pub horizontal_sync_us: Limit,
    /// Least horizontal blanking (front porch, sync and back porch), in microseconds.
    pub horizontal_blanking_us: f64,
    /// Polarities of sync it takes; any where none is listed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sync_polarities: Vec<SyncPolarity>,
    /// The published formula that says where its picture stands, on a monitor of many rates; where none is named, pictures
    /// stand where those of the board's own modes do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub porches: Option<Formula>,
    /// Where the numbers come from.
    pub source: String,
}

/// One reading held against one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reading {
    /// What was measured.
    pub what: &'static str,
    /// Unit of all numbers here.
    pub unit: &'static str,
    /// The signal's value.
    pub value: f64,
    /// The monitor's limits.
    pub limit: Limit,
}

impl Reading {
    /// Distance to the nearer limit, in the reading's unit; below zero outside.
    #[must_use]
    pub fn margin(&self) -> f64 {
        (self.value - self.limit.from).min(self.limit.to - self.value)
    }

    /// Whether the value lies inside the limits.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.margin() >= 0.0
    }
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Limit { from, to } = self.limit;
        let (value, unit) = (self.value, self.unit);
        write!(f, "{} {value:.2} {unit}, allowed ", self.what)?;
        if to.is_infinite() { write!(f, "at least {from:.2} {unit}") } else { write!(f, "{from:.2} to {to:.2} {unit}") }
    }
}

/// What a monitor makes of a signal.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// Every reading, those outside included.
    pub readings: Vec<Reading>,
    /// The polarity of sync, where it is known and the monitor does not take any.
    pub polarity: Option<PolarityReading>,
}

impl Judgement {
    /// Whether every reading lies inside its limits and the polarity is one the monitor takes.
    #[must_use]
    pub fn accepts(&self) -> bool {
        self.readings.iter().all(Reading::holds) && self.polarity.as_ref().is_none_or(PolarityReading::holds)
    }

    /// Whether the width of horizontal sync, and nothing else, is outside what the monitor takes.
    #[must_use]
    pub fn refuses_sync_width_alone(&self) -> bool {
        let mut outside = self.readings.iter().filter(|reading| !reading.holds()).map(|reading| reading.what);
        let alone = outside.next() == Some(HORIZONTAL_SYNC) && outside.next().is_none();
        alone && self.polarity.as_ref().is_none_or(PolarityReading::holds)
    }

    /// The readings outside their limits and a polarity that is not taken, in words.
    #[must_use]
    pub fn reasons(&self) -> Vec<String> {
        let outside = self.readings.iter().filter(|reading| !reading.holds()).map(ToString::to_string);
        let refused = self.polarity.iter().filter(|polarity| !polarity.holds()).map(ToString::to_string);
        outside.chain(refused).collect()
    }
}

impl Monitor {
    /// Reads a monitor profile and checks that its limits are intervals.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Self, InputError> {
        let monitor: Self = parse(source)?;
        let limits = [
            ("line_rate_hz", monitor.line_rate_hz),
            ("frame_rate_hz", monitor.frame_rate_hz),
            ("horizontal_sync_us", monitor.horizontal_sync_us),
        ];
        for (field, limit) in limits {
            if !(limit.from > 0.0 && limit.from <= limit.to && limit.to.is_finite()) {
                let found = format!("{} to {}", limit.from, limit.to);
                return Err(source.fault(&[field], found, "two rising numbers above 0"));
            }
        }
        if !(monitor.horizontal_blanking_us >= 0.0 && monitor.horizontal_blanking_us.is_finite()) {
            let found = monitor.horizontal_blanking_us;
            return Err(source.fault(&["horizontal_blanking_us"], found, "0 or more"));
        }
        Ok(monitor)
    }

    /// The built-in monitor of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        Self::from_source(&MONITORS.source(name)?).ok()
    }

    /// The monitor of that name: built in, or else the file of that path, from `folder`.
    ///
    /// # Errors
    /// A name that is neither; otherwise as [`from_source`](Self::from_source).
    pub fn open(name: &str, folder: &Path) -> Result<Self, InputError> {
        Self::from_source(&MONITORS.open(name, folder)?)
    }

    /// Holds `signal` against every limit, and its polarity, where that is known, against those taken.
    #[must_use]
    pub fn judge(&self, signal: &Signal) -> Judgement {
        let horizontal = &signal.horizontal;
        let blanking = horizontal.total() - horizontal.active();
        let at_least = |from| Limit { from, to: f64::INFINITY };
        let reading = |what, unit, value, limit| Reading { what, unit, value, limit };
        Judgement {
            readings: vec![
                reading("line rate", "Hz", signal.line_rate_hz(), self.line_rate_hz),
                reading("frame rate", "Hz", signal.frame_rate_hz(), self.frame_rate_hz),
                reading(HORIZONTAL_SYNC, "us", signal.microseconds(horizontal.sync()), self.horizontal_sync_us),
                reading(
                    "horizontal blanking",
                    "us",
                    signal.microseconds(blanking),
                    at_least(self.horizontal_blanking_us),
                ),
            ],
            polarity: signal
                .polarity
                .filter(|_| !self.sync_polarities.is_empty())
                .map(|value| PolarityReading { value, allowed: self.sync_polarities.clone() }),
        }
    }
}
