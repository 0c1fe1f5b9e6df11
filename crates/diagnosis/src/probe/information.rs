//! What a look teaches on average.

use std::collections::BTreeMap;

use backporch_evidence::Impression;

/// Impressions besides those predicted that a wrong or surprised observer may have.
const OTHERS: f64 = 2.0;

/// What a cause leads to in one look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expectation {
    /// This.
    Sees(Impression),
    /// Any of the impressions, each as likely as the others.
    Anything,
}

/// Information that one look gives about which of the causes it is, in bits:
/// the entropy of what is said, less what is left of it once the cause is known.
///
/// A share `errors` of observers says any of the impressions at random.
pub fn expected_bits(expectations: &[(f64, Expectation)], errors: f64) -> f64 {
    let total: f64 = expectations.iter().map(|(weight, _)| weight).sum();
    let mut shares: BTreeMap<Impression, f64> = BTreeMap::new();
    let mut anything = 0.0;
    for (weight, expectation) in expectations {
        match expectation {
            Expectation::Sees(sees) => *shares.entry(*sees).or_insert(0.0) += weight / total,
            Expectation::Anything => anything += weight / total,
        }
    }
    let kinds = shares.len() as f64 + OTHERS;
    let said = |share: f64| (1.0 - errors) * (share + anything / kinds) + errors / kinds;
    let other = said(0.0);
    let of_all = shares.values().map(|share| bits(said(*share))).sum::<f64>() + OTHERS * bits(other);
    let (right, wrong) = (1.0 - errors + errors / kinds, errors / kinds);
    let of_sure = bits(right) + (kinds - 1.0) * bits(wrong);
    let of_anything = kinds.log2();
    (of_all - (1.0 - anything) * of_sure - anything * of_anything).max(0.0)
}

/// A probability's part of an entropy, in bits.
fn bits(probability: f64) -> f64 {
    if probability > 0.0 { -probability * probability.log2() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_evidence::{Amount, Band, Side};
    use proptest::prelude::*;

    fn sees(amount: u32) -> Expectation {
        Expectation::Sees(Impression::Damage {
            amount: Amount::Every(amount),
            side: Side::Right,
            band: Band::Whole,
            flickers: false,
        })
    }

    /// One of `n` equally likely things said for sure: log2 n bits (Shannon 1948).
    #[test]
    fn a_sure_look_gives_the_logarithm() {
        for n in [1_u32, 2, 4, 8] {
            let expectations: Vec<_> = (0..n).map(|at| (0.5, sees(at + 1))).collect();
            let bits = expected_bits(&expectations, 0.0);
            assert!((bits - f64::from(n).log2()).abs() < 1e-12, "{n}: {bits}");
        }
    }

    #[test]
    fn what_all_predict_teaches_nothing() {
        assert!(expected_bits(&[(0.3, sees(4)), (0.7, sees(4))], 0.05) < 1e-12);
    }

    #[test]
    fn a_wrong_observer_teaches_less() {
        let expectations = [(0.5, sees(4)), (0.5, sees(2))];
        let (sure, unsure) = (expected_bits(&expectations, 0.0), expected_bits(&expectations, 0.1));
        assert!(sure > unsure && unsure > 0.5, "{sure} {unsure}");
        assert!(expected_bits(&[(0.5, sees(4)), (0.5, Expectation::Anything)], 0.0) > 0.2);
    }

    proptest! {
        /// Never below nothing, never above what there is to know.
        #[test]
        fn it_lies_between_nothing_and_all(
            expectations in proptest::collection::vec((0.001..1.0_f64, proptest::option::of(1..6_u32)), 1..12),
            errors in 0.0..0.5_f64,
        ) {
            let expectations: Vec<_> =
                expectations.into_iter().map(|(weight, amount)| (weight, amount.map_or(Expectation::Anything, sees))).collect();
            let total: f64 = expectations.iter().map(|(weight, _)| weight).sum();
            let all: f64 = expectations.iter().map(|(weight, _)| bits(weight / total)).sum();
            let found = expected_bits(&expectations, errors);
            prop_assert!((0.0..=all + 1e-9).contains(&found), "{found} of {all}");
        }
    }
}
