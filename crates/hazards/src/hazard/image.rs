//! Loader offsets: a memory image held against the picture it should be.

use std::collections::HashMap;

use backporch_script::Maker;

use super::{Hazard, HazardKind};

/// Bytes that have to agree before a displacement is believed.
const WINDOW: usize = 16;
/// Fewer different bytes than this in a window tell nothing.
const VARIETY: usize = 4;
/// A displacement must hold for this many bytes.
const SHORTEST: usize = 64;

/// A stretch of an image that shows its picture displaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Displaced {
    /// First address of the stretch.
    pub from: u32,
    /// First address after it.
    pub to: u32,
    /// Bytes by which the picture lies too far on; below zero, too early.
    pub by: i64,
}

/// Stretches in which `image` shows `picture` displaced.
///
/// Both are video memory, byte for byte. What agrees in place, and what agrees
/// nowhere, is left out.
#[must_use]
pub fn displaced(image: &[u8], picture: &[u8]) -> Vec<Displaced> {
    let places = places(picture);
    let mut stretches: Vec<Displaced> = Vec::new();
    let mut at = 0;
    let mut by = 0i64;
    while at < image.len() {
        let agreeing = agreement(image, picture, at, by);
        if agreeing > 0 && (by != 0 || agreeing >= SHORTEST || at + agreeing == image.len()) {
            push(&mut stretches, at, at + agreeing, by);
            at += agreeing;
            continue;
        }
        match best(image, picture, &places, at) {
            Some(better) => {
                by = better;
                // Bytes that showed nothing by themselves belong to it, too.
                let floor = stretches.last().map_or(0, |last| last.to as usize);
                at = begin(image, picture, (floor, at), by);
            }
            None => at += 1,
        }
    }
    stretches.retain(|stretch| stretch.by != 0);
    stretches
}

/// The first byte of a displaced stretch that is known to hold `at`, not before `floor`.
fn begin(image: &[u8], picture: &[u8], (floor, at): (usize, usize), by: i64) -> usize {
    let agrees = |at: &usize| {
        let from = usize::try_from(*at as i64 - by).ok();
        from.and_then(|from| picture.get(from)).is_some_and(|byte| *byte == image[*at])
    };
    at - (floor..at).rev().take_while(agrees).count()
}

fn push(stretches: &mut Vec<Displaced>, from: usize, to: usize, by: i64) {
    let (from, to) = (from as u32, to as u32);
    match stretches.last_mut() {
        // A few bytes that agree nowhere do not end a stretch.
        Some(last) if last.by == by && (from - last.to) < WINDOW as u32 => last.to = to,
        _ => stretches.push(Displaced { from, to, by }),
    }
}

/// Where each telling window of the picture stands.
fn places(picture: &[u8]) -> HashMap<&[u8], Vec<u32>> {
    let mut places: HashMap<&[u8], Vec<u32>> = HashMap::new();
    for (at, window) in picture.windows(WINDOW).enumerate() {
        if tells(window) {
            places.entry(window).or_default().push(at as u32);
        }
    }
    places
}

fn tells(window: &[u8]) -> bool {
    let mut seen = [false; 256];
    window.iter().filter(|byte| !std::mem::replace(&mut seen[usize::from(**byte)], true)).count() >= VARIETY
}

/// Bytes from `at` on that agree with the picture displaced by `by`.
fn agreement(image: &[u8], picture: &[u8], at: usize, by: i64) -> usize {
    let Ok(from) = usize::try_from(at as i64 - by) else { return 0 };
    let Some(rest) = picture.get(from..) else { return 0 };
    image[at..].iter().zip(rest).take_while(|(one, two)| one == two).count()
}

/// The displacement under which most bytes from `at` on agree; the least of equals.
fn best(image: &[u8], picture: &[u8], places: &HashMap<&[u8], Vec<u32>>, at: usize) -> Option<i64> {
    let window = image.get(at..at + WINDOW)?;
    let found = places.get(window)?.iter().map(|place| at as i64 - i64::from(*place));
    let long = found.filter_map(|by| {
        let agreeing = agreement(image, picture, at, by);
        (agreeing >= SHORTEST).then_some((agreeing, by))
    });
    long.max_by_key(|(agreeing, by)| (*agreeing, -by.abs())).map(|(_, by)| by)
}

/// Bytes of the image that are the picture's neither in place nor in a displaced stretch: how many, and the first.
fn strays(image: &[u8], picture: &[u8], stretches: &[Displaced]) -> Option<(usize, usize)> {
    let is_known =
        |at: usize| stretches.iter().any(|stretch| (stretch.from as usize..stretch.to as usize).contains(&at));
    let mut strays = (0..image.len()).filter(|at| picture.get(*at) != Some(&image[*at]) && !is_known(*at));
    let first = strays.next()?;
    Some((1 + strays.count(), first))
}

/// A hazard of an image by an address.
fn at_address(address: u32, pitch: i64, what: String, cure: &str) -> Hazard {
    Hazard {
        kind: HazardKind::LoaderOffset,
        frame: 0,
        line: address / pitch as u32,
        dot: 0,
        made: None,
        by: Maker::Unnamed,
        what,
        cure: cure.to_owned(),
    }
}

/// What an image lacks at its end, and what in it is no part of the picture.
fn missing_and_stray(image: &[u8], picture: &[u8], stretches: &[Displaced], pitch: i64) -> Vec<Hazard> {
    let end = picture.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
    let short = (image.len() < end).then(|| {
        let what = format!(
            "the image ends at address {:#06X}, the picture goes on to {:#06X}: {} bytes are missing",
            image.len(),
            end - 1,
            end - image.len()
        );
        at_address(image.len() as u32, pitch, what, "read to the end of the file, and on beyond each 64 KiB segment")
    });
    let stray = strays(image, picture, stretches).map(|(count, first)| {
        let what = format!("{count} bytes are the picture's nowhere, the first at address {first:#06X}");
        let edge = first & 0xFFFF < 16 && first > 0;
        let cure = if edge {
            "a 64 KiB segment ends there: go on at the next segment's beginning"
        } else {
            "read the file in whole, to where nothing else writes"
        };
        at_address(first as u32, pitch, what, cure)
    });
    short.into_iter().chain(stray).collect()
}

/// The same as hazards of frame 0, for a screen whose rows are `pitch` bytes; with what is missing at the image's end,
/// and what of it is no part of the picture.
#[must_use]
pub fn loader_hazards(image: &[u8], picture: &[u8], pitch: u32) -> Vec<Hazard> {
    let pitch = i64::from(pitch.max(1));
    let hazard = |stretch: Displaced| {
        let Displaced { from, to, by } = stretch;
        let rows = by / pitch;
        let where_to = match (by % pitch, rows) {
            (0, rows) => format!("{rows} rows"),
            (bytes, 0) => format!("{bytes} bytes"),
            (bytes, rows) => format!("{rows} rows and {bytes} bytes"),
        };
        Hazard {
            kind: HazardKind::LoaderOffset,
            frame: 0,
            line: from / pitch as u32,
            dot: 0,
            made: None,
            by: Maker::Unnamed,
            what: format!(
                "from address {from:#06X} to {:#06X} memory holds the picture {by:+} bytes away ({where_to})",
                to - 1
            ),
            cure: match by {
                1.. => {
                    format!("skip {by} bytes of the file (a header, or the end of the part before), or load {by} lower")
                }
                _ => format!("load this part {} bytes higher: bytes before it are missing", -by),
            },
        }
    };
    let stretches = displaced(image, picture);
    let others = missing_and_stray(image, picture, &stretches, pitch);
    stretches.into_iter().map(hazard).chain(others).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn noise(len: usize, seed: u32) -> Vec<u8> {
        (0..len as u32).map(|at| ((at ^ seed).wrapping_mul(2_654_435_761) >> 11) as u8).collect()
    }

    #[test]
    fn a_header_shifts_everything() {
        let picture = noise(64000, 0);
        let mut image = vec![0xFD, 0, 0xA0, 0, 0, 0xFA, 0];
        image.extend_from_slice(&picture[..63993]);
        assert_eq!(displaced(&image, &picture), [Displaced { from: 7, to: 64000, by: 7 }]);
        let hazards = loader_hazards(&image, &picture, 320);
        assert!(hazards[0].what.contains("+7 bytes"), "{}", hazards[0].what);
    }

    #[test]
    fn a_second_part_loaded_short_is_found() {
        let picture = noise(64000, 5);
        let mut image = picture.clone();
        image.copy_within(32768.., 32768 - 128);
        let found = displaced(&image, &picture);
        assert_eq!(found[0], Displaced { from: 32640, to: 63872, by: -128 });
    }

    /// What is not read to its end, and what something else wrote over, is reported by its address.
    #[test]
    fn missing_and_stray_bytes_are_told() {
        let picture = noise(64000, 3);
        let reported = |image: &[u8]| -> Vec<String> {
            loader_hazards(image, &picture, 320).into_iter().map(|hazard| hazard.what).collect()
        };
        assert_eq!(reported(&picture), Vec::<String>::new());
        assert_eq!(
            reported(&picture[..60000]),
            ["the image ends at address 0xEA60, the picture goes on to 0xF9FF: 4000 bytes are missing"]
        );
        let mut image = picture.clone();
        image[0x2000..0x2014].iter_mut().for_each(|byte| *byte = !*byte);
        assert_eq!(reported(&image), ["20 bytes are the picture's nowhere, the first at address 0x2000"]);
    }

    #[test]
    fn plain_areas_tell_nothing() {
        let mut picture = vec![3; 20000];
        picture[8000..12000].copy_from_slice(&noise(4000, 9));
        assert_eq!(displaced(&picture, &picture), []);
        assert_eq!(displaced(&vec![3; 20000], &picture), []);
    }

    proptest! {
        #[test]
        fn any_shift_is_found(cut in 0usize..6000, by in 1i64..700, seed: u32) {
            let picture = noise(8000, seed);
            let mut image = picture.clone();
            image.copy_within(cut..8000 - by as usize, cut + by as usize);
            let found = displaced(&image, &picture);
            prop_assert_eq!(found.len(), 1);
            prop_assert_eq!(found[0].by, by);
            // The bytes before the shift begins are those of the picture in place.
            prop_assert!(found[0].from as usize >= cut && found[0].from as usize <= cut + by as usize + SHORTEST);
            prop_assert_eq!(found[0].to, 8000);
        }

        #[test]
        fn any_image_is_judged(image: Vec<u8>, picture: Vec<u8>) {
            let _ = loader_hazards(&image, &picture, 0);
        }
    }
}
