//! None of these, but like one of them: an unknown fault that shows what a known cause shows, except in some looks.
//!
//! In which share of the looks it differs is not known: each share from none to all is as likely as the others. Where it
//! differs it shows anything, by the [chance](backporch_evidence::likelihood::chance) that one would say just that.
//! A known cause that is contradicted now and then is likelier with a mistaken observer; one that is contradicted
//! often, or by exact statements, is likelier a stranger of this kind.

use backporch_evidence::likelihood::{SightingFit, chance, looks};
use backporch_evidence::{Seen, Share, Sighting};

/// Shares of the looks that are tried, evenly spread.
const SHARES: usize = 16;

/// The likelihoods of the sightings so far, for each share.
#[derive(Clone, Debug, Default)]
pub(crate) struct Variation {
    logs: [f64; SHARES],
}

fn share(at: usize) -> f64 {
    (at as f64 + 0.5) / SHARES as f64
}

impl Variation {
    /// Takes in how the known cause fits a sighting.
    pub fn take(&mut self, sighting: &Sighting, fit: SightingFit) {
        let weight = match &sighting.seen {
            Seen::Nothing { .. } => return,
            Seen::Said(Share::Each, _) => looks(sighting.count),
            _ => 1.0,
        };
        let (known, anything) = ((fit.log / weight).exp(), chance(&sighting.seen));
        for (at, log) in self.logs.iter_mut().enumerate() {
            let differs = share(at);
            *log += weight * ((1.0 - differs) * known + differs * anything).ln();
        }
    }

    /// Natural logarithm of the likelihood, over all shares.
    pub fn log(&self) -> f64 {
        let greatest = self.logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = self.logs.iter().map(|log| (log - greatest).exp()).sum();
        greatest + (sum / SHARES as f64).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_evidence::Statement;
    use libm::lgamma;

    /// Contradicted in k of n looks: the integral of a binomial over its share is a beta function.
    #[test]
    fn it_is_the_integral_over_all_shares() {
        let seen = Seen::Said(Share::Each, vec![Statement::Pixels(3, 9)]);
        let anything = chance(&seen);
        let sighting = Sighting { experiment: 0, steps: (0, 0), count: 1, seen, setups: Vec::new() };
        let (n, k) = (9, 3);
        let mut variation = Variation::default();
        for look in 0..n {
            let log = if look < k { f64::NEG_INFINITY } else { 0.0 };
            variation.take(&sighting, SightingFit { grade: 0.0, log });
        }
        let beta = |a: f64, b: f64| lgamma(a) + lgamma(b) - lgamma(a + b);
        let by_hand = f64::from(k) * anything.ln() + beta(f64::from(k) + 1.0, f64::from(n - k) + 1.0);
        assert!((variation.log() - by_hand).abs() < 0.02, "{} {by_hand}", variation.log());
    }
}
