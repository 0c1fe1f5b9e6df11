//! Video memory under one setting of the registers after another.

use backporch_adapter::{Shown, Timing};
use backporch_picture::lay::{Placement, RowBytes};
use backporch_raster::QuietFrame;

use crate::bench::Bench;

/// A bench's video memory for settings that follow each other: as [`Bench::memory`] lays it, and laid anew only where
/// the picture moves.
#[derive(Clone, Debug)]
pub struct LaidMemory<'a> {
    bench: &'a Bench,
    rows: Option<RowBytes<'a>>,
    laid: Option<(Timing, Shown, Placement)>,
    memory: Vec<u8>,
}

impl<'a> LaidMemory<'a> {
    /// Of a bench, nothing laid yet.
    #[must_use]
    pub fn new(bench: &'a Bench) -> Self {
        Self { bench, rows: None, laid: None, memory: Vec::new() }
    }

    /// Memory with the picture laid for the registers of `quiet`, a quiet frame of the bench's plain board.
    pub fn under(&mut self, quiet: &QuietFrame) -> &[u8] {
        self.lent_under(quiet)
    }

    /// The same, for a board to hold while it draws and to give back as it was.
    pub fn lent_under(&mut self, quiet: &QuietFrame) -> &mut Vec<u8> {
        let Some(art) = &self.bench.art else {
            if self.memory.is_empty() {
                self.memory.clone_from(&self.bench.base_memory);
            }
            return &mut self.memory;
        };
        let placement = art.placement(quiet);
        let laid = Some((*quiet.timing(), *quiet.shown(), placement));
        if self.laid != laid {
            self.laid = laid;
            self.memory.clone_from(&self.bench.base_memory);
            if self.rows.is_none() {
                self.rows = RowBytes::new(&art.picture, quiet).ok();
            }
            // The mode was checked to hold the picture when the bench was set up.
            let _ = self.rows.as_ref().map(|rows| rows.lay(quiet, placement, &mut self.memory));
            self.bench.overlays.iter().for_each(|byte| byte.write(&mut self.memory));
        }
        &mut self.memory
    }
}
