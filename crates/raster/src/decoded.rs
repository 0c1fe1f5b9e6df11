//! Registers as the beam needs them, brought up to date only where a write has
//! changed them.

use std::sync::Arc;

use backporch_adapter::{Adapter, Aspects, FramePosition, MemoryPath, Palette, Registers, Shown, Timing};

use crate::stages::Stages;
use crate::tap::Intercept;

/// Registers, decoded.
#[derive(Clone, Debug)]
pub(crate) struct Decoded {
    pub timing: Timing,
    /// Where in a frame the start address is taken over under that timing.
    pub take_over: FramePosition,
    pub shown: Shown,
    pub palette: Arc<Palette>,
    pub path: MemoryPath,
    /// What has to be decoded anew.
    stale: Aspects,
    /// Counts changes of timing and of how memory is shown.
    pub shape: u64,
}

impl Decoded {
    pub fn new<T: Intercept>(adapter: &Adapter, registers: &Registers, tap: &T, frame: u64) -> Self {
        let shown = adapter.shown(registers);
        let timing = timing(adapter, registers, tap);
        Self {
            timing,
            take_over: timing.take_over(),
            shown,
            palette: Arc::new(palette(adapter, registers, tap, shown.format, frame)),
            path: adapter.memory_path(registers),
            stale: Aspects::empty(),
            shape: 0,
        }
    }

    /// A register has changed that these depend on.
    pub fn spoil(&mut self, aspects: Aspects) {
        self.stale |= aspects;
    }

    /// Whether one of these is out of date.
    pub fn is_stale(&self, aspects: Aspects) -> bool {
        self.stale.intersects(aspects)
    }

    /// One colour of the DAC has changed.
    pub fn recolour<T: Intercept>(&mut self, adapter: &Adapter, registers: &Registers, tap: &T, entry: u8) {
        let simple = !tap.stages().contains(Stages::COLOUR) && !self.stale.intersects(Aspects::COLOUR | Aspects::SHOWN);
        let format = self.shown.format as usize;
        if !(simple && adapter.update_colour(registers, format, entry, Arc::make_mut(&mut self.palette))) {
            self.stale |= Aspects::COLOUR;
        }
    }

    /// Brings everything up to date.
    pub fn refresh<T: Intercept>(&mut self, adapter: &Adapter, registers: &Registers, tap: &T, frame: u64) {
        if self.stale.is_empty() {
            return;
        }
        if self.stale.intersects(Aspects::TIMING) {
            let timing = timing(adapter, registers, tap);
            self.shape += u64::from(timing != self.timing);
            self.timing = timing;
            self.take_over = timing.take_over();
        }
        if self.stale.intersects(Aspects::SHOWN) {
            let shown = adapter.shown(registers);
            self.shape += u64::from(shown != self.shown);
            self.shown = shown;
        }
        if self.stale.intersects(Aspects::COLOUR) {
            let palette = palette(adapter, registers, tap, self.shown.format, frame);
            if *self.palette != palette {
                self.palette = Arc::new(palette);
            }
        }
        if self.stale.intersects(Aspects::MEMORY) {
            self.path = adapter.memory_path(registers);
        }
        self.stale = Aspects::empty();
    }
}

fn timing<T: Intercept>(adapter: &Adapter, registers: &Registers, tap: &T) -> Timing {
    let mut timing = adapter.timing(registers);
    if tap.stages().contains(Stages::SYNC) {
        tap.timing(&mut timing);
    }
    timing
}

fn palette<T: Intercept>(adapter: &Adapter, registers: &Registers, tap: &T, format: u32, frame: u64) -> Palette {
    let mut palette = adapter.palette_of(registers, format as usize);
    if tap.stages().contains(Stages::COLOUR) {
        tap.colour(frame, &mut palette);
    }
    palette
}
