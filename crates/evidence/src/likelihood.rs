//! How likely a sighting is, given what a fault is predicted to show.
//!
//! A *grade* says how far a statement is true of a frame, 0 to 1. An observer
//! is right but for a share ε of the sightings; a wrong observer says just this
//! with a *chance* that is small for exact statements and large for vague ones:
//!
//! ```text
//! likelihood = (1 − ε) · grade + ε · chance
//! ```
//!
//! The grades and chances are tabulated in the guide. A range of `n` steps
//! counts as `1 + log2 n` looks, since a person who describes a range has looked
//! at some of it and goes on from there. Who counts lines or pixels measures, and is
//! wrong less often than who glances: see [`error_rate`]. All figures are common
//! sense, not measured.

use backporch_analysis::{ComponentChange, FrameSignature, LinePattern, LineSet, Nature, Verdict};

use crate::impression::{Amount, Impression};
use crate::statement::{MoveDirection, Primary, Seen, Share, Statement, Tinge};

/// How well a sighting fits a prediction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SightingFit {
    /// How far it is true, 0 to 1.
    pub grade: f64,
    /// Natural logarithm of its likelihood.
    pub log: f64,
}

impl SightingFit {
    /// From which grade on a prediction explains a sighting; below, it contradicts it.
    pub const EXPLAINS: f64 = 0.5;
}

/// Factor on the share of wrong sightings for what is exact: who counts lines or pixels has looked twice.
const EXACT: f64 = 0.2;

/// How often a sighting that says this is wrong, by an observer who is wrong in a share `errors` of vague ones.
#[must_use]
pub fn error_rate(seen: &Seen, errors: f64) -> f64 {
    let statements = match seen {
        Seen::Said(_, statements) | Seen::FromStep(_, statements) => statements.as_slice(),
        _ => &[],
    };
    let measured = matches!(seen, Seen::Measured(_)) || statements.iter().any(Statement::is_exact);
    if measured { errors * EXACT } else { errors }
}

/// Looks that a range of steps counts for.
#[must_use]
pub fn looks(steps: u64) -> f64 {
    1.0 + (steps.max(1) as f64).log2()
}

/// How well what was seen fits the signatures of its frames, in the order of a
/// [`Sighting`](crate::Sighting)'s setups.
#[must_use]
pub fn fit(seen: &Seen, signatures: &[&FrameSignature], steps: u64, errors: f64) -> SightingFit {
    let log_of = |grade: f64| log_of(seen, grade, errors);
    let one = |grade: f64| SightingFit { grade, log: log_of(grade) };
    match seen {
        Seen::Nothing { .. } => SightingFit { grade: 1.0, log: 0.0 },
        Seen::FromStep(_, statements) => one(from_step(statements, signatures)),
        Seen::CleanAgainAt(_) => one(clean_again(signatures)),
        Seen::RepeatsEvery(_) => one(repeats(signatures)),
        Seen::SameAsSuspected => one(same_pairs(signatures, same_by_eye)),
        Seen::Measured(lines) => {
            let errors = error_rate(seen, errors);
            let log = mean_of(signatures, |signature| lines.log(signature));
            SightingFit {
                grade: mean_of(signatures, |signature| lines.grade(signature)),
                log: ((1.0 - errors) * log.exp() + errors * lines.chance()).ln(),
            }
        }
        Seen::Said(share, statements) => {
            let mean = mean_of(signatures, |signature| grade_of_all(statements, signature));
            match share {
                Share::Each => {
                    let log = mean_of(signatures, |signature| log_of(grade_of_all(statements, signature)));
                    // Of true statements none counts against a frame, however many vague ones there are.
                    let grade = mean_of(signatures, |signature| least_grade(statements, signature));
                    SightingFit { grade, log: log * looks(steps) }
                }
                Share::About(percent) => one(about(mean, f64::from(*percent) / 100.0)),
                Share::Most => one(ramp(mean, 0.3, 0.55)),
                Share::Several => one((mean * steps as f64 / 2.0).min(1.0)),
                Share::NowAndThen => one(now_and_then(statements, signatures)),
                Share::NoFrame => one(ramp(1.0 - mean, 0.9, 1.0)),
            }
        }
    }
}

/// Natural logarithm of the likelihood of one look at a frame of which it is true to that grade.
#[must_use]
pub fn log_of(seen: &Seen, grade: f64, errors: f64) -> f64 {
    let errors = error_rate(seen, errors);
    ((1.0 - errors) * grade + errors * chance(seen)).ln()
}

fn mean_of(signatures: &[&FrameSignature], value: impl Fn(&FrameSignature) -> f64) -> f64 {
    signatures.iter().map(|signature| value(signature)).sum::<f64>() / signatures.len().max(1) as f64
}

/// The greatest logarithm that [`fit`] can give.
#[must_use]
pub fn best(seen: &Seen, steps: u64, errors: f64) -> f64 {
    let one = log_of(seen, 1.0, errors);
    match seen {
        Seen::Nothing { .. } => 0.0,
        Seen::Said(Share::Each, _) => one * looks(steps),
        _ => one,
    }
}

/// The chance that a wrong observer says just this.
#[must_use]
pub fn chance(seen: &Seen) -> f64 {
    match seen {
        Seen::Nothing { .. } => 1.0,
        Seen::CleanAgainAt(_) | Seen::RepeatsEvery(_) => 1.0 / 20.0,
        Seen::SameAsSuspected => 1.0 / 2.0,
        Seen::Measured(lines) => lines.chance(),
        Seen::Said(Share::Each | Share::Most | Share::NowAndThen, statements) => chance_of_all(statements),
        Seen::Said(Share::About(_), statements) => (chance_of_all(statements) / 5.0).max(LEAST_CHANCE),
        Seen::FromStep(_, statements) => (chance_of_all(statements) / 20.0).max(LEAST_CHANCE),
        Seen::Said(Share::Several | Share::NoFrame, _) => 0.5,
    }
}

fn chance_of_all(statements: &[Statement]) -> f64 {
    let product: f64 = statements.iter().map(chance_of).product();
    product.max(LEAST_CHANCE)
}

/// However much an observer says, a wrong one says it with at least this chance.
const LEAST_CHANCE: f64 = 1e-5;

/// The chance that a wrong observer makes just this statement.
#[must_use]
pub fn chance_of(statement: &Statement) -> f64 {
    match statement {
        Statement::Damaged => 1.0 / 2.0,
        Statement::Right | Statement::Across => 1.0 / 3.0,
        Statement::Clean | Statement::Broken | Statement::SomeLines => 1.0 / 4.0,
        Statement::EdgeDamaged | Statement::Left | Statement::RightEdge | Statement::LeftEdge => 1.0 / 6.0,
        Statement::FewLines | Statement::MostLines => 1.0 / 6.0,
        Statement::Top | Statement::Bottom => 1.0 / 4.0,
        Statement::AllOfIt => 1.0 / 8.0,
        Statement::Every { first: None, .. } | Statement::Flickers | Statement::DiffersBetweenRuns => 1.0 / 10.0,
        Statement::Tinged(_) => 1.0 / 30.0,
        Statement::Displaced
        | Statement::Narrower
        | Statement::WrongColours
        | Statement::Specks
        | Statement::NoPicture => 1.0 / 12.0,
        Statement::Every { period, first: Some(_) } => 1.0 / 10.0 / f64::from((*period).max(1)),
        Statement::Examples(_) => 1.0 / 20.0,
        Statement::Count(_) | Statement::ShiftedBy(_) | Statement::Shifted(..) => 1.0 / 50.0,
        Statement::ShiftedHalfLine => 1.0 / 50.0,
        Statement::UppermostLine(_)
        | Statement::SecondLine(_)
        | Statement::LowermostLine(_)
        | Statement::LeftmostPixel(_)
        | Statement::RightmostPixel(_) => 1.0 / 50.0,
        Statement::Lines(_) | Statement::Pixels(..) => 1.0 / 1000.0,
    }
}

/// How far all the statements are true of one frame.
#[must_use]
pub fn grade_of_all(statements: &[Statement], signature: &FrameSignature) -> f64 {
    let grades = statements.iter().map(|statement| true_to(statement, signature));
    // Another word may have been nearer, but who says where speaks of lines and columns alike.
    let unsaid = statements.iter().any(|statement| another_is_nearer(statement, signature))
        || signature.short > 0 && !statements.contains(&Statement::Narrower);
    grades.product::<f64>() * if unsaid { UNSAID } else { 1.0 } * left_out(statements, signature)
}

/// How likely a description leaves out what shows besides: who says more of a frame than one word mostly says that it
/// flickers, and that it is single dots. Who counts or moves a marker speaks of what was asked.
fn left_out(statements: &[Statement], signature: &FrameSignature) -> f64 {
    let describes = statements.len() > 1 && statements.iter().any(Statement::is_of_places);
    if !describes || statements.iter().any(Statement::is_exact) {
        return 1.0;
    }
    let says = |what: &[Statement]| statements.iter().any(|statement| what.contains(statement));
    let flickers = signature.flickers && !says(&[Statement::Flickers, Statement::DiffersBetweenRuns]);
    let specks = matches!(Impression::of(signature), Impression::Specks { .. }) && !says(&[Statement::Specks]);
    [flickers, specks].into_iter().filter(|left_out| *left_out).map(|_| LEFT_OUT).product()
}

/// How far the least true of the statements is true of one frame.
#[must_use]
pub fn least_grade(statements: &[Statement], signature: &FrameSignature) -> f64 {
    statements.iter().map(|statement| grade(statement, signature)).fold(1.0, f64::min)
}

/// Whether what one says of either frame, looking attentively, is true of the other:
/// then they cannot be distinguished by eye.
#[must_use]
pub fn same_by_eye(one: &FrameSignature, other: &FrameSignature) -> bool {
    let explains = |said: &FrameSignature, shown: &FrameSignature| {
        grade_of_all(&Impression::of(said).statements(), shown) >= SightingFit::EXPLAINS
    };
    one == other || explains(one, other) && explains(other, one)
}

/// How far a statement is true of one frame, 0 to 1.
#[must_use]
pub fn grade(statement: &Statement, signature: &FrameSignature) -> f64 {
    let unsaid = if another_is_nearer(statement, signature) { UNSAID } else { 1.0 };
    true_to(statement, signature).min(unsaid)
}

/// Whether a statement of lines and places is made of a frame of which one would say something else.
fn another_is_nearer(statement: &Statement, signature: &FrameSignature) -> bool {
    let is_nearer = match signature.nature {
        Some(Nature::Colours | Nature::NoPicture) => true,
        // A picture that has lost its shape besides is no picture in another place.
        Some(Nature::Displaced) => signature.moved.is_some(),
        Some(Nature::Pixels | Nature::Addresses) | None => false,
    };
    is_nearer && statement.is_of_places()
}

/// How far a statement is true of one frame, whatever word were nearer.
fn true_to(statement: &Statement, signature: &FrameSignature) -> f64 {
    let is = |nature: Nature| f64::from(u8::from(signature.nature == Some(nature)));
    match (statement, signature.nature) {
        (Statement::Clean, None) => 1.0,
        (Statement::Clean, Some(_)) => overlooked(signature),
        (_, None) => 0.0,
        (Statement::Damaged, _) => 1.0 - overlooked(signature),
        (Statement::EdgeDamaged, _) => judged(Verdict::EdgeDamaged, signature),
        (Statement::Broken, _) => judged(Verdict::Broken, signature),
        // Where all of it comes from one other place it stands elsewhere, too.
        (Statement::Displaced, Some(Nature::Addresses | Nature::Pixels)) => {
            let all = ramp(signature.extent(), 0.7, 0.95);
            if signature.moved.is_some() { 0.8 * all } else { 0.0 }
        }
        (Statement::Displaced, _) => is(Nature::Displaced),
        (Statement::Narrower, _) => f64::from(u8::from(signature.short > 0)),
        (Statement::NoPicture, _) => is(Nature::NoPicture),
        // What is another one in each frame is another one in each run, too.
        (Statement::Flickers | Statement::DiffersBetweenRuns, _) => f64::from(u8::from(signature.flickers)),
        (Statement::Tinged(tinge), _) => tinged(*tinge, signature.components),
        // Wrong pixels all over may pass for wrong colours.
        (Statement::WrongColours, Some(Nature::Pixels)) if !signature.is_recoloured() => 0.3 * signature.extent(),
        // What else is wrong one would say, too.
        (Statement::WrongColours, _) => is(Nature::Colours).max(if signature.is_recoloured() { UNSAID } else { 0.0 }),
        // The eye does not tell why a dot is wrong.
        (Statement::Specks, Some(Nature::Pixels | Nature::Addresses)) => 1.0 - ramp(signature.density(), 0.02, 0.06),
        (Statement::Specks, _) => 0.0,
        (Statement::AllOfIt, Some(Nature::Displaced | Nature::NoPicture)) => 0.5,
        (
            Statement::ShiftedBy(_) | Statement::Shifted(..) | Statement::ShiftedHalfLine,
            Some(Nature::Addresses | Nature::Pixels | Nature::Displaced),
        ) => shifted(statement, signature),
        (statement, _) => place(statement, signature),
    }
}

/// How far a frame is judged so; of single dots another word is nearer.
fn judged(verdict: Verdict, signature: &FrameSignature) -> f64 {
    let are_dots = matches!(Impression::of(signature), Impression::Specks { .. });
    let is_true = f64::from(u8::from(signature.verdict() == verdict));
    if are_dots { UNSAID * is_true } else { is_true }
}

/// How far a frame whose components changed so is tinged in that way.
fn tinged(tinge: Tinge, components: [ComponentChange; 3]) -> f64 {
    use ComponentChange::{Less, Missing, More};
    let lost = |change: ComponentChange| matches!(change, Less | Missing);
    let of = |primary: Primary| components[primary as usize];
    match tinge {
        Tinge::Missing(primary) if of(primary) == Missing => 1.0,
        // What little is left may pass for nothing.
        Tinge::Missing(primary) if of(primary) == Less => 0.3,
        // Where it is gone one would say so; it is less all the same.
        Tinge::TooLittle(primary) if of(primary) == Less => 1.0,
        Tinge::TooLittle(primary) if of(primary) == Missing => UNSAID,
        Tinge::TooMuch(primary) if of(primary) == More => 1.0,
        // Where another one is lost, what is left stands out.
        Tinge::TooMuch(primary) if !lost(of(primary)) && components.into_iter().any(lost) => UNSAID,
        Tinge::TooDark if components.into_iter().all(lost) => 1.0,
        Tinge::TooDark if components.into_iter().any(lost) && !components.contains(&More) => UNSAID,
        Tinge::TooBright if components.into_iter().all(|change| change == More) => 1.0,
        Tinge::TooBright if components.contains(&More) && !components.into_iter().any(lost) => UNSAID,
        _ => 0.0,
    }
}

/// How likely one says something true where another word is nearer.
const UNSAID: f64 = 0.5;

/// How likely a description leaves out that the picture flickers, or that only single dots are wrong.
const LEFT_OUT: f64 = 0.6;

/// How likely an end of damage that is another one in each frame is marked where it was in some frame.
const SOME_FRAME: f64 = 0.5;

/// How far a statement of lines and columns is true of a damaged frame.
fn place(statement: &Statement, signature: &FrameSignature) -> f64 {
    let at_rest = place_at_rest(statement, signature);
    if signature.flickers && statement.is_of_an_end() { at_rest.max(SOME_FRAME) } else { at_rest }
}

/// The same of a frame that stands still.
fn place_at_rest(statement: &Statement, signature: &FrameSignature) -> f64 {
    let share = signature.lines.share();
    // Who sees a pattern or all lines says so.
    let vague =
        if signature.lines.pattern().is_some_and(|pattern| pattern.period <= Amount::MOST_COUNTED) { 0.6 } else { 1.0 };
    match statement {
        Statement::AllOfIt => ramp(signature.extent(), 0.7, 0.95),
        Statement::Every { period: 1, .. } => ramp(share, 0.5, 0.9),
        Statement::Every { period, first } => every(*period, *first, &signature.lines),
        Statement::FewLines => vague * (1.0 - ramp(share, 0.1, 0.2)),
        Statement::SomeLines => {
            let nearest = vague * (1.0 - ramp(share, 0.5, 0.75)) * ramp(share, 0.05, 0.12);
            // It stays true as long as some are not.
            if share < 1.0 { nearest.max(UNSAID) } else { 0.0 }
        }
        Statement::MostLines => ramp(share, 0.4, 0.55) * (1.0 - 0.5 * ramp(share, 0.9, 0.99)),
        Statement::Lines(list) => {
            let mut lines = LineSet::none(signature.lines.height());
            list.iter().for_each(|line| lines.mark(*line));
            alike(lines.likeness(&signature.lines))
        }
        Statement::Examples(list) => {
            let bad = list.iter().filter(|line| signature.lines.has(**line)).count();
            alike(bad as f64 / list.len().max(1) as f64)
        }
        Statement::Count(count) => {
            let (said, found) = (f64::from(*count), f64::from(signature.lines.count()));
            if said == found { 1.0 } else { 0.4 * (1.0 - ramp((said - found).abs() / found.max(1.0), 0.05, 0.15)) }
        }
        Statement::Right => {
            side(signature, |from, _, width| from / width, 0.3, 0.48) * nearer(place(&Statement::RightEdge, signature))
        }
        Statement::Left => {
            side(signature, |_, to, width| 1.0 - to / width, 0.3, 0.48) * nearer(place(&Statement::LeftEdge, signature))
        }
        Statement::RightEdge => side(signature, |from, _, width| from / width, 0.75, 0.88),
        Statement::LeftEdge => side(signature, |_, to, width| 1.0 - to / width, 0.75, 0.88),
        Statement::Across => side(signature, |from, to, width| (to - from) / width, 0.35, 0.6),
        Statement::Top => band(signature, |_, last, height| 1.0 - last / height),
        Statement::Bottom => band(signature, |first, _, height| first / height),
        Statement::Pixels(from, to) => match signature.x {
            Some((first, last)) if (first, last) == (*from, *to) => 1.0,
            Some((first, last)) if first.abs_diff(*from).max(last.abs_diff(*to)) <= PIXELS_MISREAD => 0.5,
            _ => 0.0,
        },
        Statement::UppermostLine(line) => {
            let first = signature.lines.ends().map(|(first, _)| first);
            marked(*line, first).max(hidden_before(*line, 0, signature.lines.iter()))
        }
        Statement::SecondLine(line) => second(*line, signature),
        Statement::LowermostLine(line) => marked(*line, signature.lines.ends().map(|(_, last)| last)),
        Statement::LeftmostPixel(pixel) => marked(*pixel, signature.x.map(|(first, _)| first)),
        Statement::RightmostPixel(pixel) => marked(*pixel, signature.x.map(|(_, last)| last)),
        _ => 0.0,
    }
}

/// How far a marked end of the damage is true of the one that is: what a picture shows of it may fall short by a few
/// pixels or lines that look alike.
fn marked(said: u32, found: Option<u32>) -> f64 {
    found.map_or(0.0, |found| match said.abs_diff(found) {
        0..=2 => 1.0,
        3..=5 => 0.6,
        6..=10 => 0.2,
        _ => 0.0,
    })
}

/// How far a marked second line is true of the one that is: the distance of two lines is seen to the line, or nearly.
fn second(said: u32, signature: &FrameSignature) -> f64 {
    let near: f64 = signature.lines.iter().nth(1).map_or(0.0, |found| match said.abs_diff(found) {
        0 => 1.0,
        1 => 0.6,
        2 => 0.2,
        _ => 0.0,
    });
    near.max(hidden_before(said, 1, signature.lines.iter()))
}

/// How far a line is the one after `marked` others among the bad lines that can be seen: of those in between, each half of
/// the time shows what was meant all the same.
fn hidden_before(said: u32, marked: usize, mut lines: impl Iterator<Item = u32>) -> f64 {
    lines
        .position(|line| line == said)
        .and_then(|at| at.checked_sub(marked))
        .map_or(0.0, |hidden| 0.5f64.powi(hidden as i32))
}

/// How far a statement of where content stands is true of a frame.
fn shifted(statement: &Statement, signature: &FrameSignature) -> f64 {
    let Some((right, down)) = signature.moved_to() else {
        return 0.0;
    };
    let near = |said: u32, found: u32| -> f64 {
        match said.abs_diff(found) {
            0 => 1.0,
            1 => 0.3,
            _ => 0.0,
        }
    };
    let way = |found: i32, said: u32| -> f64 { u32::try_from(found).map_or(0.0, |found| near(said, found)) };
    match statement {
        Statement::ShiftedBy(pixels) => {
            let along_memory = signature.moved.map_or(0, i32::unsigned_abs);
            near(*pixels, right.unsigned_abs()).max(near(*pixels, along_memory))
        }
        Statement::Shifted(MoveDirection::Right, pixels) => way(right, *pixels),
        Statement::Shifted(MoveDirection::Left, pixels) => way(-right, *pixels),
        // Lines are not misread by one.
        Statement::Shifted(MoveDirection::Down, lines) => way(down, *lines).floor(),
        Statement::Shifted(MoveDirection::Up, lines) => way(-down, *lines).floor(),
        Statement::ShiftedHalfLine => {
            let beside = signature.moved.map_or(0, i32::unsigned_abs) % signature.pitch.max(1);
            f64::from(u8::from((2 * beside).abs_diff(signature.width) <= 2 * PIXELS_MISREAD))
        }
        _ => 0.0,
    }
}

/// Factor for a word where a nearer one is true to that grade.
fn nearer(grade: f64) -> f64 {
    1.0 - 0.4 * grade
}

/// Pixels by which an edge is misread.
const PIXELS_MISREAD: u32 = 2;

/// How likely damage of that extent is overlooked: half a per mille of the picture is, mostly.
fn overlooked(signature: &FrameSignature) -> f64 {
    0.5 * (1.0 - ramp(signature.extent(), 0.0005, 0.003))
}

fn every(period: u32, first: Option<u32>, lines: &LineSet) -> f64 {
    let height = lines.height();
    let with = |phase: u32| lines.likeness(&LineSet::of_pattern(height, LinePattern { period, phase }));
    match first {
        Some(phase) => alike(with(phase)),
        // Only the phases of bad lines can fit; the one of the first bad line is tried, and its neighbours of a period.
        None => alike(lines.iter().take(period as usize).map(|line| with(line % period)).fold(0.0, f64::max)),
    }
}

/// How far sets of lines so much alike pass for one another.
fn alike(likeness: f64) -> f64 {
    if likeness >= 1.0 { 1.0 } else { 0.8 * ramp(likeness, 0.5, 1.0) }
}

fn side(signature: &FrameSignature, share: impl Fn(f64, f64, f64) -> f64, low: f64, high: f64) -> f64 {
    let width = f64::from(signature.width.max(1));
    signature.x.map_or(0.0, |(from, to)| ramp(share(f64::from(from), f64::from(to), width), low, high))
}

fn band(signature: &FrameSignature, share: impl Fn(f64, f64, f64) -> f64) -> f64 {
    let height = f64::from(signature.lines.height().max(1));
    signature
        .lines
        .ends()
        .map_or(0.0, |(first, last)| ramp(share(f64::from(first), f64::from(last), height), 0.3, 0.48))
}

/// All but the last bad, and the last clean.
fn clean_again(signatures: &[&FrameSignature]) -> f64 {
    let Some((last, before)) = signatures.split_last() else {
        return 0.0;
    };
    let bad = before.iter().filter(|signature| !signature.is_clean()).count() as f64 / before.len().max(1) as f64;
    ramp(bad, 0.5, 0.95) * grade(&Statement::Clean, last)
}

/// True of the second half of the frames, and not of the first.
fn from_step(statements: &[Statement], signatures: &[&FrameSignature]) -> f64 {
    let (before, after) = signatures.split_at(signatures.len() / 2);
    let of = |part: &[&FrameSignature]| mean_of(part, |signature| least_grade(statements, signature));
    ramp(of(after), 0.4, 0.9) * (1.0 - ramp(of(before), 0.1, 0.6))
}

/// How well a share that was said fits the one that is: within a third of it, or three in a hundred, it is right.
fn about(found: f64, said: f64) -> f64 {
    let slack = (said / 3.0).max(0.03);
    1.0 - ramp((found - said).abs(), slack, 2.0 * slack)
}

/// Each pair alike, and not all of it clean.
fn repeats(signatures: &[&FrameSignature]) -> f64 {
    let same = same_pairs(signatures, |one, other| Impression::of(one) == Impression::of(other));
    let changes = signatures.windows(2).any(|pair| Impression::of(pair[0]) != Impression::of(pair[1]));
    // What never changes repeats, too, but an observer would not say so.
    ramp(same, 0.7, 0.98) * if changes { 1.0 } else { 0.2 }
}

/// Share of the pairs that look the same.
fn same_pairs(signatures: &[&FrameSignature], same: impl Fn(&FrameSignature, &FrameSignature) -> bool) -> f64 {
    let pairs = signatures.chunks_exact(2);
    let count = pairs.len().max(1) as f64;
    pairs.filter(|pair| same(pair[0], pair[1])).count() as f64 / count
}

/// True of a few frames and not of most. A picture that goes through steps of which few are bad comes and goes before
/// the eye: that is flickering, too, though each step stands still.
fn now_and_then(statements: &[Statement], signatures: &[&FrameSignature]) -> f64 {
    let in_passing = |signature: &&FrameSignature| {
        let grades = statements.iter().map(|statement| match statement {
            Statement::Flickers => grade(&Statement::Damaged, signature),
            statement => grade(statement, signature),
        });
        grades.product::<f64>()
    };
    let grades: Vec<f64> = signatures.iter().map(in_passing).collect();
    let mean = |grades: &[f64]| grades.iter().sum::<f64>() / grades.len().max(1) as f64;
    let comes_and_goes = grades.iter().copied().fold(0.0, f64::max) * (1.0 - ramp(mean(&grades), 0.25, 0.5));
    let at_rest: Vec<f64> = signatures.iter().map(|signature| grade_of_all(statements, signature)).collect();
    let always = if statements.contains(&Statement::Flickers) { STEADILY * mean(&at_rest) } else { 0.0 };
    comes_and_goes.max(always)
}

/// How likely one says *now and then* of what flickers in every step.
const STEADILY: f64 = 0.7;

/// 0 up to `low`, 1 from `high` on, straight between.
fn ramp(value: f64, low: f64, high: f64) -> f64 {
    ((value - low) / (high - low)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests;
