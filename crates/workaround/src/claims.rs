//! What one setting offers: heights, steps and origins, by the faults they hold against.

use crate::bit_ring::BitRing;
use crate::candidate::FailingStarts;
use crate::fault_scan::FailureMap;
use crate::requirements::{Direction, Requirements};
use crate::scroll_path::ScrollPath;
use crate::setting::Setting;

/// A height, step and origin, and what is claimed of them.
#[derive(Clone, Debug)]
pub struct Claim {
    /// Picture lines.
    pub height: u32,
    /// Required steps taken at once.
    pub multiplier: u32,
    /// Address units of a step.
    pub stride: u32,
    /// The start addresses shown.
    pub path: ScrollPath,
    /// The first of them.
    pub origin: u32,
    /// Suspects under which all of them are clean, by position.
    pub clean_under: Vec<usize>,
    /// Their probabilities together.
    pub probability: f64,
    /// Clean start addresses under the likeliest suspect under which some are not.
    pub clean: u32,
    /// Those that are not.
    pub failing: Option<FailingStarts>,
}

/// One setting before every suspect.
pub struct ClaimFinder<'a> {
    /// What the routine needs.
    pub requirements: &'a Requirements,
    /// The setting.
    pub setting: &'a Setting,
    /// What each suspect does to it.
    pub failures: &'a [FailureMap],
    /// Probability of each.
    pub weights: &'a [f64],
    /// Least height.
    pub least_height: u32,
}

/// The bad start addresses under each suspect, at one height.
type Bad = Vec<BitRing>;

impl ClaimFinder<'_> {
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
        for (multiplier, stride, path) in self.paths().skip_while(|(multiplier, ..)| *multiplier < first) {
            let held = |claims: &[Claim], height: u32| {
                let higher = claims.iter().filter(|claim| claim.height >= height);
                higher.map(|claim| claim.probability).fold(0.0, f64::max)
            };
            let most = self.best_origin(&path, &least).1;
            let mut height = self.setting.height;
            let mut now = self.best_origin(&path, &full);
            loop {
                if now.1 > held(&claims, height) {
                    let bad = self.bad(height);
                    claims.push(self.claim(height, multiplier, stride, &path, now.0, &bad));
                }
                if now.1 >= most {
                    break;
                }
                (height, now) = self.next_lower(&path, height, now.1);
            }
            if held(&claims, self.setting.height) >= all {
                break;
            }
        }
        claims
    }

    /// The greatest height below `height` at which more than `held` is held.
    fn next_lower(&self, path: &ScrollPath, height: u32, held: f64) -> (u32, (u32, f64)) {
        let row = self.setting.lines_of_row;
        let (mut holds, mut fails) = (self.least_height / row, height / row);
        let mut found = self.best_origin(path, &self.bad(holds * row));
        while fails - holds > 1 {
            let middle = holds + (fails - holds) / 2;
            let there = self.best_origin(path, &self.bad(middle * row));
            if there.1 > held {
                (holds, found) = (middle, there);
            } else {
                fails = middle;
            }
        }
        (holds * row, found)
    }

    /// The best that can be had at the required step, whether or not it holds.
    #[must_use]
    pub fn partial(&self) -> Option<Claim> {
        let (multiplier, stride, path) = self.paths().next()?;
        let bad = self.bad(self.setting.height);
        let ring = self.setting.starts;
        let weighted = |origin: u32| {
            let clean = |bad: &BitRing| path.starts(origin, ring).filter(|start| !bad.has(*start)).count() as f64;
            bad.iter().zip(self.weights).map(|(bad, weight)| weight * clean(bad)).sum::<f64>()
        };
        let origins = bad.iter().map(|bad| path.best(bad).origin);
        let weighed: Vec<(u32, f64)> = origins.map(|origin| (origin, weighted(origin))).collect();
        let (origin, _) = weighed.into_iter().reduce(|one, other| if other.1 > one.1 { other } else { one })?;
        Some(self.claim(self.setting.height, multiplier, stride, &path, origin, &bad))
    }

    fn bad(&self, height: u32) -> Bad {
        self.failures.iter().map(|failures| failures.bad(self.setting, height)).collect()
    }

    /// The origin at which most probability is held, the lowest of several, and how much.
    fn best_origin(&self, path: &ScrollPath, bad: &Bad) -> (u32, f64) {
        let origins = path.origins(self.setting.starts);
        let mut held = vec![0.0; origins as usize];
        for (bad, weight) in bad.iter().zip(self.weights) {
            let spoilt = path.spoilt_origins(bad);
            for (held, at) in held.iter_mut().zip(0..) {
                *held += if spoilt.has(at) { 0.0 } else { *weight };
            }
        }
        let each = held.into_iter().zip(0..).map(|(held, at)| (path.origin(at), held));
        each.reduce(|one, other| if other.1 > one.1 { other } else { one }).unwrap_or((0, 0.0))
    }

    fn claim(&self, height: u32, multiplier: u32, stride: u32, path: &ScrollPath, origin: u32, bad: &Bad) -> Claim {
        let ring = self.setting.starts;
        let fails = |bad: &BitRing| bad.any() && path.starts(origin, ring).any(|start| bad.has(start));
        let clean_under: Vec<usize> = (0..bad.len()).filter(|at| !fails(&bad[*at])).collect();
        let probability = clean_under.iter().fold(0.0, |sum, at| sum + self.weights[*at]);
        let failing = (0..bad.len())
            .filter(|at| !clean_under.contains(at))
            .reduce(|one, other| if self.weights[other] > self.weights[one] { other } else { one })
            .map(|at| {
                let mut shown = vec![false; ring as usize];
                path.starts(origin, ring).for_each(|start| shown[start as usize] = bad[at].has(start));
                BitRing::from_fn(ring, |start| shown[start as usize])
            });
        let of = path.count(ring);
        Claim {
            height,
            multiplier,
            stride,
            path: path.clone(),
            origin,
            clean_under,
            probability,
            clean: of - failing.as_ref().map_or(0, BitRing::count),
            failing: failing.as_ref().map(FailingStarts::of),
        }
    }

    /// Every path from the required step on: multiplier, stride and path.
    ///
    /// A step of more than the whole picture is no scroll. Endless paths whose
    /// strides have the same divisor in common with the ring show the same
    /// start addresses, so only the first of them is looked at.
    fn paths(&self) -> impl Iterator<Item = (u32, u32, ScrollPath)> + '_ {
        let (setting, requirements) = (self.setting, self.requirements);
        let ring = setting.starts;
        let across = setting.width() / step_pixels(requirements, setting);
        let down = self.least_height / step_lines(requirements, setting);
        let most = match requirements.direction {
            Direction::Horizontal => across,
            Direction::Vertical => down,
            Direction::Both => across.min(down),
        };
        let mut seen: Vec<ScrollPath> = Vec::new();
        (1..=most.max(1)).filter_map(move |multiplier| {
            let stride = stride(requirements, setting) * multiplier;
            let path = ScrollPath::new(requirements.starts.as_ref(), requirements.origin, stride, ring);
            let alone = matches!(path, ScrollPath::Along { count: 1, .. }) && multiplier > 1;
            if seen.contains(&path) || alone {
                return None;
            }
            seen.push(path.clone());
            Some((multiplier, stride, path))
        })
    }
}

/// Pixels of the required horizontal step.
#[must_use]
pub fn step_pixels(requirements: &Requirements, setting: &Setting) -> u32 {
    requirements.step_pixels.unwrap_or(setting.pixels_of_unit()).max(1)
}

/// Picture lines of the required vertical step.
#[must_use]
pub fn step_lines(requirements: &Requirements, setting: &Setting) -> u32 {
    requirements.step_lines.unwrap_or(setting.lines_of_row).max(1)
}

/// Address units of the required step.
#[must_use]
pub fn stride(requirements: &Requirements, setting: &Setting) -> u32 {
    let across = step_pixels(requirements, setting) / setting.pixels_of_unit();
    let down = step_lines(requirements, setting) / setting.lines_of_row * setting.pitch_units;
    match requirements.direction {
        Direction::Horizontal => across,
        Direction::Vertical => down,
        Direction::Both => num_integer::gcd(across, down),
    }
    .max(1)
}
