//! The building blocks of a guess, and what each takes to write down.

use std::collections::BTreeSet;

use backporch_evidence::{MoveDirection, Seen, Share, Sightings, Statement};

use crate::pattern::{Pattern, Regime};

/// A part of a guess.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GuessPart {
    /// How far the bytes come from.
    Amount,
    /// Which lines.
    Lines,
    /// Which bytes of the line.
    Bytes,
    /// At which start addresses.
    Steps,
}

impl GuessPart {
    /// All of them, in the order in which they are chosen.
    pub const ALL: [Self; 4] = [Self::Lines, Self::Bytes, Self::Amount, Self::Steps];
}

/// A condition of the quirk language, and the bits it takes.
#[derive(Clone, Debug, PartialEq)]
struct Block {
    text: String,
    bits: f64,
}

impl Block {
    const NONE: &'static str = "";

    fn none() -> Self {
        Self { text: Self::NONE.to_string(), bits: 1.0 }
    }

    /// A condition of that many kinds there are, with these numbers.
    fn new(text: String, kinds: f64, numbers: &[u32]) -> Self {
        Self { text, bits: 1.0 + kinds.log2() + numbers.iter().map(|number| bits_of(*number)).sum::<f64>() }
    }
}

/// A whole number in a code that takes small ones for likely (Elias gamma, of the number and one).
fn bits_of(number: u32) -> f64 {
    2.0 * f64::from(number.saturating_add(1)).log2().floor() + 1.0
}

/// A guess: bytes of some lines, in some place, at some steps, come from so far.
#[derive(Clone, Debug, PartialEq)]
pub struct Description {
    amount: i32,
    lines: Block,
    bytes: Block,
    steps: Block,
}

impl Description {
    /// What it takes to write it down, in bits.
    pub fn bits(&self) -> f64 {
        bits_of(self.amount.unsigned_abs()) + 1.0 + self.lines.bits + self.bytes.bits + self.steps.bits
    }

    /// The family's file, under that name.
    pub fn text(&self, name: &str) -> String {
        let conditions: Vec<&str> = [&self.lines, &self.bytes, &self.steps]
            .into_iter()
            .map(|block| block.text.as_str())
            .filter(|text| *text != Block::NONE)
            .collect();
        let when =
            if conditions.is_empty() { String::new() } else { format!("when: All([{}]), ", conditions.join(", ")) };
        format!(
            "// A guess, put together from what was seen: a family to try, not a known fault.\n(\n    version: 1,\n    \
             name: \"{name}\",\n    title: \"A guess from what was seen\",\n    cause: \"Not known.\",\n    looks: \"As it \
             was seen.\",\n    standing: Conjectured,\n    prior: 1,\n    effects: [\n        ({when}does: \
             Address(Moved(bytes: {}))),\n    ],\n)\n",
            self.amount
        )
    }
}

/// What may be chosen for each part.
#[derive(Clone, Debug)]
pub struct PartChoices {
    amounts: Vec<i32>,
    lines: Vec<Block>,
    bytes: Vec<Block>,
    steps: Vec<Block>,
}

/// Amounts that are always tried, in bytes.
const AMOUNTS: [i32; 8] = [1, 2, 4, 8, 16, 32, 64, 256];
/// Greatest distance of lines that is tried.
const MOST_LINES: u32 = 16;

/// The blocks that what was seen suggests, and the usual ones.
pub fn choices(sightings: &Sightings, counting: &[usize]) -> PartChoices {
    let statements = || {
        counting.iter().flat_map(|at| match &sightings.sightings()[*at].seen {
            Seen::Said(Share::Each, statements) => statements.as_slice(),
            _ => &[],
        })
    };
    let setup = sightings.setups().first();
    let (width, bytes) = setup.map_or((1, 1), |setup| (setup.size().0.max(1), setup.line_bytes().max(1)));
    let pitch = setup.map_or(0, |setup| setup.pitch()) as i32;
    let byte = |pixel: u32| pixel * bytes / width;
    let mut amounts: BTreeSet<i32> = AMOUNTS.iter().flat_map(|by| [*by, -by]).chain([pitch, -pitch]).collect();
    for statement in statements() {
        let by = |pixels: u32| byte(pixels) as i32;
        match statement {
            Statement::ShiftedBy(pixels) => amounts.extend([by(*pixels), -by(*pixels)]),
            Statement::Shifted(MoveDirection::Left, pixels) => amounts.extend([by(*pixels)]),
            Statement::Shifted(MoveDirection::Right, pixels) => amounts.extend([-by(*pixels)]),
            Statement::Shifted(MoveDirection::Up, lines) => amounts.extend([pitch * *lines as i32]),
            Statement::Shifted(MoveDirection::Down, lines) => amounts.extend([-pitch * *lines as i32]),
            _ => {}
        }
    }
    amounts.remove(&0);
    let pattern = Pattern::of(sightings, counting);
    PartChoices {
        amounts: amounts.into_iter().collect(),
        lines: lines(statements()),
        bytes: places(statements(), bytes, byte),
        steps: steps(&pattern),
    }
}

/// Lines in groups: how many belong together, every how many groups are bad, and which of them.
type Groups = (u32, u32, u32);

/// The groups that a list of lines falls into.
fn groups(lines: &[u32]) -> Option<Groups> {
    let starts: Vec<u32> = lines
        .iter()
        .copied()
        .filter(|line| line.checked_sub(1).is_none_or(|before| !lines.contains(&before)))
        .collect();
    // The first run may be cut by the edge of the picture.
    let (one, next) = (*starts.get(1)?, *starts.get(2)?);
    let size = (one..next).take_while(|line| lines.contains(line)).count() as u32;
    let aligned = size > 0 && one % size == 0 && (next - one).is_multiple_of(size);
    aligned.then(|| (size, (next - one) / size, one / size % ((next - one) / size)))
}

/// The distances of lines and the groups that the statements speak of.
fn spoken_of<'a>(statements: impl Iterator<Item = &'a Statement>) -> (BTreeSet<u32>, BTreeSet<Groups>) {
    let (mut counts, mut found) = (BTreeSet::new(), BTreeSet::new());
    for statement in statements {
        match statement {
            Statement::Every { period, .. } => counts.extend([*period]),
            Statement::Lines(lines) => {
                found.extend(groups(lines));
                counts.extend(lines.windows(2).map(|pair| pair[1] - pair[0]));
            }
            _ => {}
        }
    }
    counts.retain(|count| *count > 1);
    (counts, found)
}

/// Conditions on the line: by its number, in groups, by the address of its first byte.
fn lines<'a>(statements: impl Iterator<Item = &'a Statement>) -> Vec<Block> {
    let mut lines = vec![Block::none()];
    let (mut counts, found) = spoken_of(statements);
    if counts.is_empty() {
        counts.extend(2..=MOST_LINES);
    }
    counts.retain(|count| *count <= MOST_LINES);
    let every = |of: &str, kinds: f64, numbers: &[u32], count: u32, phase: u32| {
        let text = format!("Every(of: {of}, count: {count}, phase: {phase})");
        Block::new(text, kinds, &[numbers, &[count, phase]].concat())
    };
    for count in counts {
        lines.extend((0..count).map(|phase| every("Line", 3.0, &[], count, phase)));
    }
    for (group, count, phase) in found.into_iter().filter(|(group, count, _)| *group > 1 && *count > 1) {
        lines.push(every(&format!("Quotient(Line, {group})"), 3.0, &[group], count, phase));
    }
    for group in [32, 64, 128, 256] {
        for count in 2..=4 {
            let of = format!("Quotient(FirstByte, {group})");
            lines.extend((0..count).map(|phase| every(&of, 3.0, &[group], count, phase)));
        }
    }
    lines
}

/// Places on the line: those that were measured, and those of the words for them.
fn places<'a>(statements: impl Iterator<Item = &'a Statement>, bytes: u32, byte: impl Fn(u32) -> u32) -> Vec<Block> {
    let mut ends: BTreeSet<(u32, u32)> = BTreeSet::new();
    let last = bytes.saturating_sub(1);
    for statement in statements {
        match statement {
            Statement::Pixels(from, to) => {
                let (from, to) = (byte(*from), byte(*to));
                ends.extend([(from, to), (from, last), (0, to)]);
            }
            Statement::Right => ends.extend([(bytes / 2, last), (bytes * 3 / 4, last)]),
            Statement::Left => ends.extend([(0, last / 2), (0, last / 4)]),
            Statement::RightEdge => {
                ends.extend([(bytes - bytes / 16, last), (bytes - bytes / 10, last), (last.saturating_sub(1), last)])
            }
            Statement::LeftEdge => ends.extend([(0, bytes / 16), (0, bytes / 10), (0, 1)]),
            _ => {}
        }
    }
    // Measured pieces that overlap or touch are taken for parts of one place, too.
    let (first, end) = (ends.iter().map(|one| one.0).min(), ends.iter().map(|one| one.1).max());
    ends.extend(first.zip(end));
    let within = |(from, to): &(u32, u32)| {
        Block::new(format!("Within(of: Byte, from: {from}, to: {to})"), 1.0, &[*from, to.saturating_sub(*from)])
    };
    std::iter::once(Block::none()).chain(ends.iter().map(within)).collect()
}

/// Conditions on the start address, from what tells bad steps from clean ones.
fn steps(pattern: &Pattern) -> Vec<Block> {
    let mut steps = vec![Block::none()];
    match &pattern.steps {
        Some(Regime::From { clean, bad, .. }) => {
            let from =
                |start: &u32| Block::new(format!("Within(of: Start, from: {start}, to: 1048575)"), 2.0, &[*start]);
            steps.extend([clean + 1, *bad].iter().map(from));
        }
        Some(Regime::Every { period, remainders, .. }) => {
            let every = |left: &u32| format!("Every(of: Start, count: {period}, phase: {left})");
            let any: Vec<String> = remainders.iter().map(every).collect();
            steps.push(Block::new(
                format!("Any([{}])", any.join(", ")),
                2.0,
                &[&[*period], remainders.as_slice()].concat(),
            ));
        }
        None => {}
    }
    steps
}

impl PartChoices {
    /// Everywhere, by each amount.
    pub fn start(&self) -> Vec<Description> {
        let of = |amount: &i32| Description {
            amount: *amount,
            lines: Block::none(),
            bytes: Block::none(),
            steps: Block::none(),
        };
        self.amounts.iter().map(of).collect()
    }

    /// A description with every other choice for one part.
    pub fn instead(&self, part: GuessPart, description: &Description) -> Vec<Description> {
        let with = |change: &dyn Fn(&mut Description)| {
            let mut one = description.clone();
            change(&mut one);
            one
        };
        match part {
            GuessPart::Amount => self.amounts.iter().map(|amount| with(&|one| one.amount = *amount)).collect(),
            GuessPart::Lines => self.lines.iter().map(|block| with(&|one| one.lines = block.clone())).collect(),
            GuessPart::Bytes => self.bytes.iter().map(|block| with(&|one| one.bytes = block.clone())).collect(),
            GuessPart::Steps => self.steps.iter().map(|block| with(&|one| one.steps = block.clone())).collect(),
        }
    }
}
