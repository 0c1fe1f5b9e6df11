//! What a hand did with the program's keyboard and mouse, so that it can be done again.

use backporch_bench::{KeyRef, MouseRef};
use backporch_input::Milliseconds;
use backporch_pc::{Key, MouseMovement};

/// A key, and when it went down and came up, in nanoseconds of the machine.
#[derive(Clone, Copy, Debug)]
struct Typed {
    key: Key,
    down: u64,
    up: Option<u64>,
}

/// What was pressed so far, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct TypedKeys {
    keys: Vec<Typed>,
    /// When a key last went down or up.
    last: Option<u64>,
}

/// How the mouse was moved so far: when, in nanoseconds of the machine.
#[derive(Clone, Debug, Default)]
pub(super) struct HandMoves(Vec<(u64, MouseMovement)>);

impl HandMoves {
    /// The first moment at which the hand may move next.
    pub fn next(&self) -> u64 {
        self.0.last().map_or(0, |(last, _)| last + 1)
    }

    /// The hand moved at a moment.
    pub fn push(&mut self, at: u64, movement: MouseMovement) {
        self.0.push((at, movement));
    }

    /// As a bench names them; where the mouse was asked for and never moved, that it is there.
    pub fn refs(&self, is_used: bool) -> Vec<MouseRef> {
        let one = |(at, movement): &(u64, MouseMovement)| {
            let [right, down] = movement.steps;
            MouseRef(Milliseconds::from_nanoseconds(*at), right, down, movement.buttons)
        };
        let idle = (self.0.is_empty() && is_used).then(|| MouseRef(Milliseconds::from_nanoseconds(0), 0, 0, 0));
        idle.into_iter().chain(self.0.iter().map(one)).collect()
    }
}

impl TypedKeys {
    /// Whether a key is down.
    pub fn is_down(&self, key: Key) -> bool {
        self.keys.iter().any(|typed| typed.key == key && typed.up.is_none())
    }

    /// The first moment at which a key may go down or up: no two at once, so that their order can be distinguished from the time.
    pub fn next(&self) -> u64 {
        self.last.map_or(0, |last| last + 1)
    }

    /// A key went down, or up, at a moment.
    pub fn turn(&mut self, key: Key, down: bool, at: u64) {
        self.last = Some(at);
        if down {
            self.keys.push(Typed { key, down: at, up: None });
        } else if let Some(typed) = self.keys.iter_mut().find(|typed| typed.key == key && typed.up.is_none()) {
            typed.up = Some(at);
        }
    }

    /// As a bench names them; what is still down comes up `now`.
    pub fn refs(&self, now: u64) -> Vec<KeyRef> {
        let one = |typed: &Typed| {
            let up = typed.up.unwrap_or(now).max(typed.down + 1);
            let [down, up] = [typed.down, up].map(Milliseconds::from_nanoseconds);
            KeyRef(down, typed.key.name().to_owned(), Some(up))
        };
        self.keys.iter().map(one).collect()
    }
}
