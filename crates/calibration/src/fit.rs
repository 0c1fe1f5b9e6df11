//! Which of several candidates fits what was counted.

/// Candidates whose costs lie so near the best, in clocks, cannot be distinguished from it.
const ALIKE: f64 = 0.06;

/// The best of some candidates.
#[derive(Clone, Debug)]
pub(crate) struct Best<C> {
    /// The best, and the others that fit alike.
    pub alike: Vec<C>,
    /// Clocks by which it misses, on average.
    pub cost: f64,
}

impl<C> Best<C> {
    /// The best of the candidates by what each costs; `None` where there is none.
    pub fn of(candidates: impl IntoIterator<Item = C>, mut cost: impl FnMut(&C) -> f64) -> Option<Self> {
        let mut all: Vec<(f64, C)> = candidates.into_iter().map(|candidate| (cost(&candidate), candidate)).collect();
        // Stable: of equals the first comes first.
        all.sort_by(|one, other| one.0.total_cmp(&other.0));
        let cost = all.first()?.0;
        let alike = all.into_iter().take_while(|one| one.0 <= cost + ALIKE).map(|one| one.1).collect();
        Some(Self { alike, cost })
    }
}

/// How far two series are apart on average; infinite where one is empty.
pub(crate) fn apart(found: &[f64], made: &[f64]) -> f64 {
    let pairs = found.len().min(made.len());
    if pairs == 0 {
        return f64::INFINITY;
    }
    found.iter().zip(made).map(|(one, other)| (one - other).abs()).sum::<f64>() / pairs as f64
}
