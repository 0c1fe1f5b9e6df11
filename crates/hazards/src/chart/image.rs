//! The chart as a picture.

use backporch_picture::Lettering;
use image::{Rgb, RgbImage};

use super::{Colour, Drawing, Shape};

/// Pixels to a unit of the drawing.
const SCALE: f64 = 2.0;
/// Pixels to a dot of a letter.
const LETTERS: u32 = 2;
const GROUND: Colour = [255; 3];
/// Units of a dash, and of the gap after it.
const DASH: (f64, f64) = (6.0, 3.0);

pub(super) fn paint(drawing: &Drawing) -> RgbImage {
    let size = |units: f64| (units * SCALE).round() as u32;
    let mut picture = RgbImage::from_pixel(size(drawing.width), size(drawing.height), Rgb(GROUND));
    drawing.shapes.iter().for_each(|shape| draw(&mut picture, shape));
    picture
}

fn draw(picture: &mut RgbImage, shape: &Shape) {
    match shape {
        Shape::Rect { x, y, width, height, fill, edge } => {
            if let Some(edge) = edge {
                rect(picture, (x - 0.5, y - 0.5), (width + 1.0, height + 1.0), *edge);
                rect(picture, (x + 0.5, y + 0.5), (width - 1.0, height - 1.0), *fill);
            } else {
                rect(picture, (*x, *y), (*width, *height), *fill);
            }
        }
        Shape::Polygon { points, fill, .. } => inside(picture, &bounds(points), *fill, |x, y| within(points, x, y)),
        Shape::Circle { x, y, radius, fill, .. } => {
            let around = [(x - radius, y - radius), (x + radius, y + radius)];
            inside(picture, &bounds(&around), *fill, |a, b| (a - x).powi(2) + (b - y).powi(2) <= radius.powi(2));
        }
        Shape::Dashed { from, to, y, colour } => {
            let mut x = *from;
            while x < *to {
                rect(picture, (x, y - 0.5), (DASH.0.min(to - x), 1.0), *colour);
                x += DASH.0 + DASH.1;
            }
        }
        Shape::Text { x, y, text, colour, end, clear } => write(picture, (*x, *y), text, *colour, (*end, *clear)),
    }
}

fn write(picture: &mut RgbImage, (x, y): (f64, f64), text: &str, colour: Colour, (end, clear): (bool, bool)) {
    let lettering = Lettering { scale: LETTERS, colour };
    let left = (x * SCALE) as i64 - if end { i64::from(lettering.width(text)) } else { 0 };
    let (left, top) = (left.max(0) as u32, ((y * SCALE) as u32).saturating_sub(lettering.height()));
    if clear {
        let (width, height) = (f64::from(lettering.width(text)), f64::from(lettering.height()));
        rect(
            picture,
            (f64::from(left) / SCALE - 2.0, f64::from(top) / SCALE - 2.0),
            (width / SCALE + 4.0, height / SCALE + 2.0),
            GROUND,
        );
    }
    lettering.write(picture, (left, top), text);
}

/// A rectangle, at least one pixel wide and high.
fn rect(picture: &mut RgbImage, (x, y): (f64, f64), (width, height): (f64, f64), fill: Colour) {
    let range = |from: f64, length: f64, most: u32| {
        let first = (from * SCALE).round().max(0.0) as u32;
        first..(((from + length) * SCALE).round().max(0.0) as u32).max(first + 1).min(most)
    };
    let (across, down) = (range(x, width, picture.width()), range(y, height, picture.height()));
    for y in down {
        across.clone().for_each(|x| picture.put_pixel(x, y, Rgb(fill)));
    }
}

/// Least and greatest corner.
fn bounds(points: &[(f64, f64)]) -> [(f64, f64); 2] {
    let first = (f64::INFINITY, f64::INFINITY);
    points.iter().fold([first, (-first.0, -first.1)], |[low, high], (x, y)| {
        [(low.0.min(*x), low.1.min(*y)), (high.0.max(*x), high.1.max(*y))]
    })
}

/// Pixels whose middle lies inside, with a light rim of one pixel around them.
fn inside(picture: &mut RgbImage, [low, high]: &[(f64, f64); 2], fill: Colour, holds: impl Fn(f64, f64) -> bool) {
    let range = |from: f64, to: f64, most: u32| {
        ((from * SCALE) as i64 - 1).max(0) as u32..(((to * SCALE) as i64 + 2).max(0) as u32).min(most)
    };
    let (across, down) = (range(low.0, high.0, picture.width()), range(low.1, high.1, picture.height()));
    let middle = |x: i64, y: i64| holds((x as f64 + 0.5) / SCALE, (y as f64 + 0.5) / SCALE);
    for y in down {
        for x in across.clone() {
            let (i, j) = (i64::from(x), i64::from(y));
            if middle(i, j) {
                picture.put_pixel(x, y, Rgb(fill));
            } else if [(i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)].into_iter().any(|(i, j)| middle(i, j)) {
                picture.put_pixel(x, y, Rgb(GROUND));
            }
        }
    }
}

/// Whether a point lies in a polygon: edges to its right, counted.
fn within(points: &[(f64, f64)], x: f64, y: f64) -> bool {
    let ends = points.iter().zip(points.iter().cycle().skip(1));
    let crossing = |((x1, y1), (x2, y2)): &(&(f64, f64), &(f64, f64))| {
        (*y1 > y) != (*y2 > y) && x < (x2 - x1) * (y - y1) / (y2 - y1) + x1
    };
    ends.filter(crossing).count() % 2 == 1
}
