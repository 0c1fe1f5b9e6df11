//! When the window is to be drawn without any event.
//!
//! Every moment is counted from what has happened, never from now: asked again
//! and again, the answer stays until something is drawn, so the moment comes.

use std::time::{Duration, Instant};

/// Longest wait: files are looked at once a second.
const LONGEST: Duration = Duration::from_secs(1);
/// While frames run by themselves, the panels around them are laid out at most this often.
pub(super) const PANELS_EVERY: Duration = Duration::from_millis(200);
/// While something goes on beside the frames, its progress is shown this often.
const PROGRESS_EVERY: Duration = Duration::from_millis(100);
/// Pause between two turns of work that is done between drawings.
const BETWEEN_TURNS: Duration = Duration::from_millis(4);
/// Pause before a surface that does not fit its window is tried again.
const SURFACE_RETRY: Duration = Duration::from_millis(10);

/// Pause before a frame that the display did not take is shown again.
const SHOWN_RETRY: Duration = Duration::from_millis(250);

/// Everything that decides when the window is drawn next.
#[derive(Clone, Debug)]
pub(super) struct Schedule {
    /// When the window was last drawn.
    pub drawn: Instant,
    /// When the next frame of the board is due, while frames run.
    pub frame_due: Option<Instant>,
    /// When the panels are to be laid out again, where they are.
    pub panels_due: Option<Instant>,
    /// When a blinking picture changes next.
    pub blink_due: Option<Instant>,
    /// There is work that is done in turns: a jump far ahead, missing thumbnails.
    pub has_turns: bool,
    /// Something is searched for or judged in the background.
    pub is_searching: bool,
    /// The surface does not fit its window.
    pub is_outdated: bool,
    /// The display did not take the last frame.
    pub is_unshown: bool,
    /// When the window closes by itself.
    pub closes: Option<Instant>,
}

impl Schedule {
    /// The moment at which the window is drawn next.
    pub fn next(&self) -> Instant {
        let after = |wanted: bool, wait: Duration| wanted.then(|| self.drawn + wait);
        let moments = [
            Some(self.drawn + LONGEST),
            self.frame_due,
            self.panels_due,
            self.blink_due,
            after(self.has_turns, BETWEEN_TURNS),
            after(self.is_searching, PROGRESS_EVERY),
            after(self.is_outdated, SURFACE_RETRY),
            after(self.is_unshown, SHOWN_RETRY),
            self.closes,
        ];
        moments.into_iter().flatten().min().unwrap_or(self.drawn)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_rest(drawn: Instant) -> Schedule {
        Schedule {
            drawn,
            frame_due: None,
            panels_due: None,
            blink_due: None,
            has_turns: false,
            is_searching: false,
            is_outdated: false,
            is_unshown: false,
            closes: None,
        }
    }

    #[test]
    fn at_rest_it_is_drawn_once_a_second() {
        let drawn = Instant::now();
        assert_eq!(at_rest(drawn).next(), drawn + Duration::from_secs(1));
    }

    #[test]
    fn the_earliest_moment_counts() {
        let drawn = Instant::now();
        let ms = Duration::from_millis;
        let blinking = Schedule { blink_due: Some(drawn + ms(300)), ..at_rest(drawn) };
        assert_eq!(blinking.next(), drawn + ms(300), "a paused picture blinks");
        let outdated = Schedule { is_outdated: true, ..blinking.clone() };
        assert_eq!(outdated.next(), drawn + SURFACE_RETRY, "tried again, but not at once");
        let unshown = Schedule { is_unshown: true, ..at_rest(drawn) };
        assert_eq!(unshown.next(), drawn + SHOWN_RETRY, "what was not shown is shown soon");
        let running = Schedule { frame_due: Some(drawn + ms(14)), panels_due: Some(drawn + ms(125)), ..blinking };
        assert_eq!(running.next(), drawn + ms(14));
    }
}
