//! Recordings read back: every frame, every colour and the time of each, by decoders that are not ours.
//!
//! APNG is read by the `png` library frame by frame and laid out as its specification says; GIF by the decoder of
//! the `image` library, which composes frames itself.

use std::io::Cursor;
use std::time::Duration;

use backporch_picture::record::{ApngRecorder, GifRecorder, Opening, RecordError, Recorder, RecordingSummary};
use image::codecs::gif::GifDecoder;
use image::codecs::png::PngDecoder;
use image::{AnimationDecoder, Rgb, RgbImage};
use proptest::prelude::*;

const WIDTH: u32 = 24;
const HEIGHT: u32 = 10;

/// A frame whose changed part moves about.
fn frame(number: u32) -> RgbImage {
    RgbImage::from_fn(WIDTH, HEIGHT, |x, y| match (x / 3 + y / 2 + number) % 5 {
        0 => Rgb([(number * 7) as u8, 40, 90]),
        _ if y == number % HEIGHT => Rgb([200, 200, (x * 8) as u8]),
        _ => Rgb([10, 20, 30]),
    })
}

fn opening(frames: usize) -> Opening {
    Opening { width: WIDTH, height: HEIGHT, frames: frames as u32, again: true }
}

fn record(
    mut recorder: Recorder<&mut Vec<u8>>,
    frames: &[(RgbImage, Duration)],
) -> Result<RecordingSummary, RecordError> {
    for (frame, lasts) in frames {
        recorder.show(frame.clone(), *lasts)?;
    }
    recorder.finish()
}

fn apng(frames: &[(RgbImage, Duration)]) -> (Vec<u8>, RecordingSummary) {
    let mut bytes = Vec::new();
    let recorder = ApngRecorder::new(&mut bytes, opening(frames.len())).expect("begins");
    let summary = record(Recorder::Apng(recorder), frames).expect("records");
    (bytes, summary)
}

fn gif(frames: &[(RgbImage, Duration)]) -> (Vec<u8>, RecordingSummary) {
    let mut bytes = Vec::new();
    let recorder = GifRecorder::new(&mut bytes, opening(frames.len())).expect("begins");
    let summary = record(Recorder::Gif(recorder), frames).expect("records");
    (bytes, summary)
}

/// Frames and their time as the `image` library reads them.
fn read<'a>(decoder: impl AnimationDecoder<'a>) -> Vec<(RgbImage, Duration)> {
    let frames = decoder.into_frames().collect_frames().expect("readable");
    frames
        .into_iter()
        .map(|frame| {
            let lasts = Duration::from(frame.delay());
            (image::DynamicImage::ImageRgba8(frame.into_buffer()).into_rgb8(), lasts)
        })
        .collect()
}

fn read_gif(bytes: &[u8]) -> Vec<(RgbImage, Duration)> {
    read(GifDecoder::new(Cursor::new(bytes)).expect("a GIF"))
}

fn read_apng(bytes: &[u8]) -> Vec<(RgbImage, Duration)> {
    read(PngDecoder::new(Cursor::new(bytes)).and_then(PngDecoder::apng).expect("an APNG"))
}

fn total(frames: &[(RgbImage, Duration)]) -> Duration {
    frames.iter().map(|(_, lasts)| *lasts).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn an_apng_has_every_frame(numbers in prop::collection::vec(0u32..40, 1..12), micros in 2_000u64..900_000) {
        let frames: Vec<_> = numbers.iter().map(|at| (frame(*at), Duration::from_micros(micros))).collect();
        let (bytes, summary) = apng(&frames);
        let back = read_apng(&bytes);
        prop_assert_eq!(back.len(), frames.len());
        prop_assert_eq!(summary.shown as usize, frames.len());
        for ((image, lasts), (found, shown)) in frames.iter().zip(&back) {
            prop_assert!(image == found);
            // The `image` library counts in thousandths.
            prop_assert!(lasts.abs_diff(*shown) <= Duration::from_millis(1), "{lasts:?} {shown:?}");
        }
        prop_assert!(summary.lasts.abs_diff(total(&frames)) < Duration::from_micros(10));
    }

    #[test]
    fn a_slow_gif_has_every_frame_and_the_right_total(
        frames in prop::collection::vec((0u32..40, 20u64..400), 1..12),
    ) {
        let frames: Vec<_> = frames.into_iter().map(|(at, lasts)| (frame(at), Duration::from_millis(lasts))).collect();
        let (bytes, summary) = gif(&frames);
        let back = read_gif(&bytes);
        prop_assert_eq!(summary.frames as usize, frames.len());
        prop_assert_eq!(summary.shown as usize, back.len());
        prop_assert_eq!(summary.lasts, total(&back));
        prop_assert!(total(&back).abs_diff(total(&frames)) <= Duration::from_millis(15));
        if back.len() == frames.len() {
            for ((image, lasts), (found, shown)) in frames.iter().zip(&back) {
                prop_assert!(image == found);
                prop_assert!(lasts.abs_diff(*shown) <= Duration::from_millis(10), "{lasts:?} {shown:?}");
            }
        }
    }
}

/// 25.175 MHz over 800 dots and 449 lines (dot clock of *VESA Display Monitor Timing*): 70.09 frames a second.
fn seventy(frames: u32) -> Vec<(RgbImage, Duration)> {
    let lasts = Duration::from_secs_f64(800.0 * 449.0 / 25.175e6);
    (0..frames).map(|at| (frame(at), lasts)).collect()
}

#[test]
fn a_gif_at_seventy_frames_a_second_keeps_time_by_leaving_frames_out() {
    let frames = seventy(700);
    let (bytes, summary) = gif(&frames);
    let back = read_gif(&bytes);
    assert_eq!((summary.frames, summary.shown), (700, back.len() as u32));
    // Fifty a second is the most a viewer shows.
    assert!((495..=500).contains(&summary.shown), "{}", summary.shown);
    assert!(back.iter().all(|(_, lasts)| *lasts >= Duration::from_millis(20)), "shorter than viewers take");
    assert!(total(&back).abs_diff(total(&frames)) <= Duration::from_millis(5));
    // What is shown is what was there, in order.
    let mut rest = frames.iter();
    assert!(back.iter().all(|(shown, _)| rest.any(|(frame, _)| frame == shown)));
}

#[test]
fn slowed_by_two_a_gif_shows_all_seventy() {
    let frames: Vec<_> = seventy(210).into_iter().map(|(frame, lasts)| (frame, lasts * 2)).collect();
    let (bytes, summary) = gif(&frames);
    assert_eq!(summary.shown, 210);
    assert!(total(&read_gif(&bytes)).abs_diff(total(&frames)) <= Duration::from_millis(5));
}

#[test]
fn one_short_frame_is_still_a_gif() {
    let (bytes, summary) = gif(&seventy(1));
    assert_eq!((summary.shown, summary.lasts), (1, Duration::from_millis(20)));
    assert!(read_gif(&bytes)[0].0 == frame(0));
}

#[test]
fn colours_beyond_256_are_told_of() {
    let many = RgbImage::from_fn(WIDTH, HEIGHT * 2, |x, y| Rgb([x as u8 * 10, y as u8 * 10, 0]));
    let mut bytes = Vec::new();
    let opening = Opening { height: HEIGHT * 2, ..opening(1) };
    let mut recorder = GifRecorder::new(&mut bytes, opening).expect("begins");
    recorder.show(many, Duration::from_millis(100)).expect("shows");
    assert_eq!(recorder.finish().expect("ends").colours_lost, WIDTH * HEIGHT * 2 - 256);
}

#[test]
fn what_cannot_be_recorded_is_refused() {
    let wide = Opening { width: 70_000, ..opening(1) };
    let message = |result: Result<GifRecorder<Vec<u8>>, RecordError>| result.expect_err("refused").to_string();
    assert_eq!(
        message(GifRecorder::new(Vec::new(), wide)),
        "frames of 70000 x 10 pixels, allowed are 1 x 1 to 65535 x 65535"
    );
    let mut recorder = GifRecorder::new(Vec::new(), opening(1)).expect("begins");
    assert!(matches!(
        recorder.show(RgbImage::new(3, 3), Duration::from_millis(20)),
        Err(RecordError::OtherSize { found_width: 3, width: WIDTH, .. })
    ));
    assert!(matches!(recorder.show(frame(0), Duration::from_secs(700)), Err(RecordError::TooLong { .. })));
    let mut recorder = ApngRecorder::new(Vec::new(), opening(2)).expect("begins");
    recorder.show(frame(0), Duration::from_millis(20)).expect("shows");
    assert!(matches!(recorder.finish(), Err(RecordError::Frames { found: 1, announced: 2 })));
    assert!(ApngRecorder::new(Vec::new(), opening(0)).is_err());
    let empty = GifRecorder::new(Vec::new(), opening(1)).expect("begins");
    assert!(matches!(empty.finish(), Err(RecordError::Frames { found: 0, .. })));
}

/// A sink that is full after some bytes.
#[derive(Debug)]
struct Full(usize);

impl std::io::Write for Full {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let room = self.0.min(bytes.len());
        self.0 -= room;
        if room == 0 { Err(std::io::ErrorKind::StorageFull.into()) } else { Ok(room) }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_full_disk_is_an_error_of_the_sink() {
    let run = |recorder: Result<Recorder<Full>, RecordError>| -> Result<RecordingSummary, RecordError> {
        let mut recorder = recorder?;
        for at in 0..4 {
            recorder.show(frame(at), Duration::from_millis(40))?;
        }
        recorder.finish()
    };
    for room in [0, 20, 100, 300] {
        let apng = ApngRecorder::new(Full(room), opening(4)).map(Recorder::Apng);
        let gif = GifRecorder::new(Full(room), opening(4)).map(Recorder::Gif);
        assert!(matches!(run(apng), Err(RecordError::Sink(_))), "APNG after {room} bytes");
        assert!(matches!(run(gif), Err(RecordError::Sink(_))), "GIF after {room} bytes");
    }
}
