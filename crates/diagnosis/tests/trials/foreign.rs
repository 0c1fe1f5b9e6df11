//! Faults that no family describes, made up for the trials.

use backporch_raster::{Explain, Intercept, Line, LineReuse, Run, Stages};

use super::random::{Random, mix};

/// A made-up fault: some bytes of some lines come from elsewhere or arrive changed, or both, by rules
/// that mix line and start address in ways no family does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ForeignFault {
    rule: Rule,
    /// Where on the line it begins, in bytes.
    from: u32,
    /// Bytes of the line it reaches over.
    reach: u32,
    /// How far the bytes come from; 0 where they come from their own place.
    moved: u32,
    /// Bits of the bytes that arrive turned over.
    turned: u8,
    seed: u64,
}

/// Which lines it strikes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Rule {
    /// Lines scattered anew with each start address.
    Scattered,
    /// A band of lines that climbs as the start address grows.
    ClimbingBand,
    /// Lines whose product with the start address leaves a remainder.
    Product(u32),
    /// Lines whose number has the parity of the start address's bits, by threes.
    Parity,
    /// Every line, at start addresses that are scattered.
    ScatteredStarts,
    /// Lines that are square numbers apart, the more the larger the start address.
    Squares,
}

impl ForeignFault {
    /// One drawn at random.
    pub fn drawn(random: &mut Random) -> Self {
        let rules = [
            Rule::Scattered,
            Rule::ClimbingBand,
            Rule::Product(5),
            Rule::Product(7),
            Rule::Parity,
            Rule::ScatteredStarts,
            Rule::Squares,
        ];
        Self {
            rule: random.one_of(&rules).unwrap_or(Rule::Scattered),
            from: random.one_of(&[0, 16, 160, 200, 280]).unwrap_or(0),
            reach: random.one_of(&[24, 64, 150, 400]).unwrap_or(64),
            moved: random.one_of(&[2, 6, 250, 321]).unwrap_or(2),
            turned: 0,
            seed: random.bits(),
        }
        .at_stages(random.below(4), random)
    }

    /// Two of four only move bytes, one only changes them, one does both.
    fn at_stages(self, stages: u64, random: &mut Random) -> Self {
        let turned = random.one_of(&[0x01, 0x0F, 0x80, 0xFF]).unwrap_or(0xFF);
        match stages {
            0 | 1 => self,
            2 => Self { moved: 0, turned, ..self },
            _ => Self { turned, ..self },
        }
    }

    fn strikes(&self, line: &Line) -> bool {
        let (number, start) = (line.picture_line, line.start);
        let scatter = |value: u32| mix(self.seed ^ u64::from(value));
        match self.rule {
            Rule::Scattered => scatter(number << 16 ^ start) % 5 == 0,
            Rule::ClimbingBand => (number + start * 3) % 200 < 40,
            Rule::Product(by) => number * (start + 1) % by == 2,
            Rule::Parity => number % 3 == start.count_ones() % 3 && start % 5 != 0,
            Rule::ScatteredStarts => scatter(start) % 3 == 0,
            Rule::Squares => {
                let root = f64::from(number + start).sqrt() as u32;
                root * root == number + start || root * root + 1 == number + start
            }
        }
    }
}

impl Intercept for ForeignFault {
    fn stages(&self) -> Stages {
        let address = if self.moved > 0 { Stages::ADDRESS } else { Stages::empty() };
        let fetch = if self.turned > 0 { Stages::FETCH } else { Stages::empty() };
        address | fetch
    }

    fn fetch(&self, line: &Line, offset: u32, bytes: &mut [u8], _peek: &dyn Fn(u32) -> u8) {
        if self.strikes(line) {
            let struck = (offset..).zip(bytes).filter(|(at, _)| (self.from..self.from + self.reach).contains(at));
            struck.for_each(|(_, byte)| *byte ^= self.turned);
        }
    }

    fn address(&self, line: &Line, offset: u32, linear: u32) -> Run {
        let to = self.from + self.reach;
        match offset {
            _ if !self.strikes(line) => Run { linear, len: u32::MAX },
            before if before < self.from => Run { linear, len: self.from - before },
            inside if inside < to => Run { linear: linear.wrapping_add(self.moved), len: to - inside },
            _ => Run { linear, len: u32::MAX },
        }
    }
}

impl LineReuse for ForeignFault {}
impl Explain for ForeignFault {}
