//! Which of many steps a capture shows.
//!
//! A register is stepped, and each step shows another window of the same content. Nothing is known of where the picture
//! lies, so both are found together, coarse to fine: guesses of the frame are held against every step on a few cells,
//! the best of them are laid over the capture in full, the edges of the active area say which of the steps that show the
//! same content beside its place it is, and in the end the lines of the best step and of its rivals are compared one by
//! one.
//!
//! A step is found only where lines speak for it against every other: damaged lines speak for none or for another, and
//! do not pull as long as they are the fewer.

mod coarse;
mod edges;
mod fine;
mod fringe;

use thiserror::Error;

use crate::capture::Capture;
use crate::expected::{Expected, ExpectedError, Rgb8};
use crate::locate::guesses;
use crate::measurement::{Geometry, LEAST_AGREEMENT, MeasureError, find_from, pyramid, refit};
use crate::register::{ExpectedGrid, Pyramid};
use crate::warp::Warp;
use coarse::{CellDifferences, Coarse};
use edges::Placed;
use fine::{Fine, Speaks, settled};
use fringe::{Framed, Fringe};

/// Steps of a register, each with the picture that a board shows there.
pub trait StepPictures {
    /// How many there are.
    fn count(&self) -> usize;
    /// Pixels of a line, and lines; the same at every step.
    fn size(&self) -> (usize, usize);
    /// Content as pixels; what lines are windows of. Strips go round: after the last pixel comes the first. None is empty.
    fn strips(&self) -> &[Vec<Rgb8>];
    /// The strip that a line of a step shows on the plain board, and the pixel of it at which the line begins.
    fn begins(&self, step: usize, line: usize) -> (usize, usize);
    /// What the plain board shows at a step.
    ///
    /// # Errors
    /// [`ExpectedError`] where nothing can be held against it.
    fn expected(&self, step: usize) -> Result<Expected, ExpectedError>;
    /// What other boards that come into question show at a step, each all lines from the top.
    fn others(&self, step: usize) -> Vec<Vec<Rgb8>>;
    /// Steps at which a board that is not the plain one may show this picture, all lines from the top, which the plain one
    /// shows elsewhere.
    fn lookalikes(&self, _picture: &[Rgb8]) -> Vec<usize> {
        Vec::new()
    }
}

/// The step that a capture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundStep {
    /// The position of the step among those tried.
    pub step: usize,
    /// The board whose picture fits best there: 0 for the plain one, others after it in their order.
    pub board: usize,
    /// How well the lines fit it, 1 where they are the same.
    pub fit: f64,
    /// The next best step that looks different, where there is one.
    pub next: Option<Rival>,
    /// Where the picture lies.
    pub geometry: Geometry,
}

/// A step beside the one that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rival {
    /// Its position among those tried.
    pub step: usize,
    /// How well the lines fit it; `None` where it shows the same content beside its place, and the edges tell.
    pub fit: Option<f64>,
    /// By how many standard errors the lines, or the edges of the active area, speak against it.
    pub margin: f64,
}

/// Why a step could not be judged.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum UndecidedStep {
    /// The capture shows none of them.
    #[error(transparent)]
    None(#[from] MeasureError),
    /// A picture cannot be held against a capture.
    #[error(transparent)]
    Expected(#[from] ExpectedError),
    /// Several steps show the same picture.
    #[error("several steps show the same picture")]
    Same {
        /// Their positions, the first few.
        steps: Vec<usize>,
    },
    /// Two steps fit alike.
    #[error("two steps fit alike")]
    Alike {
        /// The one that fits best.
        best: usize,
        /// The other.
        other: Rival,
    },
    /// One step on one board, and another on another, show what the capture shows.
    #[error("one step on one board and another on another fit alike")]
    LookAlike {
        /// The step that fits best, and its board as of [`FoundStep::board`].
        best: (usize, usize),
        /// The other, and its board.
        other: (usize, usize),
    },
    /// Steps that show the same content beside its place: the edges of the active area do not tell them apart.
    #[error("the edges of the active area do not stand out enough to tell steps that differ by little")]
    Edges {
        /// The one that fits best.
        best: usize,
        /// The other.
        other: Rival,
    },
}

/// Standard errors from which lines speak for a step against another.
const SURE: f64 = 2.5;
/// Standard errors from which edges do.
const SURE_BY_EDGES: f64 = 2.5;
/// Pixels and lines by which content may be laid amiss.
const LAID_AMISS: (i32, i32) = (2, 1);
/// Standard errors from which the fringe does.
const SURE_BY_FRINGE: f64 = 3.0;
/// Fits laid over the capture in full at most.
const LAID: usize = 8;
/// Rivals whose lines are compared.
const RIVALS: usize = 12;
/// Times that the search begins again from a better frame.
const ROUNDS: usize = 3;
/// Positions named of steps that show the same.
const MOST_NAMED: usize = 8;
/// Steps that show the same whose other boards are compared, at most.
const MOST_SAME: usize = 256;

/// Tells which step a capture shows.
///
/// # Errors
/// [`UndecidedStep`] where it shows none of them, or several fit alike.
pub fn which(steps: &dyn StepPictures, capture: &Capture) -> Result<FoundStep, UndecidedStep> {
    let pyramid = pyramid(capture);
    let coarse = Coarse::new(steps);
    let frames: Vec<Warp> =
        guesses(&pyramid).into_iter().filter_map(|corners| Warp::of_corners(steps.size(), corners)).collect();
    let mut best = laid(steps, &pyramid, &coarse, &frames)?;
    let mut frame = Vec::new();
    for _ in 0..ROUNDS {
        let placed = place(steps, &pyramid, best)?;
        // The frame is known now: every step is held against it once more.
        let seen = coarse.seen(&pyramid, &placed.warp);
        let ranked = coarse.ranked(steps, std::slice::from_ref(&seen), 4 * RIVALS);
        frame = ranked.into_iter().map(|found| found.step).collect();
        let first = frame.first().copied();
        best = placed;
        match first.filter(|first| displaced(steps, best.step, *first).is_none()) {
            // Something else altogether fits better.
            Some(other) if coarse.score(steps, &seen, other) > coarse.score(steps, &seen, best.step) + BETTER => {
                best = Laid { step: other, ..best };
            }
            _ => break,
        }
    }
    let mut tried = vec![best.step];
    loop {
        match beside(steps, &pyramid, &best)? {
            Beside::Not(nearest) => return decided(steps, &pyramid, best, &frame, nearest),
            Beside::Rather(step, (right, down)) if !tried.contains(&step) => {
                tried.push(step);
                let warp = best.warp.moved((f64::from(right), f64::from(down)));
                best = Laid { step, warp, ..best };
            }
            Beside::Rather(step, _) => {
                let other = Rival { step, fit: None, margin: 0.0 };
                return Err(UndecidedStep::Edges { best: best.step, other });
            }
        }
    }
}

/// Whether it is a step rather that shows the same content beside its place.
enum Beside {
    /// It is not; against this one the least speaks.
    Not(Option<Rival>),
    /// It is this one, whose content is displaced so.
    Rather(usize, (i32, i32)),
}

/// Holds a step against those that show the same content beside its place: by the edges of the active area, and where those
/// do not tell, by what each of the boards shows at the fringe.
fn beside(steps: &dyn StepPictures, pyramid: &Pyramid, laid: &Laid) -> Result<Beside, UndecidedStep> {
    let expected = steps.expected(laid.step)?;
    let placed = Placed::new(&expected, pyramid, &laid.warp);
    let fine = Fine::new(pyramid, &laid.warp, steps.size());
    let lines = |pictures: &[Vec<Rgb8>]| pictures.iter().map(|picture| fine.lines(picture)).collect::<Vec<_>>();
    let own = shown(steps, laid.step)?;
    let own_best = Speaks::best(lines(&own));
    let mut nearest: Option<Rival> = None;
    for (step, moved) in family(steps, laid.step).into_iter().filter(|(_, moved)| *moved != (0, 0)) {
        let mut margin = placed.against(moved);
        if margin < SURE_BY_EDGES {
            let reach = moved.0.abs().max(moved.1.abs()) + 1;
            let fringe = Fringe::new(pyramid, &laid.warp, steps.size(), expected.border(), reach);
            let others = shown(steps, step)?;
            // By the board whose lines fit best.
            let board = own_best.as_ref().map_or(0, |best| best.board);
            let says = own.get(board).zip(others.get(board)).map_or(0.0, |(own, other)| {
                fringe.speaks(Framed { picture: own, moved: (0, 0) }, Framed { picture: other, moved })
            });
            if says <= -SURE_BY_FRINGE {
                return Ok(Beside::Rather(step, moved));
            }
            margin = margin.max(if says >= SURE_BY_FRINGE { says } else { 0.0 });
        }
        // The frame may be known and the content be laid amiss: where many lines are moved alike, or blurred together.
        if moved.0.abs() <= LAID_AMISS.0 && moved.1.abs() <= LAID_AMISS.1 {
            let other = Speaks::best(lines(&shown(steps, step)?));
            let says = own_best.as_ref().zip(other.as_ref()).map_or(0.0, |(own, other)| own.against(other));
            margin = margin.min(says);
        }
        if nearest.is_none_or(|nearest| margin < nearest.margin) {
            nearest = Some(Rival { step, fit: None, margin });
        }
    }
    if let Some(other) = nearest.filter(|other| other.margin < SURE_BY_EDGES) {
        return Err(UndecidedStep::Edges { best: laid.step, other });
    }
    Ok(Beside::Not(nearest))
}

/// What every board shows at a step, the plain one first.
fn shown(steps: &dyn StepPictures, step: usize) -> Result<Vec<Vec<Rgb8>>, UndecidedStep> {
    let plain = steps.expected(step)?;
    let plain = (0..plain.size().1).flat_map(|line| plain.line(line).to_vec()).collect();
    Ok(std::iter::once(plain).chain(steps.others(step)).collect())
}

/// By how much a coarse score must be better for the search to begin again.
const BETTER: f64 = 0.05;

/// A step laid over the capture.
#[derive(Clone, Debug)]
struct Laid {
    step: usize,
    warp: Warp,
    agreement: f64,
}

/// The step that agrees best once it is laid over the capture in full.
fn laid(steps: &dyn StepPictures, pyramid: &Pyramid, coarse: &Coarse, frames: &[Warp]) -> Result<Laid, UndecidedStep> {
    let seen: Vec<CellDifferences> = frames.iter().map(|frame| coarse.seen(pyramid, frame)).collect();
    let mut best: Option<Laid> = None;
    for found in coarse.ranked(steps, &seen, LAID) {
        let expected = steps.expected(found.step)?;
        let mut warp = frames[found.frame].clone();
        let targets = [ExpectedGrid::new(&expected, 0), ExpectedGrid::new(&expected, 1)];
        targets[0].fit_perspective(pyramid, &mut warp, 14);
        targets[1].fit_perspective(pyramid, &mut warp, 8);
        let agreement = targets[1].agreement(pyramid, &warp);
        if best.as_ref().is_none_or(|best| agreement > best.agreement) {
            best = Some(Laid { step: found.step, warp, agreement });
        }
    }
    best.ok_or(UndecidedStep::None(MeasureError::SomethingElse { found: 0.0 }))
}

/// Lays a step in full, and goes over to the step that has the same content where the edges of the active area are.
fn place(steps: &dyn StepPictures, pyramid: &Pyramid, laid: Laid) -> Result<Laid, UndecidedStep> {
    let Laid { mut step, warp, .. } = laid;
    let expected = steps.expected(step)?;
    let (mut warp, agreement) = find_from(&expected, pyramid, warp)?;
    warp = warp.moved(settled(pyramid, &warp, &expected));
    let mut tried = vec![step];
    loop {
        let placed = Placed::new(&expected, pyramid, &warp);
        let nearest = placed.nearest(family(steps, step)).filter(|(nearest, _)| !tried.contains(nearest));
        let Some((nearest, (right, down))) = nearest else { break };
        step = nearest;
        tried.push(step);
        warp = warp.moved((f64::from(right), f64::from(down)));
        // What stood outside stands inside now.
        let expected = steps.expected(step)?;
        refit(&expected, pyramid, &mut warp);
        warp = warp.moved(settled(pyramid, &warp, &expected));
    }
    Ok(Laid { step, warp, agreement })
}

/// The steps that show the content of one beside its place: pixels to the right and lines down by which it is displaced.
fn family(steps: &dyn StepPictures, step: usize) -> Vec<(usize, (i32, i32))> {
    (0..steps.count()).filter_map(|other| Some((other, displaced(steps, step, other)?))).collect()
}

/// Pixels and lines to either side within which content counts as the same.
const NEAR: i64 = 10;

/// By how many pixels and lines the content of one step stands right of and below the same of another; `None` where it is
/// not the same, or farther.
fn displaced(steps: &dyn StepPictures, step: usize, other: usize) -> Option<(i32, i32)> {
    let height = steps.size().1 as i64;
    let apart = |line: i64, down: i64| -> Option<i64> {
        let (strip, at) = steps.begins(other, line as usize);
        let (known, from) = steps.begins(step, (line + down) as usize);
        let length = steps.strips().get(strip)?.len() as i64;
        let ahead = (at as i64 - from as i64).rem_euclid(length);
        let right = if ahead > length / 2 { ahead - length } else { ahead };
        (strip == known && right.abs() <= NEAR).then_some(right)
    };
    let rows = [height / 4, height / 2, 3 * height / 4];
    let mut downs: Vec<i64> = (-NEAR..=NEAR).collect();
    downs.sort_by_key(|down| down.abs());
    downs.into_iter().find_map(|down| {
        let right = apart(rows[0], down)?;
        let all = rows[1..].iter().all(|row| apart(*row, down) == Some(right));
        all.then_some((right as i32, down as i32))
    })
}

/// Compares lines, and says what can be said; against the step beside it the edges have spoken.
fn decided(
    steps: &dyn StepPictures,
    pyramid: &Pyramid,
    laid: Laid,
    ranked: &[usize],
    beside: Option<Rival>,
) -> Result<FoundStep, UndecidedStep> {
    let Laid { step, warp, agreement } = laid;
    if agreement < LEAST_AGREEMENT {
        return Err(MeasureError::SomethingElse { found: agreement }.into());
    }
    let expected = steps.expected(step)?;

    let fine = Fine::new(pyramid, &warp, steps.size());
    let pictures = |step: usize| -> Result<Vec<Vec<f64>>, UndecidedStep> {
        Ok(shown(steps, step)?.iter().map(|picture| fine.lines(picture)).collect())
    };
    let same: Vec<usize> =
        family(steps, step).into_iter().filter(|(_, moved)| *moved == (0, 0)).map(|(other, _)| other).collect();
    let mut best = (step, Speaks::best(pictures(step)?).ok_or(MeasureError::SomethingElse { found: agreement })?);
    // Steps at which the plain board shows the same may differ on others.
    let mut alike: Vec<(usize, Speaks)> = Vec::new();
    for other in same.iter().filter(|other| **other != step).take(MOST_SAME) {
        alike.extend(Speaks::best(pictures(*other)?).map(|speaks| (*other, speaks)));
    }
    if let Some(at) = (0..alike.len()).max_by(|one, other| alike[*one].1.fit.total_cmp(&alike[*other].1.fit))
        && alike[at].1.fit > best.1.fit
    {
        std::mem::swap(&mut alike[at], &mut best);
    }
    let not_told_apart: Vec<usize> =
        alike.iter().filter(|(_, other)| best.1.against(other) < SURE).map(|(other, _)| *other).collect();
    if !not_told_apart.is_empty() {
        let mut steps: Vec<usize> = std::iter::once(best.0).chain(not_told_apart).collect();
        steps.sort_unstable();
        steps.truncate(MOST_NAMED);
        return Err(UndecidedStep::Same { steps });
    }
    let mut rivals: Vec<usize> = Vec::new();
    for other in ranked.iter().copied() {
        let known = other == step || displaced(steps, step, other).is_some();
        if !known && !rivals.iter().any(|rival| displaced(steps, *rival, other) == Some((0, 0))) {
            rivals.push(other);
        }
    }
    let mut next: Option<Rival> = None;
    for other in rivals.into_iter().take(RIVALS) {
        let Some(speaks) = Speaks::best(pictures(other)?) else { continue };
        let rival = Rival { step: other, fit: Some(speaks.fit), margin: best.1.against(&speaks) };
        if next.is_none_or(|next| rival.margin < next.margin) {
            next = Some(rival);
        }
    }
    if let Some(other) = next.filter(|next| next.margin < SURE) {
        return Err(UndecidedStep::Alike { best: best.0, other });
    }
    let own = shown(steps, best.0)?;
    for other in own.get(best.1.board).map_or_else(Vec::new, |picture| steps.lookalikes(picture)) {
        if other == best.0 {
            continue;
        }
        let Some(speaks) = Speaks::best(pictures(other)?).filter(|speaks| speaks.board != 0) else { continue };
        if best.1.against(&speaks) < SURE {
            // The plainest of boards that show the same.
            let board = own.iter().position(|picture| Some(picture) == own.get(best.1.board));
            let best = (best.0, board.unwrap_or(best.1.board));
            return Err(UndecidedStep::LookAlike { best, other: (other, speaks.board) });
        }
    }
    let geometry = crate::measurement::geometry_of(&expected, pyramid, warp, agreement);
    let next = match (next, beside) {
        (Some(next), Some(edge)) => Some(if edge.margin < next.margin { edge } else { next }),
        (next, edge) => next.or(edge),
    };
    Ok(FoundStep { step: best.0, board: best.1.board, fit: best.1.fit, next, geometry })
}
