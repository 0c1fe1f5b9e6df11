//! Simulated observers: one vague, forgetful and at times wrong, one who counts, one who moves a marker.

use backporch_analysis::{FrameSignature, Verdict};
use backporch_evidence::likelihood::{error_rate, grade};
use backporch_evidence::{Amount, Band, Impression, Seen, Share, Side, Statement};

use super::random::Random;

/// How someone looks at frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// Glances, and leaves out half of what there is to see.
    Vague,
    /// Counts lines and pixels.
    Exact,
    /// Answers a test session: a word, and a marker moved to the ends of the damage.
    Marker,
}

impl Manner {
    pub const ALL: [Self; 3] = [Self::Vague, Self::Exact, Self::Marker];
}

/// Someone who looks at frames.
#[derive(Clone, Copy, Debug)]
pub struct SimulatedObserver {
    /// Share of glances that are wrong; who measures is wrong less often (`error_rate`).
    pub errors: f64,
    pub manner: Manner,
}

/// Of ten sightings, one is no sighting: the observer could not tell.
const UNSURE: f64 = 0.1;
/// Three are no more than *clean* or *damaged*.
const TERSE: f64 = 0.3;
/// One in five leaves out how many lines, one where on the line.
const HALF: f64 = 0.2;

impl SimulatedObserver {
    /// What is said of a frame that shows this, where one has been shown what to look
    /// for: all of it, unless one is wrong or cannot tell.
    pub fn checks(&self, signature: &FrameSignature, random: &mut Random) -> Seen {
        if self.manner != Manner::Vague {
            return self.measures(signature, in_words, random);
        }
        match random.unit() {
            wrong if wrong < self.errors => said(mistaken(random).statements()),
            unsure if unsure < self.errors + UNSURE => Seen::Nothing { looked: true },
            _ => said(Impression::of(signature).statements()),
        }
    }

    /// What is said of a frame that shows this, in passing.
    pub fn sees(&self, signature: &FrameSignature, random: &mut Random) -> Seen {
        if self.manner != Manner::Vague {
            // A session asks for no more than the one word, then for the marker.
            let damage: Describe = if self.manner == Manner::Marker { in_a_word } else { in_words };
            return self.measures(signature, damage, random);
        }
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

    /// What is said of a frame that shows this by one who measures where there is something to be measured.
    /// `damage` says what is said of damage before it is measured.
    fn measures(&self, signature: &FrameSignature, damage: Describe, random: &mut Random) -> Seen {
        let impression = Impression::of(signature);
        let measured = match self.manner {
            Manner::Vague => Vec::new(),
            Manner::Exact => counted(signature),
            Manner::Marker => marked(signature, random),
        };
        let whole = match impression {
            Impression::Damage { .. } => [damage(signature), measured].concat(),
            _ => impression.statements(),
        };
        let overlooks = random.unit() < grade(&Statement::Clean, signature);
        let seen = said(if overlooks { vec![Statement::Clean] } else { whole });
        let errors = error_rate(&seen, self.errors);
        match random.unit() {
            wrong if wrong < errors => said(mistaken(random).statements()),
            unsure if unsure < errors + UNSURE => Seen::Nothing { looked: true },
            _ => seen,
        }
    }
}

/// What is said of a damaged frame.
type Describe = fn(&FrameSignature) -> Vec<Statement>;

fn in_words(signature: &FrameSignature) -> Vec<Statement> {
    Impression::of(signature).statements()
}

fn in_a_word(signature: &FrameSignature) -> Vec<Statement> {
    vec![if signature.verdict() == Verdict::EdgeDamaged { Statement::EdgeDamaged } else { Statement::Broken }]
}

/// How many lines are bad, and between which pixels.
fn counted(signature: &FrameSignature) -> Vec<Statement> {
    let pixels = signature.x.map(|(from, to)| Statement::Pixels(from, to));
    [Statement::Count(signature.lines.count())].into_iter().chain(pixels).collect()
}

/// Where the marker comes to stand: within two lines or pixels of the ends of the damage.
fn marked(signature: &FrameSignature, random: &mut Random) -> Vec<Statement> {
    let mut near = |place: u32| (place + random.below(5) as u32).saturating_sub(2);
    let (Some((first, last)), Some((left, right))) = (signature.lines.ends(), signature.x) else {
        return Vec::new();
    };
    // Whoever marks the line after the first sees both.
    let second = signature.lines.iter().nth(1);
    let top = near(first).min(second.map_or(u32::MAX, |second| second - 1));
    let mut marks = vec![
        Statement::UppermostLine(top),
        Statement::LowermostLine(near(last).min(signature.lines.height() - 1)),
        Statement::LeftmostPixel(near(left)),
        Statement::RightmostPixel(near(right).min(signature.width - 1)),
    ];
    marks.extend(second.map(Statement::SecondLine));
    marks
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
