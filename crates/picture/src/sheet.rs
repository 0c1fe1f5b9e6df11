//! The contact sheet of a sweep: a small picture for every step with its verdict, in a grid that a
//! person reads at a glance.
//!
//! ```text
//! title
//! ┌ cell ───────────────┐
//! │ picture            ▐│  right of it: a bar, which lines are damaged
//! │ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁    ▐│  below it: a strip, in which columns
//! │ shape  label        │
//! │ verdict   how much  │
//! └─────────────────────┘  … columns by rows of cells
//! shapes and their meanings
//! summary
//! ```

use image::RgbImage;
use image::imageops::{self, FilterType};

use crate::mark::{Mark, SHAPE_SIDE, line_bar};
use crate::plate::{FAINT_INK, GROUND, INK, Lettering, PANEL, PlateArea, RULE, fill, shortened, wrapped};

/// Pixels across that a sheet takes at most, unless its columns ask for more.
pub const SHEET_WIDTH: u32 = 1600;
/// Cells drawn at most; the footer tells how many were left out.
pub const MOST_CELLS: usize = 1024;
/// Columns at most.
pub const MOST_COLUMNS: u32 = 32;

const MARGIN: u32 = 24;
const GAP: u32 = 12;
const PADDING: u32 = 7;
const FRAME: u32 = 3;
const BAR_WIDTH: u32 = 8;
const STRIP_HEIGHT: u32 = 5;
const NARROWEST_THUMB: u32 = 72;
const WIDEST_THUMB: u32 = 480;

const TITLE: Lettering = Lettering { scale: 3, colour: INK };
const TEXT: Lettering = Lettering { scale: 2, colour: INK };
const SMALL: Lettering = Lettering { scale: 1, colour: FAINT_INK };

/// One step of a sweep.
#[derive(Debug, Clone)]
pub struct SheetCell {
    /// The frame, of any size; it is scaled down to fit.
    pub thumb: RgbImage,
    /// What was set, short: `start 12`.
    pub label: String,
    /// The verdict.
    pub mark: Mark,
    /// For each line of the frame, from the top, whether it is damaged.
    pub damaged: Vec<bool>,
    /// The first and last damaged column of the frame, from 0 at the left.
    pub x_range: Option<(u32, u32)>,
}

/// What goes on a sheet.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    /// One line above the grid.
    pub title: String,
    /// Paragraphs below the grid.
    pub summary: Vec<String>,
    /// The steps in order, along the rows.
    pub cells: Vec<SheetCell>,
    /// Cells in a row, such as the period of a sweep (held to 1 to [`MOST_COLUMNS`]); without it, a
    /// number that suits.
    pub columns: Option<u32>,
}

impl Sheet {
    /// Draws the sheet.
    #[must_use]
    pub fn draw(&self) -> RgbImage {
        let shown = &self.cells[..self.cells.len().min(MOST_CELLS)];
        let grid = Grid::new(shown, self.columns);
        let footer = self.footer(shown.len(), grid.inner_width());
        let foot = grid.bottom() + GAP;
        let mut picture = RgbImage::new(grid.sheet_width, foot + footer.height() + MARGIN);
        let whole = PlateArea::new(0, 0, picture.width(), picture.height());
        fill(&mut picture, whole, GROUND);
        let title = shortened(&self.title, TITLE.fitting(grid.inner_width()));
        TITLE.write(&mut picture, (MARGIN, MARGIN), &title);
        for (place, cell) in (0..).zip(shown) {
            grid.draw_cell(&mut picture, place, cell);
        }
        footer.draw(&mut picture, foot);
        picture
    }

    fn footer(&self, shown: usize, width: u32) -> Footer {
        let all = self.cells.len();
        let left_out = (shown < all).then(|| format!("The first {shown} of {all} steps are drawn."));
        let lines = self.summary.iter().chain(&left_out);
        Footer {
            counts: Mark::ALL.map(|mark| self.cells.iter().filter(|cell| cell.mark == mark).count()),
            lines: lines.flat_map(|text| wrapped(text, TEXT.fitting(width))).collect(),
            width,
        }
    }
}

/// A number of columns near the square root of the number of cells, best one that leaves no row short.
fn suitable_columns(cells: usize) -> u32 {
    let cells = u32::try_from(cells.clamp(1, MOST_CELLS)).unwrap_or(1);
    let misfit = |columns: &u32| {
        let off_square = (columns * columns).abs_diff(cells) * 10 / cells;
        off_square + if cells.is_multiple_of(*columns) { 0 } else { 6 }
    };
    (1..=MOST_COLUMNS.min(cells)).min_by_key(misfit).unwrap_or(1)
}

/// Where the cells lie.
struct Grid {
    columns: u32,
    rows: u32,
    sheet_width: u32,
    top: u32,
    /// Room for a thumb.
    thumb: (u32, u32),
}

impl Grid {
    fn new(cells: &[SheetCell], columns: Option<u32>) -> Self {
        let columns = columns.unwrap_or_else(|| suitable_columns(cells.len())).clamp(1, MOST_COLUMNS);
        let room = SHEET_WIDTH - 2 * MARGIN;
        let thumb_width =
            ((room + GAP) / columns).saturating_sub(GAP + Self::beside_thumb()).clamp(NARROWEST_THUMB, WIDEST_THUMB);
        let thumb_height = cells.iter().map(|cell| thumb_size(&cell.thumb, thumb_width).1).max().unwrap_or(0);
        let mut grid = Self {
            columns,
            rows: (cells.len() as u32).div_ceil(columns),
            sheet_width: 0,
            top: MARGIN + TITLE.height() + GAP,
            thumb: (thumb_width, thumb_height),
        };
        let (cell_width, _) = grid.cell_size();
        grid.sheet_width = (2 * MARGIN + columns * (cell_width + GAP) - GAP).max(SHEET_WIDTH / 2);
        grid
    }

    /// What a cell is wider than its thumb.
    const fn beside_thumb() -> u32 {
        2 * PADDING + 3 * FRAME + BAR_WIDTH
    }

    fn cell_size(&self) -> (u32, u32) {
        let (width, height) = self.thumb;
        let lettering = SHAPE_SIDE + PADDING + SMALL.height();
        let below = 2 * FRAME + STRIP_HEIGHT + PADDING + lettering;
        (width + Self::beside_thumb(), 2 * PADDING + FRAME + height + below)
    }

    fn inner_width(&self) -> u32 {
        self.sheet_width - 2 * MARGIN
    }

    fn bottom(&self) -> u32 {
        self.top + self.rows * (self.cell_size().1 + GAP)
    }

    fn cell_area(&self, place: u32) -> PlateArea {
        let (width, height) = self.cell_size();
        let (column, row) = (place % self.columns, place / self.columns);
        PlateArea::new(MARGIN + column * (width + GAP), self.top + row * (height + GAP), width, height)
    }

    fn draw_cell(&self, picture: &mut RgbImage, place: u32, cell: &SheetCell) {
        let area = self.cell_area(place);
        fill(picture, area, PANEL);
        let (width, height) = thumb_size(&cell.thumb, self.thumb.0);
        let thumb = PlateArea::new(area.x + PADDING + FRAME, area.y + PADDING + FRAME, width, height);
        draw_thumb(picture, cell, thumb);
        let lettering = area.y + PADDING + 3 * FRAME + self.thumb.1 + STRIP_HEIGHT + PADDING;
        draw_lettering(picture, cell, PlateArea::new(area.x + PADDING, lettering, area.width - 2 * PADDING, 0));
    }
}

/// The size of a frame brought down to at most `width` across and twice that down, by a whole number
/// where that costs little: then each row of the bar stands for as many lines. It is never enlarged.
fn thumb_size(frame: &RgbImage, width: u32) -> (u32, u32) {
    let (across, down) = frame.dimensions();
    let parts = across.div_ceil(width).max(down.div_ceil(2 * width)).max(1);
    if across / parts * 5 >= width * 4 || parts == 1 {
        return (across / parts, down / parts);
    }
    let scale = f64::min(f64::from(width) / f64::from(across), 2.0 * f64::from(width) / f64::from(down));
    let scaled = |side: u32| ((f64::from(side) * scale) as u32).max(1);
    (scaled(across), scaled(down))
}

/// The picture in its frame, the bar of damaged lines and the strip of damaged columns.
fn draw_thumb(picture: &mut RgbImage, cell: &SheetCell, thumb: PlateArea) {
    let colour = cell.mark.colour();
    let rim = if cell.mark == Mark::Clean { 1 } else { FRAME };
    fill(picture, thumb.grown(rim), colour);
    if (thumb.width, thumb.height) == cell.thumb.dimensions() {
        imageops::replace(picture, &cell.thumb, i64::from(thumb.x), i64::from(thumb.y));
    } else {
        let small = imageops::resize(&cell.thumb, thumb.width, thumb.height, FilterType::Triangle);
        imageops::replace(picture, &small, i64::from(thumb.x), i64::from(thumb.y));
    }
    let bar = PlateArea::new(thumb.x + thumb.width + 2 * FRAME, thumb.y, BAR_WIDTH, thumb.height);
    line_bar(picture, bar, &cell.damaged, colour);
    let strip = PlateArea::new(thumb.x, thumb.y + thumb.height + 2 * FRAME, thumb.width, STRIP_HEIGHT);
    fill(picture, strip, RULE);
    if let Some((first, last)) = cell.x_range {
        let columns = u64::from(cell.thumb.width().max(1));
        let at = |column: u64| (column.min(columns) * u64::from(strip.width) / columns) as u32;
        let end = at(u64::from(last) + 1).max(2);
        // Two pixels at least: the narrowest damage is the one not to be missed.
        let start = at(u64::from(first)).min(end - 2);
        fill(picture, PlateArea::new(strip.x + start, strip.y, end.saturating_sub(start), STRIP_HEIGHT), colour);
    }
}

fn draw_lettering(picture: &mut RgbImage, cell: &SheetCell, area: PlateArea) {
    cell.mark.draw(picture, (area.x, area.y));
    let beside = SHAPE_SIDE + PADDING;
    let room = area.width.saturating_sub(beside);
    let label = if TEXT.width(&cell.label) <= room { TEXT } else { Lettering { colour: INK, ..SMALL } };
    let down = (SHAPE_SIDE - label.height()) / 2;
    label.write(picture, (area.x + beside, area.y + down), &shortened(&cell.label, label.fitting(room)));
    let verdict = Lettering { colour: cell.mark.colour(), ..SMALL };
    let below = area.y + SHAPE_SIDE + PADDING;
    verdict.write(picture, (area.x, below), &shortened(cell.mark.word(), SMALL.fitting(area.width)));
    let lines = cell.damaged.iter().filter(|damaged| **damaged).count();
    if lines > 0 {
        let count = format!("{lines} line{}", if lines == 1 { "" } else { "s" });
        let width = SMALL.width(&count);
        if width + verdict.width(cell.mark.word()) + PADDING <= area.width {
            SMALL.write(picture, (area.x + area.width - width, below), &count);
        }
    }
}

/// Legend and summary.
struct Footer {
    /// Cells of each mark, in the order of [`Mark::ALL`].
    counts: [usize; 3],
    lines: Vec<String>,
    width: u32,
}

impl Footer {
    const LINE: u32 = 26;
    const HINT: &'static str =
        "Bar beside a picture: its damaged lines. Strip below: from the first damaged column to the last.";

    fn hint(&self) -> Vec<String> {
        wrapped(Self::HINT, SMALL.fitting(self.width))
    }

    fn height(&self) -> u32 {
        let hint = self.hint().len() as u32 * (SMALL.height() + PADDING);
        GAP + Self::LINE + hint + GAP + self.lines.len() as u32 * Self::LINE
    }

    fn draw(&self, picture: &mut RgbImage, top: u32) {
        fill(picture, PlateArea::new(MARGIN, top, self.width, 1), RULE);
        let mut y = top + GAP;
        self.legend(picture, y);
        y += Self::LINE;
        for line in self.hint() {
            SMALL.write(picture, (MARGIN, y), &line);
            y += SMALL.height() + PADDING;
        }
        y += GAP;
        for line in &self.lines {
            TEXT.write(picture, (MARGIN, y), line);
            y += Self::LINE;
        }
    }

    fn legend(&self, picture: &mut RgbImage, y: u32) {
        let mut x = MARGIN;
        for (mark, count) in Mark::ALL.into_iter().zip(self.counts) {
            mark.draw(picture, (x, y));
            x += SHAPE_SIDE + PADDING;
            let lettering = Lettering { colour: mark.colour(), ..TEXT };
            let text = format!("{} {count}", mark.word());
            lettering.write(picture, (x, y), &text);
            x += TEXT.width(&text) + MARGIN;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cell(mark: Mark, size: (u32, u32)) -> SheetCell {
        SheetCell {
            thumb: RgbImage::new(size.0, size.1),
            label: "start 12".to_owned(),
            mark,
            damaged: vec![mark != Mark::Clean; size.1 as usize],
            x_range: (mark != Mark::Clean).then_some((318, 319)),
        }
    }

    fn sheet(cells: usize, columns: Option<u32>) -> Sheet {
        Sheet {
            title: "sweep".to_owned(),
            summary: vec!["repeats every 32 steps".to_owned()],
            cells: (0..cells).map(|at| cell(Mark::ALL[at % 3], (320, 200))).collect(),
            columns,
        }
    }

    #[test]
    fn columns_suit_the_number_of_cells() {
        let columns: Vec<u32> = [1, 2, 8, 12, 32, 64, 100, 256, 1024].map(suitable_columns).into();
        assert_eq!(columns, [1, 1, 2, 3, 4, 8, 10, 16, 32]);
        // A prime number of cells still makes a block.
        assert!((5..=10).contains(&suitable_columns(61)));
    }

    #[test]
    fn sixty_four_cells_fill_the_width_and_do_not_overlap() {
        let sheet = sheet(64, None);
        let grid = Grid::new(&sheet.cells, sheet.columns);
        assert!((SHEET_WIDTH - 40..=SHEET_WIDTH).contains(&grid.sheet_width), "{}", grid.sheet_width);
        let last = grid.cell_area(63);
        assert!(last.x + last.width + MARGIN <= grid.sheet_width);
        assert!(last.y + last.height <= grid.bottom());
        let (first, second, below) = (grid.cell_area(0), grid.cell_area(1), grid.cell_area(8));
        assert!(first.x + first.width < second.x);
        assert!(first.y + first.height < below.y);
    }

    #[test]
    fn narrow_damage_shows_on_the_strip() {
        let sheet = Sheet { cells: vec![cell(Mark::EdgeDamaged, (320, 200))], ..Sheet::default() };
        let marked =
            |picture: &RgbImage| picture.pixels().filter(|pixel| pixel.0 == Mark::EdgeDamaged.colour()).count();
        let mut without = sheet.clone();
        without.cells[0].x_range = None;
        let more = marked(&sheet.draw()) - marked(&without.draw());
        assert_eq!(more as u32, 2 * STRIP_HEIGHT);
    }

    #[test]
    fn cells_beyond_the_most_are_told_of() {
        let sheet = sheet(MOST_CELLS + 1, None);
        let footer = sheet.footer(MOST_CELLS, 1000);
        assert_eq!(footer.lines.last().map(String::as_str), Some("The first 1024 of 1025 steps are drawn."));
        assert_eq!(footer.counts.iter().sum::<usize>(), MOST_CELLS + 1);
    }

    #[test]
    fn thumbs_fit_and_prefer_whole_numbers() {
        let size = |across, down| thumb_size(&RgbImage::new(across, down), 164);
        assert_eq!(size(320, 200), (160, 100));
        assert_eq!(size(640, 400), (160, 100));
        assert_eq!(size(100, 80), (100, 80));
        assert_eq!(size(500, 250), (164, 82));
        assert_eq!(size(2, 4000), (1, 328));
        assert_eq!(size(0, 0), (0, 0));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn anything_can_be_drawn(
            cells in prop::collection::vec((0usize..3, 0u32..90, 0u32..60, ".{0,30}", any::<Option<(u32, u32)>>()), 0..9),
            columns: Option<u32>,
            title in ".{0,90}",
        ) {
            let cells = cells.into_iter().map(|(mark, width, height, label, x_range)| SheetCell {
                label,
                x_range,
                ..cell(Mark::ALL[mark], (width, height))
            });
            let sheet = Sheet { title, summary: vec![], cells: cells.collect(), columns };
            prop_assert!(sheet.draw().width() >= SHEET_WIDTH / 2);
        }
    }
}
