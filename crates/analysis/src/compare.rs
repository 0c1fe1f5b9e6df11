//! The same bench on several boards: who differs, where, since which frame, and whose fault it is.
//!
//! Every contender runs the same motion: the start address moves by a step each
//! frame, written at a chosen moment, and memory is redrawn as the bench says. Each
//! frame is held against what was *meant*: the plain board at rest under the same
//! registers, every column of its window redrawn. Where a frame differs, the board is
//! run again layer by layer:
//!
//! ```text
//! plain, as meant at another moment ─► timing     plain, never as meant  ─► code
//! plain as meant, by design not     ─► class      shown other than built ─► adapter
//! ```

mod blame;
mod entry;
mod lacks;
mod layers;
mod motion;
mod reason;

use rayon::prelude::*;

pub use blame::{Blame, ClassBehaviour};
pub use entry::{Contender, Entry};
pub use lacks::lacks;
pub use layers::{Difference, behaviours_that_show};
pub use motion::Motion;

/// How the boards did.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The boards, in the order given.
    pub entries: Vec<Entry>,
    /// The gravest blame: of code and timing before the adapter's, before the class's.
    pub blame: Blame,
    /// Why, in words.
    pub because: String,
}

/// Runs every contender through the motion and says whose fault the differences are.
///
/// `done` is called after every contender, from any thread.
#[must_use]
pub fn compare(contenders: &[Contender], motion: Motion, done: &(dyn Fn() + Sync)) -> Comparison {
    let entries: Vec<Entry> = contenders
        .par_iter()
        .map(|contender| {
            let entry = Entry::new(contender, &contenders[0].bench, motion);
            done();
            entry
        })
        .collect();
    Comparison::of(entries)
}

impl Comparison {
    /// What boards that have run come to together.
    #[must_use]
    pub fn of(entries: Vec<Entry>) -> Self {
        let blame = entries.iter().map(|entry| entry.blame).max().unwrap_or(Blame::None);
        let because = reason::reason(&entries, blame);
        Self { entries, blame, because }
    }
}
