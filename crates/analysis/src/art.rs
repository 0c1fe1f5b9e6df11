//! Art check: how visible a fault is in the picture at hand.
//!
//! A fault that has to be lived with need not be seen: a pixel that comes from
//! the wrong place is hidden where both places have the same colour. For each
//! start address the board's frame is held against the plain one, pixel by
//! pixel, and each difference is weighted by its contrast. Added up over the
//! start addresses, on the screen and on the picture, this gives the map of
//! where art should be plain.

mod contrast;
mod origin;

pub use contrast::contrast;
pub use origin::{BestColumn, best_column};

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_picture::lay::bits_per_pixel;
use backporch_raster::{Picture, Plain, QuietFrame, Tap, View};
use rayon::prelude::*;

use crate::verdict::Damage;

/// What a fault shows at one start address.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visibility {
    /// Start address.
    pub start: u32,
    /// Picture lines whose fetch or timing differs.
    pub damaged_lines: u32,
    /// Pixels whose colour differs.
    pub visible_pixels: u32,
    /// Their contrasts together: as many pixels of black against white would be seen as well.
    pub weight: f64,
}

/// A map of weights, row by row from the top left.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Map {
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Contrast of what is seen at each place, added up over the start addresses.
    pub weights: Vec<f32>,
}

/// What a fault shows in a picture under one setting.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ArtCheck {
    /// Each start address looked at.
    pub starts: Vec<Visibility>,
    /// Where on the screen it shows.
    pub screen: Map,
    /// Where in the picture it shows; empty where there is no picture.
    pub art: Map,
}

impl Map {
    fn new(width: u32, height: u32) -> Self {
        Self { width, height, weights: vec![0.0; width as usize * height as usize] }
    }

    fn add(&mut self, x: u32, y: u32, weight: f32) {
        if x < self.width && y < self.height {
            self.weights[(y * self.width + x) as usize] += weight;
        }
    }

    fn join(mut self, other: &Self) -> Self {
        if self.weights.len() < other.weights.len() {
            return other.clone().join(&self);
        }
        self.weights.iter_mut().zip(&other.weights).for_each(|(weight, more)| *weight += more);
        self
    }

    /// The greatest weight.
    #[must_use]
    pub fn most(&self) -> f32 {
        self.weights.iter().copied().fold(0.0, f32::max)
    }
}

impl ArtCheck {
    /// Looks at `starts` under `registers`, rendering each.
    #[must_use]
    pub fn new<T: Tap + Clone + Send + Sync>(bench: &Bench, registers: &Registers, tap: &T, starts: &[u32]) -> Self {
        let one = |start: &u32| seen(bench, registers, tap, *start);
        let join = |one: Self, other: Self| Self {
            starts: [one.starts, other.starts].concat(),
            screen: one.screen.join(&other.screen),
            art: one.art.join(&other.art),
        };
        starts.par_iter().map(one).reduce(Self::default, join)
    }

    /// The start address at which most is seen.
    #[must_use]
    pub fn worst(&self) -> Option<&Visibility> {
        self.starts.iter().max_by(|one, other| one.weight.total_cmp(&other.weight))
    }

    /// What is seen over all start addresses.
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.starts.iter().map(|start| start.weight).sum()
    }

    /// Share of the start addresses at which nothing is seen.
    #[must_use]
    pub fn unseen(&self) -> f64 {
        let unseen = self.starts.iter().filter(|start| start.visible_pixels == 0).count();
        unseen as f64 / self.starts.len().max(1) as f64
    }
}

fn seen<T: Tap + Clone>(bench: &Bench, registers: &Registers, tap: &T, start: u32) -> ArtCheck {
    let adapter = bench.adapter();
    let mut registers = registers.clone();
    // A start address that does not fit is none of the board's; its lower bits are looked at.
    let most = adapter.field_info(adapter.start_address()).max();
    let _ = adapter.set(&mut registers, adapter.start_address(), u64::from(start & most));
    let plain = bench.plain(&registers).run_frame();
    let shown = bench.under(&registers, tap.clone()).run_frame();
    let damaged_lines = Damage::between(&plain, &shown).damaged_lines();
    let (right, wrong) = (plain.picture(View::Picture), shown.picture(View::Picture));

    let place = ArtPlace::of(bench, &registers, start);
    let mut check = ArtCheck {
        starts: Vec::new(),
        screen: Map::new(right.width, right.height),
        art: place.as_ref().map_or_else(Map::default, |place| Map::new(place.width, place.height)),
    };
    let mut visibility = Visibility { start, damaged_lines, visible_pixels: 0, weight: 0.0 };
    for (x, y, weight) in differences(&right, &wrong) {
        visibility.visible_pixels += 1;
        visibility.weight += f64::from(weight);
        check.screen.add(x, y, weight);
        if let Some((column, row)) = place.as_ref().and_then(|place| place.at(x, y)) {
            check.art.add(column, row, weight);
        }
    }
    check.starts.push(visibility);
    check
}

/// Pixels that differ, and by how much.
fn differences<'a>(right: &'a Picture, wrong: &'a Picture) -> impl Iterator<Item = (u32, u32, f32)> + 'a {
    let pixel = |picture: &Picture, x: u32, y: u32| {
        let is_inside = x < picture.width && y < picture.height;
        if is_inside { picture.rgba[(y * picture.width + x) as usize] } else { [0, 0, 0, 255] }
    };
    let places = (0..right.height).flat_map(|y| (0..right.width).map(move |x| (x, y)));
    places.filter_map(move |(x, y)| {
        let (one, other) = (pixel(right, x, y), pixel(wrong, x, y));
        (one != other).then(|| (x, y, contrast(one, other)))
    })
}

/// Which pixel of the picture stands where on the screen.
struct ArtPlace {
    width: u32,
    height: u32,
    /// Column of the picture at the left edge of its rows of memory.
    column: u32,
    /// Pixels by which the screen has moved over them.
    moved: i64,
    pitch: u32,
    /// Picture lines that one row of memory after the other shows.
    lines_of_row: u32,
}

impl ArtPlace {
    fn of(bench: &Bench, registers: &Registers, start: u32) -> Option<Self> {
        let (art, place) = (bench.picture()?, bench.picture_place(registers)?);
        let quiet = QuietFrame::new(bench.adapter(), registers, &Plain);
        let bits = bits_per_pixel(&quiet).ok()?;
        let line = quiet.line(0, start, 0);
        let format = quiet.format();
        Some(Self {
            width: art.width(),
            height: art.height(),
            column: place.column,
            moved: (i64::from(start) - i64::from(place.start)) * i64::from(line.unit * 8 / bits),
            pitch: (line.pitch * 8 / bits).max(1),
            lines_of_row: if format.uses_row_address() { quiet.timing().lines_per_row() } else { 1 },
        })
    }

    fn at(&self, x: u32, y: u32) -> Option<(u32, u32)> {
        let along = self.moved + i64::from(x);
        let (rows, left) = (along.div_euclid(self.pitch.into()), along.rem_euclid(self.pitch.into()));
        let column = (u64::from(self.column) + left as u64) % u64::from(self.width);
        let row = i64::from(y) + rows * i64::from(self.lines_of_row);
        (0..i64::from(self.height)).contains(&row).then_some((column as u32, row as u32))
    }
}
