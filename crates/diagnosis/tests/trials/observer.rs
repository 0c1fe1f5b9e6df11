//! A simulated observer: vague, forgetful, and at times wrong.

use backporch_analysis::FrameSignature;
use backporch_evidence::likelihood::grade;
use backporch_evidence::{Amount, Band, Impression, Seen, Share, Side, Statement};

use super::random::Random;

/// Someone who looks at frames.
#[derive(Clone, Copy, Debug)]
pub struct SimulatedObserver {
    /// Share of sightings that are wrong.
    pub errors: f64,
}

/// Of ten sightings, one is no sighting: the observer could not tell.
const UNSURE: f64 = 0.1;
/// Three are no more than *clean* or *damaged*.
const TERSE: f64 = 0.3;
/// One in five leaves out how many lines, one where on the line.
const HALF: f64 = 0.2;

impl SimulatedObserver {
    /// What is said of a frame that shows this, where one has been told what to look
    /// for: all of it, unless one is wrong or cannot tell.
    pub fn checks(&self, signature: &FrameSignature, random: &mut Random) -> Seen {
        match random.unit() {
            wrong if wrong < self.errors => said(mistaken(random).statements()),
            unsure if unsure < self.errors + UNSURE => Seen::Nothing { looked: true },
            _ => said(Impression::of(signature).statements()),
        }
    }

    /// What is said of a frame that shows this, in passing.
    pub fn sees(&self, signature: &FrameSignature, random: &mut Random) -> Seen {
        if random.unit() < self.errors {
            return said(mistaken(random).statements());
        }
        let overlooks = random.unit() < grade(&Statement::Clean, signature);
        let impression = if overlooks { Impression::Clean } else { Impression::of(signature) };
        let manner = random.unit();
        let mut statements = impression.statements();
        if manner < UNSURE {
            return Seen::Nothing { looked: true };
        } else if manner < UNSURE + TERSE {
            let bad = impression != Impression::Clean;
            statements = vec![if bad { Statement::Damaged } else { Statement::Clean }];
        } else if manner < UNSURE + TERSE + 2.0 * HALF && statements.len() > 2 && impression.is_damage() {
            // Damaged, how many lines, where: one of the last two is left out.
            statements.remove(if manner < UNSURE + TERSE + HALF { 1 } else { 2 });
        }
        said(statements)
    }
}

fn said(statements: Vec<Statement>) -> Seen {
    Seen::Said(Share::Each, statements)
}

/// What someone says who is wrong: any impression.
fn mistaken(random: &mut Random) -> Impression {
    let amounts = [
        Amount::Every(1),
        Amount::Every(2),
        Amount::Every(3),
        Amount::Every(4),
        Amount::Every(8),
        Amount::Few,
        Amount::Some,
        Amount::Most,
    ];
    let sides = [Side::LeftEdge, Side::Left, Side::Across, Side::Right, Side::RightEdge];
    let bands = [Band::Top, Band::Whole, Band::Whole, Band::Bottom];
    let amount = random.one_of(&amounts).unwrap_or(Amount::Some);
    match random.below(6) {
        0 | 1 => Impression::Clean,
        2 => random
            .one_of(&[Impression::Colours, Impression::Displaced, Impression::Specks { amount, flickers: false }])
            .unwrap_or(Impression::Clean),
        _ => Impression::Damage {
            amount,
            side: random.one_of(&sides).unwrap_or(Side::Across),
            band: random.one_of(&bands).unwrap_or(Band::Whole),
            flickers: false,
        },
    }
}
