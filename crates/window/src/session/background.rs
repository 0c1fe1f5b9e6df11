//! Background tasks: work that may take a while, done beside the session.
//!
//! Frames go on meanwhile; the result is taken in by polling.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// How far a background task is.
#[derive(Clone, Debug, Default)]
pub(crate) struct TaskProgress {
    done: Arc<AtomicU64>,
    all: Arc<AtomicU64>,
}

impl TaskProgress {
    /// Adds to the units of work done.
    pub fn add(&self, done: u64) {
        self.done.fetch_add(done, Ordering::Relaxed);
    }

    /// Sets the units of work done, and how many there are in all.
    pub fn set(&self, done: u64, all: u64) {
        self.done.store(done, Ordering::Relaxed);
        self.all.store(all, Ordering::Relaxed);
    }

    /// Done, and all there is to do, where that is known.
    fn counts(&self) -> (u64, u64) {
        (self.done.load(Ordering::Relaxed), self.all.load(Ordering::Relaxed))
    }
}

/// A background task not asked for, under way, or finished.
#[derive(Debug, Default)]
pub(crate) enum BackgroundTask<T> {
    /// None was asked for, or what it was asked of is no longer the same.
    #[default]
    Idle,
    /// Under way.
    Running(Receiver<T>, TaskProgress),
    /// Finished.
    Finished(T),
}

impl<T: Send + 'static> BackgroundTask<T> {
    /// Starts the work on a thread of its own.
    pub fn start(work: impl FnOnce(&TaskProgress) -> T + Send + 'static) -> Self {
        let (sender, receiver) = channel();
        let progress = TaskProgress::default();
        let beside = progress.clone();
        thread::spawn(move || {
            // A session that has gone on meanwhile no longer listens.
            let _ = sender.send(work(&beside));
        });
        Self::Running(receiver, progress)
    }

    /// Takes in the result; `true` at the call that does.
    pub fn poll(&mut self) -> bool {
        if let Self::Running(receiver, _) = self {
            match receiver.try_recv() {
                Ok(found) => {
                    *self = Self::Finished(found);
                    return true;
                }
                Err(TryRecvError::Empty) => {}
                Err(TryRecvError::Disconnected) => *self = Self::Idle,
            }
        }
        false
    }

    /// The result, once it is there.
    pub fn result(&self) -> Option<&T> {
        match self {
            Self::Finished(found) => Some(found),
            _ => None,
        }
    }

    /// Done and all there is to do, while it is under way.
    pub fn progress(&self) -> Option<(u64, u64)> {
        match self {
            Self::Running(_, progress) => Some(progress.counts()),
            _ => None,
        }
    }
}
