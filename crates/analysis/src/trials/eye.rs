//! A simulated observer: vague, forgetful, and at times wrong.

use super::draw::Draw;
use crate::likelihood::grade;
use crate::outcome::{Amount, Band, Impression, Outcome, Side};
use crate::sightings::{Seen, Share, Statement};

/// Someone who looks at frames.
#[derive(Clone, Copy, Debug)]
pub struct Eye {
    /// Share of sightings that are wrong.
    pub errors: f64,
}

/// Of ten sightings, one is no sighting: the observer could not tell.
const UNSURE: f64 = 0.1;
/// Three are no more than *clean* or *damaged*.
const TERSE: f64 = 0.3;
/// One in five leaves out how many lines, one where on the line.
const HALF: f64 = 0.2;

impl Eye {
    /// What is said of a frame that shows this, where one has been told what to look
    /// for: all of it, unless one is wrong or cannot tell.
    pub fn checks(&self, outcome: &Outcome, draw: &mut Draw) -> Seen {
        match draw.unit() {
            wrong if wrong < self.errors => said(mistaken(draw).statements()),
            unsure if unsure < self.errors + UNSURE => Seen::Nothing { looked: true },
            _ => said(outcome.impression().statements()),
        }
    }

    /// What is said of a frame that shows this, in passing.
    pub fn sees(&self, outcome: &Outcome, draw: &mut Draw) -> Seen {
        if draw.unit() < self.errors {
            return said(mistaken(draw).statements());
        }
        let overlooks = draw.unit() < grade(&Statement::Clean, outcome);
        let impression = if overlooks { Impression::Clean } else { outcome.impression() };
        let manner = draw.unit();
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
fn mistaken(draw: &mut Draw) -> Impression {
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
    let amount = draw.one_of(&amounts).unwrap_or(Amount::Some);
    match draw.below(6) {
        0 | 1 => Impression::Clean,
        2 => draw
            .one_of(&[Impression::Colours, Impression::Displaced, Impression::Specks { amount, flickers: false }])
            .unwrap_or(Impression::Clean),
        _ => Impression::Damage {
            amount,
            side: draw.one_of(&sides).unwrap_or(Side::Across),
            band: draw.one_of(&bands).unwrap_or(Band::Whole),
            flickers: false,
        },
    }
}
