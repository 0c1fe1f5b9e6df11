//! The same bench on several boards: who differs, where, since which frame, and whose fault it is.
//!
//! Every contender runs the same motion: the start address moves by a step each
//! frame, written at a chosen moment, and memory is redrawn as the bench says. Each
//! frame is held against what was *meant*: a healthy board of the same class at rest
//! under the same registers, every column of its window redrawn. The moment of the writes is then varied, to
//! tell a mistake of timing from one of the board.
//!
//! ```text
//! contenders × motion ─► frames ─┬─► against what was meant ─► first difference
//! other moments ─────────────────┘                          └► code, timing, adapter or class
//! ```

mod blame;
mod run;

use std::sync::Arc;

use backporch_bench::Bench;
use backporch_raster::Frame;
use rayon::prelude::*;

pub use blame::Blame;

use crate::signature::FrameSignature;

/// One board of a comparison.
#[derive(Clone, Debug)]
pub struct Contender {
    /// What it is called.
    pub label: String,
    /// The board, its registers, quirks and picture.
    pub bench: Arc<Bench>,
}

/// What every board is made to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion {
    /// Frames shown, at least 1.
    pub frames: u32,
    /// Start address units by which the picture moves each frame; 0 holds it still.
    pub step: i64,
    /// When in the frame the registers are written, 0 to below 1.
    pub moment: f64,
}

impl Default for Motion {
    /// Eight frames, one unit each, written a quarter down the frame.
    fn default() -> Self {
        Self { frames: 8, step: 1, moment: run::EARLY }
    }
}

/// The first frame that is not as meant.
#[derive(Clone, Debug)]
pub struct Difference {
    /// Its number, the first frame being 0.
    pub frame: u32,
    /// Where it differs.
    pub signature: FrameSignature,
    /// What was meant.
    pub meant: Frame,
    /// What was shown.
    pub shown: Frame,
}

/// How one board did.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The board.
    pub contender: Contender,
    /// Each frame against what was meant.
    pub signatures: Vec<FrameSignature>,
    /// The first one that differs.
    pub first: Option<Difference>,
    /// The moments tried, and whether every frame was as meant.
    pub moments: Vec<(f64, bool)>,
    /// What its class cannot do of what the first contender's can.
    pub lacks: Vec<String>,
    /// Whose fault a difference is.
    pub blame: Blame,
}

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
            let entry = entry(contender, contenders, motion);
            done();
            entry
        })
        .collect();
    let blame = entries.iter().map(|entry| entry.blame).max().unwrap_or(Blame::Nobody);
    let because = blame::reason(&entries, blame);
    Comparison { entries, blame, because }
}

fn entry(contender: &Contender, all: &[Contender], motion: Motion) -> Entry {
    let (signatures, first) = run::faulty(&contender.bench, motion);
    let moments = run::MOMENTS.iter().map(|moment| {
        let (signatures, _) = run::faulty(&contender.bench, Motion { moment: *moment, ..motion });
        (*moment, signatures.iter().all(FrameSignature::is_clean))
    });
    let lacks = all.first().map_or_else(Vec::new, |reference| blame::lacks(&reference.bench, &contender.bench));
    let mut entry = Entry {
        contender: contender.clone(),
        first,
        moments: if motion.step == 0 { Vec::new() } else { moments.collect() },
        lacks,
        blame: Blame::Nobody,
        signatures,
    };
    entry.blame = blame::of(&entry, motion);
    entry
}
