//! What one setting offers: heights, steps and origins, by the faults they hold against.

use super::candidate::Failing;
use super::judge::Ground;
use super::need::{Direction, Need};
use super::ring::Ring;
use super::setting::Setting;
use super::steps::Walk;

/// A height, step and origin, and what is claimed of them.
#[derive(Clone, Debug)]
pub struct Claim {
    /// Picture lines.
    pub height: u32,
    /// Steps of the need taken at once.
    pub multiplier: u32,
    /// Address units of a step.
    pub stride: u32,
    /// The start addresses shown.
    pub walk: Walk,
    /// The first of them.
    pub origin: u32,
    /// Suspects under which all of them are clean, by position.
    pub held_by: Vec<usize>,
    /// Their probabilities together.
    pub probability: f64,
    /// Clean start addresses under the likeliest suspect under which some are not.
    pub clean: u32,
    /// Those that are not.
    pub failing: Option<Failing>,
}

/// One setting before every suspect.
pub struct Offering<'a> {
    /// What the routine needs.
    pub need: &'a Need,
    /// The setting.
    pub setting: &'a Setting,
    /// What each suspect does to it.
    pub grounds: &'a [Ground],
    /// Probability of each.
    pub weights: &'a [f64],
    /// Least height.
    pub least_height: u32,
}

/// The bad start addresses under each suspect, at one height.
type Bad = Vec<Ring>;

impl Offering<'_> {
    /// Every claim that no other of this setting covers: for each step, from
    /// `first` times the smallest on, the greatest heights at which ever more
    /// suspects are held against.
    ///
    /// A lower picture shows fewer lines and is clean wherever a higher one is,
    /// so the greatest height at which more is held is found by halving.
    #[must_use]
    pub fn claims_from(&self, first: u32) -> Vec<Claim> {
        let mut claims: Vec<Claim> = Vec::new();
        let all: f64 = self.weights.iter().sum();
        let (full, least) = (self.bad(self.setting.height), self.bad(self.least_height));
        for (multiplier, stride, walk) in self.walks().skip_while(|(multiplier, ..)| *multiplier < first) {
            let held = |claims: &[Claim], height: u32| {
                let higher = claims.iter().filter(|claim| claim.height >= height);
                higher.map(|claim| claim.probability).fold(0.0, f64::max)
            };
            let most = self.best_origin(&walk, &least).1;
            let mut height = self.setting.height;
            let mut now = self.best_origin(&walk, &full);
            loop {
                if now.1 > held(&claims, height) {
                    let bad = self.bad(height);
                    claims.push(self.claim(height, multiplier, stride, &walk, now.0, &bad));
                }
                if now.1 >= most {
                    break;
                }
                (height, now) = self.next_lower(&walk, height, now.1);
            }
            if held(&claims, self.setting.height) >= all {
                break;
            }
        }
        claims
    }

    /// The greatest height below `height` at which more than `held` is held.
    fn next_lower(&self, walk: &Walk, height: u32, held: f64) -> (u32, (u32, f64)) {
        let row = self.setting.lines_of_row;
        let (mut holds, mut fails) = (self.least_height / row, height / row);
        let mut found = self.best_origin(walk, &self.bad(holds * row));
        while fails - holds > 1 {
            let middle = holds + (fails - holds) / 2;
            let there = self.best_origin(walk, &self.bad(middle * row));
            if there.1 > held {
                (holds, found) = (middle, there);
            } else {
                fails = middle;
            }
        }
        (holds * row, found)
    }

    /// The best that can be had at the need's own step, whether or not it holds.
    #[must_use]
    pub fn partial(&self) -> Option<Claim> {
        let (multiplier, stride, walk) = self.walks().next()?;
        let bad = self.bad(self.setting.height);
        let ring = self.setting.starts;
        let weighted = |origin: u32| {
            let clean = |bad: &Ring| walk.starts(origin, ring).filter(|start| !bad.has(*start)).count() as f64;
            bad.iter().zip(self.weights).map(|(bad, weight)| weight * clean(bad)).sum::<f64>()
        };
        let origins = bad.iter().map(|bad| walk.best(bad).origin);
        let weighed: Vec<(u32, f64)> = origins.map(|origin| (origin, weighted(origin))).collect();
        let (origin, _) = weighed.into_iter().reduce(|one, other| if other.1 > one.1 { other } else { one })?;
        Some(self.claim(self.setting.height, multiplier, stride, &walk, origin, &bad))
    }

    fn bad(&self, height: u32) -> Bad {
        self.grounds.iter().map(|ground| ground.bad(self.setting, height)).collect()
    }

    /// The origin at which most probability is held, the lowest of several, and how much.
    fn best_origin(&self, walk: &Walk, bad: &Bad) -> (u32, f64) {
        let origins = walk.origins(self.setting.starts);
        let mut held = vec![0.0; origins as usize];
        for (bad, weight) in bad.iter().zip(self.weights) {
            let spoilt = walk.spoilt_origins(bad);
            for (held, at) in held.iter_mut().zip(0..) {
                *held += if spoilt.has(at) { 0.0 } else { *weight };
            }
        }
        let each = held.into_iter().zip(0..).map(|(held, at)| (walk.origin(at), held));
        each.reduce(|one, other| if other.1 > one.1 { other } else { one }).unwrap_or((0, 0.0))
    }

    fn claim(&self, height: u32, multiplier: u32, stride: u32, walk: &Walk, origin: u32, bad: &Bad) -> Claim {
        let ring = self.setting.starts;
        let fails = |bad: &Ring| bad.any() && walk.starts(origin, ring).any(|start| bad.has(start));
        let held_by: Vec<usize> = (0..bad.len()).filter(|at| !fails(&bad[*at])).collect();
        let probability = held_by.iter().fold(0.0, |sum, at| sum + self.weights[*at]);
        let failing = (0..bad.len())
            .filter(|at| !held_by.contains(at))
            .reduce(|one, other| if self.weights[other] > self.weights[one] { other } else { one })
            .map(|at| {
                let mut shown = vec![false; ring as usize];
                walk.starts(origin, ring).for_each(|start| shown[start as usize] = bad[at].has(start));
                Ring::from_fn(ring, |start| shown[start as usize])
            });
        let of = walk.count(ring);
        Claim {
            height,
            multiplier,
            stride,
            walk: walk.clone(),
            origin,
            held_by,
            probability,
            clean: of - failing.as_ref().map_or(0, Ring::count),
            failing: failing.as_ref().map(Failing::of),
        }
    }

    /// Every walk from the need's own step on: multiplier, stride and walk.
    ///
    /// A step of more than the whole picture is no scroll. Endless walks whose
    /// strides have the same divisor in common with the ring show the same
    /// start addresses, so only the first of them is looked at.
    fn walks(&self) -> impl Iterator<Item = (u32, u32, Walk)> + '_ {
        let (setting, need) = (self.setting, self.need);
        let ring = setting.starts;
        let across = setting.width() / step_pixels(need, setting);
        let down = self.least_height / step_lines(need, setting);
        let most = match need.direction {
            Direction::Horizontal => across,
            Direction::Vertical => down,
            Direction::Both => across.min(down),
        };
        let mut seen: Vec<Walk> = Vec::new();
        (1..=most.max(1)).filter_map(move |multiplier| {
            let stride = stride(need, setting) * multiplier;
            let walk = Walk::new(need.starts.as_ref(), need.origin, stride, ring);
            let alone = matches!(walk, Walk::Along { count: 1, .. }) && multiplier > 1;
            if seen.contains(&walk) || alone {
                return None;
            }
            seen.push(walk.clone());
            Some((multiplier, stride, walk))
        })
    }
}

/// Pixels of the need's horizontal step.
#[must_use]
pub fn step_pixels(need: &Need, setting: &Setting) -> u32 {
    need.step_pixels.unwrap_or(setting.pixels_of_unit()).max(1)
}

/// Picture lines of the need's vertical step.
#[must_use]
pub fn step_lines(need: &Need, setting: &Setting) -> u32 {
    need.step_lines.unwrap_or(setting.lines_of_row).max(1)
}

/// Address units of the need's step.
fn stride(need: &Need, setting: &Setting) -> u32 {
    let across = step_pixels(need, setting) / setting.pixels_of_unit();
    let down = step_lines(need, setting) / setting.lines_of_row * setting.pitch_units;
    match need.direction {
        Direction::Horizontal => across,
        Direction::Vertical => down,
        Direction::Both => super::steps::greatest_common_divisor(across, down),
    }
    .max(1)
}
