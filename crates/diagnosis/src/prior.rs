//! How likely each cause is before anything is seen.

use crate::families::FamilyInfo;

/// Prior probabilities; what is left of 1 is the families', by their weights.
///
/// They are common sense, not counted: who comes with sightings suspects the
/// board, and the library holds most of what is known to go wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Nothing is wrong, on a class that does nothing by design that surprises programmers.
    pub healthy: f64,
    /// What is added to that on a class that does.
    pub by_design: f64,
    /// The routine is to blame.
    pub routine: f64,
    /// A fault outside the families.
    pub none_of_these: f64,
    /// Factor on a family's weight for each of its open parameters: a family
    /// that can be made to fit more has to explain more.
    pub open_parameter: f64,
    /// Share of boards that have a fault besides which shows nowhere one has looked: what the class does by design
    /// explains what was seen without it.
    pub unnoticed: f64,
}

impl Default for Prior {
    fn default() -> Self {
        Self { healthy: 0.05, by_design: 0.45, routine: 0.05, none_of_these: 0.1, open_parameter: 0.8, unnoticed: 0.1 }
    }
}

impl Prior {
    /// Nothing is wrong with the board: where its class does things by design, whoever wonders at a picture has most
    /// likely met these.
    #[must_use]
    pub fn as_built(&self, class_has_behaviours: bool) -> f64 {
        self.healthy + if class_has_behaviours { self.by_design } else { 0.0 }
    }

    /// Prior of one member, beside [`as_built`](Self::as_built): the family's share, split evenly among its members.
    #[must_use]
    pub fn of_member(&self, as_built: f64, all: &[FamilyInfo], family: usize) -> f64 {
        let weight = |family: &FamilyInfo| family.weight * self.open_parameter.powi(family.open as i32);
        let total: f64 = all.iter().map(weight).sum();
        let families = 1.0 - as_built - self.routine - self.none_of_these;
        all.get(family).map_or(0.0, |family| families * weight(family) / total / family.count.max(1) as f64)
    }
}
