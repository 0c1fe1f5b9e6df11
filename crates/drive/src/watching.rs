//! A driver at work on a watched board: every access noted beside the beam's place, frame by frame.

use std::sync::Arc;

use backporch_bench::Bench;
use backporch_hazards::{Inspector, MeantLayout, Surroundings};
use backporch_input::InputError;
use backporch_raster::{Board, Plain, QuietFrame, Tap};
use backporch_script::{FrameRecord, Moment, Signals, Trace, Watched};

use crate::driven::{Driven, Played};
use crate::driver::{Driver, Start};
use crate::following::Follower;

/// What is kept beside the frames.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Keep {
    /// Every access, as a write trace.
    pub trace: bool,
    /// Sync and display enable at every character clock.
    pub signals: bool,
}

/// What a watched run left behind.
#[derive(Clone, Debug)]
pub struct Watch<T: Tap> {
    /// Every access, where they were kept.
    pub trace: Trace,
    /// Changes of sync and display enable, where they were kept: dot and signals from there on.
    pub signals: Vec<(u64, Signals)>,
    /// A wait that has not ended, and its first dot.
    pub waiting: Option<(Moment, u64)>,
    /// The program and its machine.
    pub played: Option<Box<Played<T>>>,
}

impl Driver {
    /// What stands around the bench's board under this driver, at a speed in thousandths.
    #[must_use]
    pub fn surroundings(&self, bench: &Bench, speed: u32) -> Surroundings {
        let (cpu, poll_extra_clocks) = match self {
            Self::Script(script) => (Some(script.cpu_at(bench, speed)), script.program.file().poll_extra_clocks),
            Self::Trace(_) | Self::Program(_) => (None, 0),
        };
        let dot_clock = Some(bench.dot_clock());
        // A program lays out what it shows by itself.
        let layout = if let Self::Program(_) = self { None } else { layout(bench) };
        Surroundings { dot_clock, cpu, poll_extra_clocks, monitor: bench.monitor().cloned(), layout }
    }

    /// Someone to look for mistakes in its frames.
    #[must_use]
    pub fn inspector(&self, bench: &Bench) -> Inspector {
        let speed = Start::default().speed;
        Inspector::new(Arc::clone(bench.adapter()), self.surroundings(bench, speed))
    }

    /// Runs the driver for this many frames and shows each to `see`.
    ///
    /// A program runs on a board of its own; what it does there is done to the watched board, frame by frame.
    ///
    /// # Errors
    /// Where a program does not fit into memory.
    pub fn watch<T: Tap + Clone>(
        &self,
        bench: &Bench,
        board: Board<T>,
        (start, frames, keep): (Start, u64, Keep),
        see: &mut dyn FnMut(FrameRecord),
    ) -> Result<Watch<T>, InputError> {
        let watched = board.clone();
        match self.start(bench, board, start)? {
            Driven::Script(mut runner) => {
                keep.of(runner.board_mut());
                (0..frames).for_each(|_| see(runner.next_record()));
                Ok(Watch { waiting: runner.waiting(), ..Watch::of(runner.board()) })
            }
            Driven::Trace(mut replay) => {
                keep.of(replay.board_mut());
                (0..frames).for_each(|_| see(replay.next_frame()));
                Ok(Watch::of(replay.board()))
            }
            Driven::Program(mut played) => {
                played.machine_mut().record(true);
                let mut follower = Follower::new(watched);
                keep.of(follower.board_mut());
                let mut seen = 0;
                for _ in 0..frames {
                    let frame = played.next_frame();
                    played.machine_mut().recycle(frame);
                    follower.follow(&played.machine_mut().take_recorded());
                    while let Some(record) = follower.take().filter(|_| seen < frames) {
                        see(record);
                        seen += 1;
                    }
                }
                (seen..frames).for_each(|_| see(follower.next_frame()));
                Ok(Watch { played: Some(played), ..Watch::of(follower.board()) })
            }
            Driven::Alone(_) => Ok(Watch::of(&Watched::new(watched))),
        }
    }
}

impl Keep {
    fn of<T: Tap>(self, board: &mut Watched<T>) {
        if self.trace {
            board.keep_trace();
        }
        if self.signals {
            board.keep_signals();
        }
    }
}

impl<T: Tap> Watch<T> {
    fn of(board: &Watched<T>) -> Self {
        let trace = board.trace().cloned().unwrap_or_default();
        Self { trace, signals: board.signals().to_vec(), waiting: None, played: None }
    }
}

/// How the bench's picture lies in memory, where there is one.
#[must_use]
pub fn layout(bench: &Bench) -> Option<MeantLayout> {
    bench.picture()?;
    let quiet = QuietFrame::new(bench.adapter(), bench.registers(), &Plain);
    let line = quiet.line(0, quiet.start(), 0);
    Some(MeantLayout { pitch: line.pitch, displayed: line.bytes })
}
