//! Pacing: how many frames are due, and whether the machine keeps up.
//!
//! Time comes in from outside as seconds since some start, so that the same
//! arithmetic runs in a test without a clock.

use std::collections::VecDeque;

/// Most frames run to catch up at once; beyond that the lag is given up.
const MOST_AT_ONCE: u32 = 4;

/// Seconds over which lateness is measured.
const WINDOW_S: f64 = 2.0;

/// Speeds slower than the board's own: 1 / this.
pub const SLOWNESS: [u32; 7] = [1, 2, 4, 8, 16, 32, 64];

/// When frames are due.
#[derive(Clone, Debug)]
pub struct Pace {
    rate_hz: f64,
    slowness: u32,
    next_s: Option<f64>,
    /// When frames were shown, and how many were due by then.
    shown: VecDeque<(f64, u32)>,
    recent: Lateness,
    total: Lateness,
}

/// How many frames came late over the last seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lateness {
    /// Frames that were due.
    pub due: u32,
    /// Frames that were never shown by themselves, as the next one was already due.
    pub late: u32,
    /// Frames shown a second.
    pub shown_hz: f64,
}

impl Lateness {
    /// Share of frames late, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        f64::from(self.late) / f64::from(self.due.max(1))
    }
}

impl Pace {
    /// Frames due at `rate_hz` a second.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        let rate_hz = if rate_hz.is_finite() { rate_hz.clamp(1.0, 1000.0) } else { 60.0 };
        Self {
            rate_hz,
            slowness: 1,
            next_s: None,
            shown: VecDeque::new(),
            recent: Lateness::default(),
            total: Lateness::default(),
        }
    }

    /// The board's rate: frames a second at full speed.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Sets the board's rate.
    pub fn set_rate(&mut self, rate_hz: f64) {
        let slowness = self.slowness;
        let fresh = Self::new(rate_hz);
        if (fresh.rate_hz - self.rate_hz).abs() > 1e-6 {
            *self = Self { slowness, total: self.total, ..fresh };
        }
    }

    /// Times slower than the board.
    #[must_use]
    pub fn slowness(&self) -> u32 {
        self.slowness
    }

    /// The next slower or faster speed.
    pub fn shift(&mut self, slower: bool) {
        let at = SLOWNESS.iter().position(|one| *one == self.slowness).unwrap_or(0);
        let next = if slower { at + 1 } else { at.saturating_sub(1) };
        self.slowness = SLOWNESS[next.min(SLOWNESS.len() - 1)];
        self.stop();
    }

    fn period_s(&self) -> f64 {
        f64::from(self.slowness) / self.rate_hz
    }

    /// Frames due at `now_s`. The first call after a stop starts the clock.
    pub fn due(&mut self, now_s: f64) -> u32 {
        let period = self.period_s();
        let next = *self.next_s.get_or_insert(now_s);
        if now_s < next {
            return 0;
        }
        let due = ((now_s - next) / period) as u32 + 1;
        let run = due.min(MOST_AT_ONCE);
        let gives_up = due > MOST_AT_ONCE;
        self.next_s = Some(if gives_up { now_s + period } else { next + f64::from(due) * period });
        self.note(now_s, due);
        run
    }

    /// When the next frame is due, in the same seconds.
    #[must_use]
    pub fn next_s(&self) -> Option<f64> {
        self.next_s
    }

    /// Stops the clock: nothing is late while nothing runs.
    pub fn stop(&mut self) {
        self.next_s = None;
        self.shown.clear();
    }

    fn note(&mut self, now_s: f64, due: u32) {
        self.shown.push_back((now_s, due));
        while self.shown.front().is_some_and(|(then, _)| *then < now_s - WINDOW_S) {
            self.shown.pop_front();
        }
        self.total.due += due;
        self.total.late += due - 1;
        let total: u32 = self.shown.iter().map(|(_, due)| due).sum();
        let shown = self.shown.len() as u32;
        let span = self.shown.front().map_or(0.0, |(first, _)| now_s - first);
        let shown_hz = if span > 0.0 { f64::from(shown.saturating_sub(1)) / span } else { 0.0 };
        self.recent = Lateness { due: total, late: total - shown, shown_hz };
    }

    /// Lateness since the beginning; the rate shown is left at 0.
    #[must_use]
    pub fn total(&self) -> Lateness {
        self.total
    }

    /// Lateness over the last seconds.
    #[must_use]
    pub fn lateness(&self) -> Lateness {
        self.recent
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frames run when asked at these moments.
    fn frames(pace: &mut Pace, moments: impl IntoIterator<Item = f64>) -> u32 {
        moments.into_iter().map(|now| pace.due(now)).sum()
    }

    #[test]
    fn frames_come_at_the_boards_own_rate() {
        let mut pace = Pace::new(70.0);
        let run = frames(&mut pace, (0..10_000).map(|ms| f64::from(ms) / 1000.0));
        assert_eq!(run, 700, "ten seconds at 70 Hz");
        assert_eq!(pace.lateness().late, 0);
        assert!((pace.lateness().shown_hz - 70.0).abs() < 1.0);
    }

    #[test]
    fn slow_motion_is_the_same_frames_further_apart() {
        let mut pace = Pace::new(64.0);
        for _ in 0..3 {
            pace.shift(true);
        }
        assert_eq!(pace.slowness(), 8);
        assert_eq!(frames(&mut pace, (0..1000).map(|ms| f64::from(ms) / 1000.0)), 8);
    }

    #[test]
    fn a_machine_too_slow_is_told_and_not_chased() {
        let mut pace = Pace::new(70.0);
        let run = frames(&mut pace, (0..100).map(|step| f64::from(step) / 35.0));
        assert!((197..=200).contains(&run), "still all frames, two at a time: {run}");
        assert!((pace.lateness().share() - 0.5).abs() < 0.02, "every second frame is not shown");
        assert_eq!(pace.due(1000.0), MOST_AT_ONCE, "a long sleep is not caught up with");
        assert_eq!(pace.due(1000.001), 0);
    }

    #[test]
    fn no_rate_can_stop_the_clock() {
        for rate in [f64::NAN, 0.0, -1.0, f64::INFINITY, 1e12] {
            let mut pace = Pace::new(rate);
            assert!(pace.due(0.0) >= 1);
            assert!(pace.next_s().is_some_and(|next| next > 0.0));
        }
    }
}
