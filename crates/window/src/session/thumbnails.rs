//! Thumbnails of the sweep: what each value of the active register would show.
//!
//! They are drawn a few at a time, the nearest to the present value first, so
//! that the row fills while the session goes on. Where something drives the
//! boards, they show memory as it left it, and are drawn while it stands still.

use std::collections::BTreeMap;

use backporch_adapter::{Adapter, FieldId, Registers, Rgba};
use backporch_analysis::{Damage, Sweep, SweepStep, Verdict};
use backporch_bench::Bench;
use backporch_raster::{Frame, Picture, View};

use super::active_register::ActiveRegister;

/// Thumbnails shown at a time.
pub const THUMBNAIL_COUNT: u32 = 64;

/// Greatest width and height of a thumbnail, in pixels.
const LARGEST: (u32, u32) = (80, 50);

/// The thumbnail of one value.
#[derive(Clone, Debug)]
pub struct Thumbnail {
    /// Verdict, pattern and extent.
    pub step: SweepStep,
    /// What of the damage the board as its class is built does not do.
    pub beyond: Damage,
    /// PixelRun across.
    pub width: u32,
    /// PixelRun down.
    pub height: u32,
    /// Colour of each pixel.
    pub rgba: Vec<Rgba>,
}

/// Thumbnails of consecutive values of one register.
#[derive(Clone, Debug, Default)]
pub struct Thumbnails {
    cells: BTreeMap<u32, Thumbnail>,
    first: u32,
    last: u32,
    /// The registers the cells were drawn for, the stepped one at 0.
    drawn_for: Option<Registers>,
    /// The memory they were drawn from, by its revision; none where the bench lays it.
    drawn_from: Option<u64>,
    /// Changes with every cell drawn or dropped.
    revision: u64,
    /// Changes when every cell is dropped.
    generation: u64,
}

impl Thumbnails {
    /// First and last value shown.
    #[must_use]
    pub fn range(&self) -> (u32, u32) {
        (self.first, self.last)
    }

    /// The cell of a value, once it is drawn.
    #[must_use]
    pub fn get(&self, value: u32) -> Option<&Thumbnail> {
        self.cells.get(&value)
    }

    /// Changes with every cell drawn or dropped.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Changes when every cell is dropped: thumbnails of an older one are stale.
    #[must_use]
    pub fn generation(&self) -> u64 {
        self.generation
    }

    /// Whether every cell is drawn.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.cells.range(self.first..=self.last).count() as u32 == self.last - self.first + 1
    }

    /// The steps after which the kind of damage repeats, once all are drawn.
    #[must_use]
    pub fn period(&self) -> Option<usize> {
        let steps: Vec<SweepStep> =
            self.cells.range(self.first..=self.last).map(|(_, cell)| cell.step.clone()).collect();
        if self.is_whole() { Sweep::period_of(&steps) } else { None }
    }

    /// Moves to where `value` lies, in whole strips.
    pub(crate) fn show(&mut self, value: u32, max: u32) {
        self.first = value / THUMBNAIL_COUNT * THUMBNAIL_COUNT;
        self.last = (self.first + (THUMBNAIL_COUNT - 1)).min(max);
    }

    /// Drops every cell: the boards are no longer the same.
    pub(crate) fn clear(&mut self) {
        self.cells.clear();
        self.revision += 1;
        self.generation += 1;
    }

    /// Drops every cell where the other registers have changed since.
    pub(crate) fn keep_for(&mut self, adapter: &Adapter, registers: &Registers, field: FieldId) {
        let mut others = registers.clone();
        let _ = adapter.set(&mut others, field, 0);
        if self.drawn_for.as_ref() != Some(&others) {
            self.clear();
            self.drawn_for = Some(others);
        }
    }

    /// Drops every cell where memory has changed since.
    pub(crate) fn keep_from(&mut self, memory_revision: u64) {
        if self.drawn_from != Some(memory_revision) {
            self.clear();
            self.drawn_from = Some(memory_revision);
        }
    }

    /// Draws up to `most` missing ones, the nearest to the register's value first.
    pub(crate) fn draw_missing(&mut self, scene: &Scene, active: &ActiveRegister, most: u32) {
        for _ in 0..most {
            let missing = (self.first..=self.last).filter(|at| !self.cells.contains_key(at));
            let Some(at) = missing.min_by_key(|at| at.abs_diff(active.value())) else {
                return;
            };
            self.cells.insert(at, scene.thumbnail(active.field, at));
            self.revision += 1;
        }
    }
}

/// What thumbnails are drawn of.
pub(crate) struct Scene<'a> {
    pub bench: &'a Bench,
    /// Contents of video memory, or as the bench lays its picture.
    pub memory: Option<&'a [u8]>,
    /// Registers but for the active one.
    pub registers: &'a Registers,
}

impl Scene<'_> {
    /// What the boards show once a register has a value, which it has to be able to hold.
    fn thumbnail(&self, field: FieldId, value: u32) -> Thumbnail {
        let mut registers = self.registers.clone();
        let _ = self.bench.adapter().set(&mut registers, field, u64::from(value));
        let (mut plain, mut faulty) = (self.bench.plain(&registers), self.bench.faulty(&registers));
        if let Some(memory) = self.memory {
            plain.load(memory);
            faulty.load(memory);
        }
        let (plain, faulty) = (plain.run_frame(), faulty.run_frame());
        let damage = Damage::between(&plain, &faulty);
        let beyond = self.beyond_design(&registers, &damage, &faulty);
        let step = SweepStep::new(vec![value], damage);
        let picture = faulty.picture(View::Picture);
        let (width, height) = shrunk_size(&picture);
        Thumbnail { step, beyond, width, height, rgba: shrunk(&picture, width, height) }
    }

    /// What of the damage is the adapter's own: all of it, nothing, or what the board as built does not do.
    fn beyond_design(&self, registers: &Registers, damage: &Damage, faulty: &Frame) -> Damage {
        let layers = self.bench.layers();
        if layers.design().is_empty() {
            return damage.clone();
        }
        if layers.faults().is_empty() || damage.verdict() == Verdict::Clean {
            return Damage::default();
        }
        let mut built = self.bench.by_design(registers);
        if let Some(memory) = self.memory {
            built.load(memory);
        }
        Damage::between(&built.run_frame(), faulty)
    }
}

fn shrunk_size(picture: &Picture) -> (u32, u32) {
    let times = picture.width.div_ceil(LARGEST.0).max(picture.height.div_ceil(LARGEST.1)).max(1);
    (picture.width / times, picture.height / times)
}

/// The picture at a smaller size, each pixel the mean of those it stands for.
fn shrunk(picture: &Picture, width: u32, height: u32) -> Vec<Rgba> {
    let mean = |x: u32, y: u32| {
        let columns = x * picture.width / width..(x + 1) * picture.width / width;
        let rows = y * picture.height / height..(y + 1) * picture.height / height;
        let mut sums = [0u32; 4];
        for at in rows.flat_map(|y| columns.clone().map(move |x| y * picture.width + x)) {
            let pixel = picture.rgba[at as usize];
            sums.iter_mut().zip(pixel).for_each(|(sum, level)| *sum += u32::from(level));
        }
        let count = sums[3] / 255;
        sums.map(|sum| (sum / count.max(1)) as u8)
    };
    (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| mean(x, y)).collect()
}
