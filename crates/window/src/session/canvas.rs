//! The canvas: the pixels the screen panel shows, and which frame pixel each of them is.
//!
//! A canvas holds one or two tiles, a tile the picture of one board's newest
//! frame. In the middle of a frame the lines the beam has drawn stand over the
//! frame before, which is dimmed, as an afterglow.

use backporch_adapter::Rgba;
use backporch_raster::{Frame, Picture, ScanLine, SegmentKind, View};

/// Which boards are looked at, and how.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BoardView {
    /// The board under its quirks.
    #[default]
    Faulty,
    /// The plain board.
    Plain,
    /// Plain at the left, as it stands at the right.
    Beside,
    /// The faulty board's pixels that differ, over a dimmed picture.
    Difference,
    /// Plain and as it stands, in turn.
    Blink,
    /// The board as its class is built, without faults.
    Built,
    /// Plain, as built and as it stands, side by side.
    Three,
    /// A photograph of the real screen at the left, as it stands at the right.
    Photograph,
    /// The photograph and as it stands, in turn.
    PhotographBlink,
    /// The photograph as it was taken, with the corners of the picture on it.
    PhotographCorners,
}

impl BoardView {
    /// All of them, in the order of their keys.
    pub const ALL: [Self; 10] = [
        Self::Faulty,
        Self::Plain,
        Self::Beside,
        Self::Difference,
        Self::Blink,
        Self::Built,
        Self::Three,
        Self::Photograph,
        Self::PhotographBlink,
        Self::PhotographCorners,
    ];

    /// Whether it shows a photograph, so that there must be one.
    #[must_use]
    pub fn needs_photograph(self) -> bool {
        matches!(self, Self::Photograph | Self::PhotographBlink | Self::PhotographCorners)
    }

    /// Whether it shows two pictures in turn.
    #[must_use]
    pub fn blinks(self) -> bool {
        matches!(self, Self::Blink | Self::PhotographBlink)
    }

    /// In a word or two.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Faulty => "as it stands",
            Self::Plain => "plain",
            Self::Beside => "beside",
            Self::Difference => "difference",
            Self::Blink => "blink",
            Self::Built => "as built",
            Self::Three => "all three",
            Self::Photograph => "photograph",
            Self::PhotographBlink => "in turn",
            Self::PhotographCorners => "corners",
        }
    }
}

/// One of the three boards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoardSide {
    /// The plain board: what was meant.
    Plain,
    /// The board as its class is built, without faults.
    Built,
    /// The board under its quirks.
    Faulty,
}

impl BoardSide {
    /// In a word or two.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Built => "as built",
            Self::Faulty => "as it stands",
        }
    }
}

/// Where a board's picture stands on the canvas.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tile {
    /// The board.
    pub side: BoardSide,
    /// Left column.
    pub x: u32,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// What the real board showed in its place.
    pub is_photograph: bool,
}

/// Pixels to show.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Canvas {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Colour of each pixel.
    pub rgba: Vec<Rgba>,
    /// The boards' pictures on it.
    pub tiles: Vec<Tile>,
}

/// Columns between two tiles.
const GAP: u32 = 8;
/// Colour of what belongs to no tile.
const GROUND: Rgba = [0, 0, 0, 0];
/// Colour of a pixel that differs beyond what the class does by design, and of one that differs by design.
const DIFFERS: Rgba = [236, 92, 150, 255];
const DIFFERS_BY_DESIGN: Rgba = [250, 204, 84, 255];

/// A board's newest whole frame and, in the middle of a frame, what is drawn of the next.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ShownFrames<'a> {
    pub whole: &'a Frame,
    pub under_way: Option<&'a Frame>,
}

/// The same of all three boards.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SeenBoards<'a> {
    pub plain: ShownFrames<'a>,
    pub built: ShownFrames<'a>,
    pub faulty: ShownFrames<'a>,
    pub photograph: Option<PhotographPictures<'a>>,
}

/// A photograph of the real screen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PhotographPictures<'a> {
    /// What it shows in the place of each pixel of the picture.
    pub straight: &'a Picture,
    /// As it was taken.
    pub taken: &'a Picture,
}

impl Canvas {
    /// Draws what is looked at; `other` tells which of the two a blink is at.
    pub(crate) fn draw(board_view: BoardView, view: View, seen: SeenBoards, other: bool) -> Self {
        let SeenBoards { plain, built, faulty, photograph } = seen;
        let plain = || (BoardSide::Plain, plain.picture(view));
        let built = || (BoardSide::Built, built.picture(view));
        let faulty = || (BoardSide::Faulty, faulty.picture(view));
        match board_view {
            BoardView::Blink if other => Self::of(vec![plain()]),
            BoardView::Faulty | BoardView::Blink => Self::of(vec![faulty()]),
            BoardView::Plain => Self::of(vec![plain()]),
            BoardView::Beside => Self::of(vec![plain(), faulty()]),
            BoardView::Difference => {
                let (side, mut picture) = faulty();
                mark_differences(&mut picture, &plain().1, &built().1);
                Self::of(vec![(side, picture)])
            }
            BoardView::Built => Self::of(vec![built()]),
            BoardView::Three => Self::of(vec![plain(), built(), faulty()]),
            BoardView::PhotographCorners => match photograph {
                Some(PhotographPictures { taken, .. }) => {
                    Self { width: taken.width, height: taken.height, rgba: taken.rgba.clone(), tiles: Vec::new() }
                }
                None => Self::of(vec![faulty()]),
            },
            BoardView::Photograph | BoardView::PhotographBlink => match photograph.filter(|_| view == View::Picture) {
                Some(PhotographPictures { straight, .. }) => {
                    let pictures = match board_view {
                        BoardView::PhotographBlink if other => vec![(BoardSide::Faulty, straight.clone())],
                        BoardView::PhotographBlink => return Self::of(vec![faulty()]),
                        _ => vec![(BoardSide::Faulty, straight.clone()), faulty()],
                    };
                    let mut canvas = Self::of(pictures);
                    if let Some(tile) = canvas.tiles.first_mut() {
                        tile.is_photograph = true;
                    }
                    canvas
                }
                None => Self::of(vec![faulty()]),
            },
        }
    }

    fn of(pictures: Vec<(BoardSide, Picture)>) -> Self {
        let height = pictures.iter().map(|(_, picture)| picture.height).max().unwrap_or(0);
        let mut canvas = Self { height, ..Self::default() };
        for (side, picture) in &pictures {
            if canvas.width > 0 {
                canvas.width += GAP;
            }
            let tile = Tile {
                side: *side,
                x: canvas.width,
                width: picture.width,
                height: picture.height,
                is_photograph: false,
            };
            canvas.tiles.push(tile);
            canvas.width += picture.width;
        }
        if let [(_, one)] = pictures.as_slice() {
            canvas.rgba.clone_from(&one.rgba);
            return canvas;
        }
        canvas.rgba = vec![GROUND; (canvas.width * height) as usize];
        for (tile, (_, picture)) in canvas.tiles.iter().zip(&pictures) {
            for y in 0..picture.height {
                let from = (y * picture.width) as usize;
                let to = (y * canvas.width + tile.x) as usize;
                let width = picture.width as usize;
                canvas.rgba[to..to + width].copy_from_slice(&picture.rgba[from..from + width]);
            }
        }
        canvas
    }

    /// The tile at a column, and the column inside it.
    #[must_use]
    pub fn tile_at(&self, x: u32) -> Option<(Tile, u32)> {
        let tile = self.tiles.iter().find(|tile| (tile.x..tile.x + tile.width).contains(&x))?;
        Some((*tile, x - tile.x))
    }

    /// The bytes of all pixels (red, green, blue, opacity), every pixel
    /// repeated `times` across and down, written over `bytes`.
    pub fn magnified(&self, times: u32, bytes: &mut Vec<u8>) {
        bytes.clear();
        if times <= 1 {
            bytes.extend_from_slice(self.rgba.as_flattened());
            return;
        }
        let mut line = Vec::new();
        for row in self.rgba.chunks_exact(self.width.max(1) as usize) {
            line.clear();
            row.iter().for_each(|pixel| (0..times).for_each(|_| line.extend_from_slice(pixel)));
            (0..times).for_each(|_| bytes.extend_from_slice(&line));
        }
    }
}

impl ShownFrames<'_> {
    fn picture(&self, view: View) -> Picture {
        let mut picture = self.whole.picture(view);
        if let Some(frame) = self.under_way {
            lay_over(&mut picture, frame, view);
        }
        picture
    }
}

/// Lays the lines drawn so far over the frame before, which is dimmed.
fn lay_over(picture: &mut Picture, frame: &Frame, view: View) {
    let fresh = frame.picture(view);
    picture.rgba.iter_mut().for_each(|pixel| *pixel = dimmed(*pixel));
    let rows = fresh.height.min(picture.height);
    let width = fresh.width.min(picture.width) as usize;
    for y in 0..rows {
        let last = y + 1 == fresh.height;
        let drawn = if last { width.min(drawn_of_last(frame, view) as usize) } else { width };
        let (from, to) = ((y * fresh.width) as usize, (y * picture.width) as usize);
        picture.rgba[to..to + drawn].copy_from_slice(&fresh.rgba[from..from + drawn]);
    }
}

/// Pixels drawn of the last row.
fn drawn_of_last(frame: &Frame, view: View) -> u32 {
    match view {
        View::Raster => frame.lines.last().map_or(0, |line| line.dots),
        View::Picture => frame.picture_lines().last().map_or(0, |line| active_end(frame, line)),
    }
}

/// The pixel after the last active one of a line.
fn active_end(frame: &Frame, line: &ScanLine) -> u32 {
    let end = |segment: &backporch_raster::Segment| match segment.kind {
        SegmentKind::Active { pixel_dots, .. } => (segment.dot + segment.dots) / u32::from(pixel_dots.max(1)),
        _ => 0,
    };
    frame.segments_of(line).iter().map(end).max().unwrap_or(0)
}

fn dimmed([red, green, blue, opacity]: Rgba) -> Rgba {
    let half = |level: u8| level / 2;
    [half(red), half(green), half(blue), opacity]
}

/// Marks the pixels of `picture` that differ from the plain board's, those that the board as built has too
/// in a colour of their own; the rest is dimmed and loses its colour.
fn mark_differences(picture: &mut Picture, plain: &Picture, built: &Picture) {
    let width = picture.width.max(1);
    let is_at = |other: &Picture, x: u32, y: u32, pixel: Rgba| {
        x < other.width && y < other.height && other.rgba[(y * other.width + x) as usize] == pixel
    };
    for (at, pixel) in picture.rgba.iter_mut().enumerate() {
        let (x, y) = (at as u32 % width, at as u32 / width);
        *pixel = if is_at(plain, x, y, *pixel) {
            greyed(*pixel)
        } else if is_at(built, x, y, *pixel) {
            DIFFERS_BY_DESIGN
        } else {
            DIFFERS
        };
    }
}

fn greyed([red, green, blue, opacity]: Rgba) -> Rgba {
    // Weights of luma (SMPTE 170M), at two fifths of the brightness.
    let luma = (u32::from(red) * 299 + u32::from(green) * 587 + u32::from(blue) * 114) * 2 / 5000;
    [luma as u8, luma as u8, luma as u8, opacity]
}
