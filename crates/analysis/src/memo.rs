//! Predictions kept, so that a diagnosis that goes on from a new sighting does
//! not predict again what it has predicted before.
//!
//! Equal outcomes are stored once, however many members share them, and the
//! number of entries is bounded: once full, further predictions are made anew
//! each time. What is asked for is the same either way.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};

use crate::outcome::Outcome;

/// A member of a family and a scene.
type Key = (usize, u64, u64);

/// Maps under locks of their own, so that threads seldom wait for each other.
const SHARDS: usize = 16;
/// Entries that are kept where nothing else is said: some 50 MiB.
const MOST_ENTRIES: usize = 1 << 20;

/// Outcomes by family, member and scene.
#[derive(Debug)]
pub struct Memo {
    shards: [Mutex<HashMap<Key, Arc<Outcome>>>; SHARDS],
    shared: Mutex<HashSet<Arc<Outcome>>>,
    most: usize,
}

impl Memo {
    /// One that keeps so many predictions at most.
    #[must_use]
    pub fn of_at_most(most: usize) -> Self {
        Self { shards: Default::default(), shared: Mutex::default(), most }
    }

    /// The outcome of that member of a family in a scene, predicted if it is not known.
    pub fn outcome(&self, key: Key, predict: impl FnOnce() -> Outcome) -> Arc<Outcome> {
        let (family, member, scene) = key;
        let shard = &self.shards[(family as u64 ^ member ^ scene) as usize % SHARDS];
        if let Some(known) = lock(shard).get(&key) {
            return Arc::clone(known);
        }
        let outcome = self.share(predict());
        let mut kept = lock(shard);
        if kept.len() < self.most / SHARDS {
            kept.insert(key, Arc::clone(&outcome));
        }
        outcome
    }

    /// Number of predictions kept, and of different outcomes among them.
    #[must_use]
    pub fn kept(&self) -> (usize, usize) {
        (self.shards.iter().map(|shard| lock(shard).len()).sum(), lock(&self.shared).len())
    }

    /// The outcome as it is stored already, where an equal one is.
    fn share(&self, outcome: Outcome) -> Arc<Outcome> {
        let mut shared = lock(&self.shared);
        if let Some(known) = shared.get(&outcome) {
            return Arc::clone(known);
        }
        let outcome = Arc::new(outcome);
        if shared.len() < self.most {
            shared.insert(Arc::clone(&outcome));
        }
        outcome
    }
}

impl Default for Memo {
    fn default() -> Self {
        Self::of_at_most(MOST_ENTRIES)
    }
}

/// What a thread that panicked left is whole: entries are only ever added.
fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_prediction_is_made_once_and_equal_ones_are_shared() {
        let memo = Memo::default();
        let mut made = 0;
        for member in 0..10 {
            for _ in 0..3 {
                memo.outcome((1, member, 7), || {
                    made += 1;
                    Outcome::clean(320, 200)
                });
            }
        }
        assert_eq!(made, 10);
        assert_eq!(memo.kept(), (10, 1));
    }

    #[test]
    fn a_full_memo_still_answers() {
        let memo = Memo::of_at_most(SHARDS);
        for member in 0..1000 {
            let outcome = memo.outcome((0, member, 0), || Outcome::clean(member as u32, 1));
            assert_eq!(outcome.width, member as u32);
        }
        let (entries, outcomes) = memo.kept();
        assert!(entries <= SHARDS && outcomes <= SHARDS, "{entries} {outcomes}");
    }
}
