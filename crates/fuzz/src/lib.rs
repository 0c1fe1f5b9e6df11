//! Mutated files and random behaviour against everything that reads or runs what others made.
//!
//! **In** come the files that are built in. A [`Target`] changes them at random ([`mutated`]) and hands them to a reader, or it
//! makes up register writes, programs and captures; **out** comes nothing: whatever is not read is refused, and nothing panics,
//! hangs or asks for memory without bound.
//!
//! ```text
//! corpus ─► mutated ─► reader  ─► a value, or an error that names what was found
//! seed   ─► made up ─► board, processor
//! ```
//!
//! An input is made from its number alone, so what failed can be seen again: [`Target::run`] with that number. The tests go
//! through each target for some seconds; `cargo run --release -p backporch-fuzz --example hours -- SECONDS [TARGET]` goes on
//! for as long as one likes and prints how many inputs were tried, the slowest, and the memory at its greatest.
//!
//! ```
//! let target = backporch_fuzz::TARGETS.iter().find(|target| target.name == "monitor").ok_or("no such target")?;
//! target.run(7);
//! # Ok::<(), &str>(())
//! ```
#![forbid(unsafe_code)]

mod behaviour;
mod bytes;
mod mutate;
mod texts;

use std::error::Error;
use std::fmt;
use std::panic::catch_unwind;
use std::time::{Duration, Instant};

pub use mutate::mutated;

/// Something that takes what others made.
#[derive(Clone, Copy, Debug)]
pub struct FuzzTarget {
    /// What it is called.
    pub name: &'static str,
    /// Makes an input up and hands it over.
    try_one: fn(&mut fastrand::Rng),
}

/// All of them.
pub const TARGETS: &[FuzzTarget] = &[
    FuzzTarget { name: "bench", try_one: texts::bench },
    FuzzTarget { name: "requirements", try_one: texts::requirements },
    FuzzTarget { name: "sightings", try_one: texts::sightings },
    FuzzTarget { name: "plan", try_one: texts::plan },
    FuzzTarget { name: "routine", try_one: texts::routine },
    FuzzTarget { name: "trace", try_one: texts::trace },
    FuzzTarget { name: "processor", try_one: texts::processor },
    FuzzTarget { name: "monitor", try_one: texts::monitor },
    FuzzTarget { name: "quirk", try_one: texts::quirk },
    FuzzTarget { name: "profile", try_one: texts::profile },
    FuzzTarget { name: "answers", try_one: texts::answers },
    FuzzTarget { name: "survey", try_one: texts::survey },
    FuzzTarget { name: "case", try_one: bytes::case },
    FuzzTarget { name: "picture", try_one: bytes::picture },
    FuzzTarget { name: "capture", try_one: bytes::capture },
    FuzzTarget { name: "image", try_one: bytes::image },
    FuzzTarget { name: "board", try_one: behaviour::board },
    FuzzTarget { name: "program", try_one: behaviour::program },
];

/// How a target fared.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tried {
    /// Inputs handed over.
    pub inputs: u64,
    /// The longest that one took, and its number.
    pub slowest: (Duration, u64),
}

/// A target panicked.
#[derive(Clone, Copy, Debug)]
pub struct Panicked {
    target: &'static str,
    number: u64,
}

impl fmt::Display for Panicked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: input {} panicked", self.target, self.number)
    }
}

impl Error for Panicked {}

impl FuzzTarget {
    /// Hands over the input of a number.
    pub fn run(&self, number: u64) {
        (self.try_one)(&mut fastrand::Rng::with_seed(number));
    }

    /// Hands over one input after another, from a number on, until the time is over.
    ///
    /// # Errors
    /// The number of an input under which the target panicked.
    pub fn run_for(&self, from: u64, time: Duration) -> Result<Tried, Panicked> {
        let began = Instant::now();
        let mut tried = Tried::default();
        while began.elapsed() < time {
            let number = from + tried.inputs;
            let one = Instant::now();
            // Nothing of an input is looked at again after a panic.
            catch_unwind(|| self.run(number)).map_err(|_| Panicked { target: self.name, number })?;
            tried.slowest = tried.slowest.max((one.elapsed(), number));
            tried.inputs += 1;
        }
        Ok(tried)
    }
}
