//! Taking the start address over: when the class does it, and how late a fault makes it.

use backporch_adapter::StartLoad;

/// What the address counter has to do at a line's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reload {
    /// Nothing.
    Keep,
    /// The start address is taken over now, and shown from the next frame's start.
    Take,
    /// The start address is taken over now and the counter restarts from it.
    TakeAndRestart,
    /// The counter restarts from the address taken over before.
    Restart,
}

/// Counts scan lines down to a late take-over.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Latch {
    /// Scan lines still to wait, and whether the counter restarts then.
    waiting: Option<(u32, bool)>,
}

impl Latch {
    /// At the start of every scan line: what happened there, and what to do.
    ///
    /// `due` tells that the class takes the start address over here.
    pub fn at_line_start(&mut self, rule: StartLoad, frame: bool, due: bool, delay: u32) -> Reload {
        let restart = rule.restarts();
        if due && delay == 0 {
            self.waiting = None;
            return if restart || frame { Reload::TakeAndRestart } else { Reload::Take };
        }
        let over = match &mut self.waiting {
            Some((lines, restarts)) => {
                *restarts |= frame;
                *lines -= 1;
                (*lines == 0).then_some(*restarts)
            }
            None => None,
        };
        if over.is_some() {
            self.waiting = None;
        }
        if due {
            self.waiting = Some((delay, restart));
        }
        match over {
            Some(true) => Reload::TakeAndRestart,
            Some(false) => Reload::Take,
            None if frame => Reload::Restart,
            None => Reload::Keep,
        }
    }

    /// Inside a line, where the class takes the start address over: whether that is now.
    pub fn inside_line(&mut self, delay: u32) -> bool {
        self.waiting = (delay > 0).then_some((delay, false));
        delay == 0
    }
}
