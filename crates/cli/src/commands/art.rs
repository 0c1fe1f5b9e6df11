//! The art check of `workaround`: how visible a fault is that has to be lived with.

use std::path::Path;

use anyhow::Result;
use backporch_adapter::Registers;
use backporch_analysis::art::{ArtCheck, Map, best_column};
use backporch_answer::{ArtAnswer, ArtSettingAnswer};
use backporch_bench::Bench;
use backporch_raster::View;
use backporch_workaround::{Requirements, SearchResult};
use image::{Rgb, RgbImage};

use super::suspects::Faults;
use crate::files;
use crate::output::Output;

/// Start addresses that are rendered at most; of more, this many evenly spread ones.
const MOST_STARTS: usize = 256;
/// Settings that are checked at most.
const MOST_SETTINGS: usize = 6;
/// What damage is drawn in.
const MARK: [f32; 3] = [250.0, 204.0, 84.0];

/// Checks the bench's own setting and the best partial answers against the
/// likeliest fault, and draws where art should be plain under the bench's own.
pub fn checked(
    bench: &Bench,
    need: &Requirements,
    faults: &Faults,
    found: &SearchResult,
    path: &Path,
    output: &mut Output,
) -> Result<Option<ArtAnswer>> {
    let Some(suspect) = faults.suspects.first() else {
        return Ok(None);
    };
    let starts = starts(bench, need);
    let check = |name: String, registers: &Registers| {
        let check = ArtCheck::new(bench, registers, &suspect.tap, &starts);
        let best = best_column(bench, registers, &suspect.tap, &starts);
        (ArtSettingAnswer::new(name, &check, best), check)
    };
    let (own, drawn) = check("as the bench stands".to_string(), bench.registers());
    files::write_png(output, path, &map(bench, &drawn))?;
    let mut settings = vec![own];
    for candidate in found.partial.iter().take(MOST_SETTINGS) {
        let name = format!("{} x {} pixels", candidate.width, candidate.height);
        settings.push(check(name, &candidate.registers).0);
    }
    Ok(Some(ArtAnswer { out: path.display().to_string(), starts_looked_at: starts.len(), settings }))
}

/// The need's start addresses, or [`MOST_STARTS`] of them evenly spread.
fn starts(bench: &Bench, need: &Requirements) -> Vec<u32> {
    let most = bench.adapter().field_info(bench.adapter().start_address()).max();
    let (from, to) = need.starts.as_ref().map_or((0, most), |range| (*range.start(), (*range.end()).min(most)));
    let count = (to.saturating_sub(from) as usize).saturating_add(1);
    // An odd stride meets every phase of damage that repeats by a power of two.
    let stride = if count > MOST_STARTS { (count / MOST_STARTS) | 1 } else { 1 };
    (from..=to).step_by(stride).take(MOST_STARTS).collect()
}

/// The picture in grey, what is damaged in it marked the brighter the more is seen of it.
fn map(bench: &Bench, check: &ArtCheck) -> RgbImage {
    let (ground, weights) = match bench.picture().filter(|_| check.art.most() > 0.0) {
        Some(picture) => (picture.to_rgb(), &check.art),
        None => {
            let frame = bench.plain(bench.registers()).run_frame();
            (files::image_of(&frame.picture(View::Picture), 1), &check.screen)
        }
    };
    marked(&ground, weights)
}

fn marked(ground: &RgbImage, weights: &Map) -> RgbImage {
    let most = weights.most().max(f32::MIN_POSITIVE);
    let mut image = ground.clone();
    for (x, y, pixel) in image.enumerate_pixels_mut() {
        let [red, green, blue] = pixel.0.map(f32::from);
        let grey = (0.299 * red + 0.587 * green + 0.114 * blue) * 0.5;
        let at = (y * weights.width + x) as usize;
        let weight = if x < weights.width { weights.weights.get(at).copied().unwrap_or(0.0) } else { 0.0 };
        // Little is seen too: the root lifts it.
        let share = (weight / most).sqrt();
        *pixel = Rgb(MARK.map(|mark| (grey + (mark - grey) * share) as u8));
    }
    image
}
