//! A mouse as its driver tells of it: position, buttons, and what the hand is to do.

use std::collections::VecDeque;

/// Bits of an event: it moved; the left button went down, up; the right one (common practice).
const MOVED: u16 = 1;
const WENT_DOWN: [u16; 2] = [2, 8];
const WENT_UP: [u16; 2] = [4, 16];

/// Steps of the mouse for eight pixels, across and down (common practice).
const STEPS: [u16; 2] = [8, 16];

/// What the hand does at a time: it moves by this many steps, and holds buttons (bit 0 left, bit 1 right) from then on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MouseMovement {
    /// Steps to the right and down.
    pub steps: [i16; 2],
    /// Buttons held.
    pub buttons: u8,
}

/// How often a button went down or up since that was last asked, and where the last time.
#[derive(Clone, Copy, Debug, Default)]
pub struct Turns {
    /// How often.
    pub times: u16,
    /// Where.
    pub at: [u16; 2],
}

/// A program's own handler.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Handler {
    /// Events it is called for.
    pub mask: u16,
    /// Its address: segment and offset.
    pub at: crate::registers::Far,
}

/// A mouse and its driver.
#[derive(Clone, Debug)]
pub struct Mouse {
    coming: VecDeque<(u64, MouseMovement)>,
    /// Position in eighths of a pixel times the steps of eight pixels.
    fine: [i64; 2],
    range: [(u16, u16); 2],
    per_eight: [u16; 2],
    counted: [i16; 2],
    /// Buttons held.
    pub buttons: u8,
    downs: [Turns; 2],
    ups: [Turns; 2],
    /// The program's handler.
    pub handler: Option<Handler>,
    /// Events it has not been informed of.
    events: u16,
    /// Whether a program has asked the driver for anything.
    pub asked: bool,
}

impl Mouse {
    /// A mouse that moves so, each time in processor clocks, on a screen of this many lines.
    #[must_use]
    pub fn new(movements: impl IntoIterator<Item = (u64, MouseMovement)>) -> Self {
        let mut coming: Vec<(u64, MouseMovement)> = movements.into_iter().collect();
        coming.sort_by_key(|(at, _)| *at);
        let mut mouse = Self {
            coming: coming.into(),
            fine: [0; 2],
            range: [(0, 639), (0, 199)],
            per_eight: STEPS,
            counted: [0; 2],
            buttons: 0,
            downs: [Turns::default(); 2],
            ups: [Turns::default(); 2],
            handler: None,
            events: 0,
            asked: false,
        };
        mouse.reset(200);
        mouse
    }

    /// As the driver starts: in the middle of a screen 640 wide and this many lines high, no handler.
    pub fn reset(&mut self, lines: u16) {
        self.range = [(0, 639), (0, lines - 1)];
        self.per_eight = STEPS;
        self.counted = [0; 2];
        (self.downs, self.ups) = ([Turns::default(); 2], [Turns::default(); 2]);
        (self.handler, self.events) = (None, 0);
        self.place([320, lines / 2]);
    }

    /// Puts the pointer at a place, inside its range.
    pub fn place(&mut self, at: [u16; 2]) {
        self.fine = std::array::from_fn(|axis| i64::from(at[axis]) * i64::from(self.per_eight[axis]));
        self.keep_inside();
    }

    /// Keeps the pointer within a range of one axis; ends the wrong way round are turned.
    pub fn limit(&mut self, axis: usize, one: u16, other: u16) {
        self.range[axis] = (one.min(other), one.max(other));
        self.keep_inside();
    }

    /// Sets how many steps make eight pixels, across and down; 0 counts as 1.
    pub fn set_steps(&mut self, steps: [u16; 2]) {
        let at = self.at();
        self.per_eight = steps.map(|steps| steps.max(1));
        self.place(at);
    }

    fn keep_inside(&mut self) {
        for axis in 0..2 {
            let (least, most) = self.range[axis];
            let scale = i64::from(self.per_eight[axis]);
            self.fine[axis] = self.fine[axis].clamp(i64::from(least) * scale, i64::from(most) * scale);
        }
    }

    /// Where the pointer is.
    #[must_use]
    pub fn at(&self) -> [u16; 2] {
        std::array::from_fn(|axis| (self.fine[axis] / i64::from(self.per_eight[axis])) as u16)
    }

    /// Steps since this was last asked.
    pub fn take_counted(&mut self) -> [i16; 2] {
        std::mem::take(&mut self.counted)
    }

    /// How often a button went down since this was last asked.
    pub fn take_downs(&mut self, button: usize) -> Turns {
        self.downs.get_mut(button).map(std::mem::take).unwrap_or_default()
    }

    /// How often a button went up since this was last asked.
    pub fn take_ups(&mut self, button: usize) -> Turns {
        self.ups.get_mut(button).map(std::mem::take).unwrap_or_default()
    }

    /// The hand does something more, after what it does by then.
    pub fn push(&mut self, at: u64, movement: MouseMovement) {
        let position = self.coming.partition_point(|(known, _)| *known <= at);
        self.coming.insert(position, (at, movement));
    }

    /// When the hand next does something.
    #[must_use]
    pub fn next(&self) -> Option<u64> {
        self.coming.front().map(|(at, _)| *at)
    }

    /// Steps to a place in the pointer's range, given as parts of it from 0 to 1 across and down.
    #[must_use]
    pub fn steps_to(&self, place: [f32; 2]) -> [i16; 2] {
        std::array::from_fn(|axis| {
            let (least, most) = self.range[axis];
            let part = f64::from(place[axis]).clamp(0.0, 1.0);
            let wanted = i64::from(least) + (part * f64::from(most - least)).round() as i64;
            let steps = (wanted * i64::from(self.per_eight[axis]) - self.fine[axis] + 4).div_euclid(8);
            steps.clamp(i64::from(i16::MIN), i64::from(i16::MAX)) as i16
        })
    }

    /// Does what the hand has done by now.
    pub fn attend(&mut self, now: u64) {
        while let Some((_, movement)) = self.coming.front().copied().filter(|(at, _)| *at <= now) {
            self.coming.pop_front();
            for axis in 0..2 {
                self.fine[axis] += i64::from(movement.steps[axis]) * 8;
                self.counted[axis] = self.counted[axis].wrapping_add(movement.steps[axis]);
            }
            self.keep_inside();
            if movement.steps != [0; 2] {
                self.events |= MOVED;
            }
            let at = self.at();
            for button in 0..2 {
                let (was, is) = (self.buttons >> button & 1, movement.buttons >> button & 1);
                let (turns, event) = match (was, is) {
                    (0, 1) => (&mut self.downs[button], WENT_DOWN[button]),
                    (1, 0) => (&mut self.ups[button], WENT_UP[button]),
                    _ => continue,
                };
                *turns = Turns { times: turns.times.wrapping_add(1), at };
                self.events |= event;
            }
            self.buttons = movement.buttons & 3;
        }
    }

    /// The handler, and the events it waits for and was not informed of yet.
    pub fn take_call(&mut self) -> Option<(Handler, u16)> {
        let handler = self.handler?;
        let events = std::mem::take(&mut self.events) & handler.mask;
        (events != 0).then_some((handler, events))
    }

    /// Whether the handler has something to be informed of.
    #[must_use]
    pub fn calls(&self) -> bool {
        self.handler.is_some_and(|handler| handler.mask & self.events != 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight steps to the right are eight pixels, sixteen down are eight (common practice).
    #[test]
    fn steps_are_pixels_within_the_range() {
        let right = MouseMovement { steps: [8, 16], buttons: 1 };
        let far = MouseMovement { steps: [i16::MAX, 0], buttons: 0 };
        let mut mouse = Mouse::new([(100, right), (200, far)]);
        assert_eq!(mouse.at(), [320, 100]);
        mouse.attend(100);
        assert_eq!((mouse.at(), mouse.buttons), ([328, 108], 1));
        mouse.attend(1000);
        assert_eq!((mouse.at(), mouse.buttons), ([639, 108], 0));
        assert_eq!((mouse.take_downs(0).times, mouse.take_ups(0).at), (1, [639, 108]));
        mouse.limit(0, 100, 50);
        assert_eq!(mouse.at(), [100, 108]);
        // The middle of 50..=100 and of 0..=199.
        let steps = mouse.steps_to([0.5, 0.5]);
        mouse.push(2000, MouseMovement { steps, buttons: 0 });
        assert_eq!(mouse.next(), Some(2000));
        mouse.attend(2000);
        assert_eq!((mouse.at(), mouse.steps_to([0.5, 0.5])), ([75, 100], [0, 0]));
    }
}
