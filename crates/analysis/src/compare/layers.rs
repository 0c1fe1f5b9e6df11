//! One bench's board in its layers, each run through the same motion.
//!
//! What was *meant* is the same for all: the plain board at rest under each frame's registers, every column of its
//! window redrawn.

use backporch_adapter::Registers;
use backporch_bench::{Bench, Scroll};
use backporch_quirk::{DesignQuirk, Layers, QuirkStack};
use backporch_raster::{Board, Frame, Plain, QuietFrame, Tap};

use super::motion::Motion;
use crate::signature::FrameSignature;

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

/// A bench in motion.
#[derive(Clone, Copy)]
pub(super) struct InMotion<'a> {
    pub bench: &'a Bench,
    pub motion: Motion,
}

impl<'a> InMotion<'a> {
    /// The bench's board as it is, frame by frame against what was meant, and its first difference.
    pub fn shown(self) -> (Vec<FrameSignature>, Option<Difference>) {
        let mut first = None;
        let mut signatures = Vec::new();
        for (number, shown, meant) in self.against_meant(self.bench.faulty(self.bench.registers())) {
            let signature = self.between(number, &meant, &shown);
            if first.is_none() && !signature.is_clean() {
                first = Some(Difference { frame: number, signature: signature.clone(), meant, shown });
            }
            signatures.push(signature);
        }
        (signatures, first)
    }

    /// Whether the board as it is shows what was meant, frame after frame.
    pub fn is_as_meant(self) -> bool {
        self.shows_what_was_meant(self.bench.faulty(self.bench.registers()))
    }

    /// Whether the plain board shows what was meant: then neither code nor timing is to blame.
    pub fn plain_is_as_meant(self) -> bool {
        self.shows_what_was_meant(self.bench.plain(self.bench.registers()))
    }

    /// What the class does by design that these frames show.
    pub fn behaviours_that_show(self) -> Vec<&'a DesignQuirk> {
        behaviours_that_show(self.bench.layers(), &|tap| self.bad_pixels(self.bench.under(self.bench.registers(), tap)))
    }

    /// What the board as it is shows otherwise than one as its class is built, frame by frame.
    pub fn beyond_design(self) -> impl Iterator<Item = FrameSignature> + 'a {
        let Self { bench, motion } = self;
        let built = motion.play(bench, bench.by_design(bench.registers()));
        let shown = motion.play(bench, bench.faulty(bench.registers()));
        (0..).zip(built.zip(shown)).map(move |(number, (built, shown))| self.between(number, &built, &shown))
    }

    fn shows_what_was_meant<T: Tap + 'a>(self, board: Board<T>) -> bool {
        self.against_meant(board).all(|(number, shown, meant)| self.between(number, &meant, &shown).is_clean())
    }

    fn bad_pixels<T: Tap + 'a>(self, board: Board<T>) -> u64 {
        let frames = self.against_meant(board);
        frames.map(|(number, shown, meant)| u64::from(self.between(number, &meant, &shown).pixels)).sum()
    }

    /// A board's frames: their numbers, what is shown, and what was meant.
    fn against_meant<T: Tap + 'a>(self, board: Board<T>) -> impl Iterator<Item = (u32, Frame, Frame)> + 'a {
        let redrawn = self.bench.with_scroll(Scroll::Redrawn);
        let shown = self.motion.play(self.bench, board);
        (0..).zip(shown).map(move |(number, shown)| {
            let meant = redrawn.plain(&self.motion.registers(self.bench, number)).run_frame();
            (number, shown, meant)
        })
    }

    fn between(self, number: u32, right: &Frame, shown: &Frame) -> FrameSignature {
        FrameSignature::between(size(self.bench, &self.motion.registers(self.bench, number)), right, shown)
    }
}

/// What a class does by design that some frames show: whatever they are better without. Where several things spoil the
/// same pixels, all of them. `bad` counts the bad pixels of these frames on a board that does just so much of it.
#[must_use]
pub fn behaviours_that_show<'a>(layers: &'a Layers, bad: &dyn Fn(QuirkStack) -> u64) -> Vec<&'a DesignQuirk> {
    let together = bad(layers.by_design());
    if together == 0 {
        return Vec::new();
    }
    let without = |left_out: &DesignQuirk| {
        let others = layers.design().iter().filter(|other| *other != left_out);
        bad(QuirkStack::new(others.map(|other| other.quirk.clone()).collect(), layers.seed()))
    };
    let shows: Vec<&DesignQuirk> = layers.design().iter().filter(|one| without(one) < together).collect();
    if shows.is_empty() { layers.design().iter().collect() } else { shows }
}

/// Pixels of a line and lines of the picture.
pub(super) fn size(bench: &Bench, registers: &Registers) -> (u32, u32) {
    let quiet = QuietFrame::new(bench.adapter(), registers, &Plain);
    (quiet.line(0, 0, 0).pixels(), quiet.picture_lines())
}
