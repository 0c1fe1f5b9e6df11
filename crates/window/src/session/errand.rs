//! An errand: work that may take a while, done beside the session.
//!
//! Frames go on meanwhile; what was found is taken in when it is told.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// How far an errand is.
#[derive(Clone, Debug, Default)]
pub(crate) struct Progress {
    done: Arc<AtomicU64>,
    all: Arc<AtomicU64>,
}

impl Progress {
    /// So much more is done.
    pub fn add(&self, done: u64) {
        self.done.fetch_add(done, Ordering::Relaxed);
    }

    /// So much is done, of so much in all.
    pub fn set(&self, done: u64, all: u64) {
        self.done.store(done, Ordering::Relaxed);
        self.all.store(all, Ordering::Relaxed);
    }

    /// Done, and all there is to do, where that is known.
    fn told(&self) -> (u64, u64) {
        (self.done.load(Ordering::Relaxed), self.all.load(Ordering::Relaxed))
    }
}

/// An errand not asked for, under way, or over.
#[derive(Debug, Default)]
pub(crate) enum Errand<T> {
    /// None was asked for, or what it was asked of is no longer the same.
    #[default]
    Idle,
    /// Under way.
    Running(Receiver<T>, Progress),
    /// Over.
    Told(T),
}

impl<T: Send + 'static> Errand<T> {
    /// Sends somebody.
    pub fn begin(work: impl FnOnce(&Progress) -> T + Send + 'static) -> Self {
        let (tell, told) = channel();
        let progress = Progress::default();
        let beside = progress.clone();
        thread::spawn(move || {
            // A session that has gone on meanwhile no longer listens.
            let _ = tell.send(work(&beside));
        });
        Self::Running(told, progress)
    }

    /// Takes in what was found; `true` in the moment in which it is told.
    pub fn look(&mut self) -> bool {
        if let Self::Running(told, _) = self {
            match told.try_recv() {
                Ok(found) => {
                    *self = Self::Told(found);
                    return true;
                }
                Err(TryRecvError::Empty) => {}
                Err(TryRecvError::Disconnected) => *self = Self::Idle,
            }
        }
        false
    }

    /// What was found.
    pub fn told(&self) -> Option<&T> {
        match self {
            Self::Told(found) => Some(found),
            _ => None,
        }
    }

    /// Done and all there is to do, while it is under way.
    pub fn progress(&self) -> Option<(u64, u64)> {
        match self {
            Self::Running(_, progress) => Some(progress.told()),
            _ => None,
        }
    }
}
