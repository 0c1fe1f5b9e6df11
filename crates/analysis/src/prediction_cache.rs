//! Predictions kept, so that a diagnosis that goes on from a new sighting does
//! not predict again what it has predicted before.
//!
//! Equal signatures are stored once, however many members share them, and the
//! number of entries is bounded: once full, further predictions are made anew
//! each time. What is asked for is the same either way.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};

use crate::signature::FrameSignature;

/// A member of a family and a setup.
type Key = (usize, u64, u64);

/// Maps under locks of their own, so that threads seldom wait for each other.
const SHARDS: usize = 16;
/// Entries that are kept where nothing else is said: some 50 MiB.
const MOST_ENTRIES: usize = 1 << 20;

/// Outcomes by family, member and setup.
#[derive(Debug)]
pub struct PredictionCache {
    shards: [Mutex<HashMap<Key, Arc<FrameSignature>>>; SHARDS],
    shared: Mutex<HashSet<Arc<FrameSignature>>>,
    most: usize,
}

impl PredictionCache {
    /// A cache of at most `most` predictions.
    #[must_use]
    pub fn of_at_most(most: usize) -> Self {
        Self { shards: Default::default(), shared: Mutex::default(), most }
    }

    /// The signature of that member of a family in a setup, predicted if it is not known.
    pub fn signature(&self, key: Key, predict: impl FnOnce() -> FrameSignature) -> Arc<FrameSignature> {
        let (family, member, setup) = key;
        let shard = &self.shards[(family as u64 ^ member ^ setup) as usize % SHARDS];
        if let Some(known) = lock(shard).get(&key) {
            return Arc::clone(known);
        }
        let signature = self.share(predict());
        let mut kept = lock(shard);
        if kept.len() < self.most / SHARDS {
            kept.insert(key, Arc::clone(&signature));
        }
        signature
    }

    /// Number of predictions kept, and of different signatures among them.
    #[must_use]
    pub fn kept(&self) -> (usize, usize) {
        (self.shards.iter().map(|shard| lock(shard).len()).sum(), lock(&self.shared).len())
    }

    /// The signature as it is stored already, where an equal one is.
    fn share(&self, signature: FrameSignature) -> Arc<FrameSignature> {
        let mut shared = lock(&self.shared);
        if let Some(known) = shared.get(&signature) {
            return Arc::clone(known);
        }
        let signature = Arc::new(signature);
        if shared.len() < self.most {
            shared.insert(Arc::clone(&signature));
        }
        signature
    }
}

impl Default for PredictionCache {
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
        let cache = PredictionCache::default();
        let mut made = 0;
        for member in 0..10 {
            for _ in 0..3 {
                cache.signature((1, member, 7), || {
                    made += 1;
                    FrameSignature::clean(320, 200)
                });
            }
        }
        assert_eq!(made, 10);
        assert_eq!(cache.kept(), (10, 1));
    }

    #[test]
    fn a_full_memo_still_answers() {
        let cache = PredictionCache::of_at_most(SHARDS);
        for member in 0..1000 {
            let signature = cache.signature((0, member, 0), || FrameSignature::clean(member as u32, 1));
            assert_eq!(signature.width, member as u32);
        }
        let (entries, signatures) = cache.kept();
        assert!(entries <= SHARDS && signatures <= SHARDS, "{entries} {signatures}");
    }
}
