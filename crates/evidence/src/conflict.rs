//! Sightings against each other: said twice, or not both true.

use std::fmt;

use crate::sightings::{Sighting, Sightings};
use crate::statement::{Seen, Share};

/// What is odd about sightings, or about what follows from them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Note {
    /// The same was said before; it counts once.
    Twice {
        /// Position of the sighting left out.
        sighting: usize,
        /// What and where.
        what: String,
    },
    /// Two sightings of the same frames cannot both be true; neither counts.
    Contradiction {
        /// Positions of the two.
        sightings: (usize, usize),
        /// What and where.
        what: String,
    },
    /// By a survey, a register of the controller reads otherwise than the class's.
    Register {
        /// The mode it was tried in.
        mode: String,
        /// Its index.
        index: u8,
    },
    /// Nothing informative was seen.
    NothingSeen,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Twice { what, .. } => write!(f, "said twice, counted once: {what}"),
            Self::Contradiction { what, .. } => write!(f, "cannot both be true, neither counts: {what}"),
            Self::Register { mode, index } => {
                write!(
                    f,
                    "by the survey, controller register {index:02X}h in {mode} does not take what is written as the class's does"
                )
            }
            Self::NothingSeen => f.write_str("nothing was seen that tells anything: the prior is all there is"),
        }
    }
}

impl Sightings {
    /// What is odd about the sightings, and the positions of those that count.
    #[must_use]
    pub fn weighed(&self) -> (Vec<Note>, Vec<usize>) {
        let all = self.sightings();
        let mut notes = Vec::new();
        let mut counts: Vec<bool> = all.iter().map(|sighting| sighting.seen.is_informative()).collect();
        for later in 0..all.len() {
            for earlier in 0..later {
                if !same_frames(&all[earlier], &all[later]) || !all[later].seen.is_informative() {
                    continue;
                }
                if all[earlier].seen == all[later].seen {
                    if counts[later] {
                        counts[later] = false;
                        notes.push(Note::Twice { sighting: later, what: what(self, &all[later], None) });
                    }
                } else if contradict(&all[earlier].seen, &all[later].seen) {
                    (counts[earlier], counts[later]) = (false, false);
                    let what = what(self, &all[earlier], Some(&all[later].seen));
                    notes.push(Note::Contradiction { sightings: (earlier, later), what });
                }
            }
        }
        let counting: Vec<usize> = (0..all.len()).filter(|at| counts[*at]).collect();
        if counting.is_empty() {
            notes.push(Note::NothingSeen);
        }
        (notes, counting)
    }
}

fn same_frames(one: &Sighting, other: &Sighting) -> bool {
    (one.experiment, one.steps, one.count) == (other.experiment, other.steps, other.count)
}

fn contradict(one: &Seen, other: &Seen) -> bool {
    match (one, other) {
        (Seen::Said(Share::Each, one), Seen::Said(Share::Each, other)) => {
            one.iter().any(|one| other.iter().any(|other| one.contradicts(other)))
        }
        (Seen::Said(Share::Each, one), Seen::Said(Share::NoFrame, none))
        | (Seen::Said(Share::NoFrame, none), Seen::Said(Share::Each, one)) => one == none,
        _ => false,
    }
}

fn what(sightings: &Sightings, sighting: &Sighting, other: Option<&Seen>) -> String {
    let other = other.map_or_else(String::new, |other| format!(" / {other}"));
    format!("{}: {}{other}", sightings.place(sighting), sighting.seen)
}
