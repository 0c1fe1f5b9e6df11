//! A processor's clock: a crystal, divided.

use serde::{Deserialize, Serialize};

/// Normal speed, in thousandths.
pub const NORMAL_SPEED: u32 = 1000;

/// A clock rate: a crystal and what divides it. 1 to 100 MHz.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "ClockForm", into = "ClockForm")]
pub struct ClockRate {
    crystal_millihertz: u64,
    divide: u32,
}

/// A clock rate as written.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ClockForm {
    crystal_hz: u64,
    divide: u32,
}

impl ClockRate {
    /// `None` unless the quotient lies between 1 and 100 MHz.
    #[must_use]
    pub fn new(crystal_hz: u64, divide: u32) -> Option<Self> {
        let (hz, divisor) = (crystal_hz, u64::from(divide));
        let fits = (1..=1000).contains(&divisor) && hz >= 1_000_000 * divisor && hz <= 100_000_000 * divisor;
        fits.then(|| Self { crystal_millihertz: crystal_hz * 1000, divide })
    }

    pub(crate) fn crystal_millihertz(self) -> u64 {
        self.crystal_millihertz
    }

    pub(crate) fn divide(self) -> u32 {
        self.divide
    }

    /// Clocks a second.
    #[must_use]
    pub fn hertz(self) -> f64 {
        self.crystal_millihertz as f64 / 1000.0 / f64::from(self.divide)
    }

    /// The rate times `permille` thousandths.
    pub(crate) fn scaled(self, permille: u32) -> Self {
        Self {
            crystal_millihertz: (self.crystal_millihertz * u64::from(permille)).div_ceil(u64::from(NORMAL_SPEED)),
            ..self
        }
    }
}

impl TryFrom<ClockForm> for ClockRate {
    type Error = String;

    fn try_from(form: ClockForm) -> Result<Self, String> {
        let ClockForm { crystal_hz, divide } = form;
        let refusal = || format!("found {crystal_hz} Hz / {divide}, allowed 1 to 100 MHz from a divisor of 1 to 1000");
        Self::new(crystal_hz, divide).ok_or_else(refusal)
    }
}

impl From<ClockRate> for ClockForm {
    fn from(rate: ClockRate) -> Self {
        Self { crystal_hz: rate.crystal_millihertz / 1000, divide: rate.divide }
    }
}
