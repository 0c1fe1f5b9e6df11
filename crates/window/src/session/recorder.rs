//! Recording: the frames shown, written as one animated PNG.

use std::io::Cursor;
use std::sync::Arc;

use backporch_input::InputError;
use png::{BitDepth, ColorType, Compression, Decoder, DecodingError, Encoder, EncodingError};

use super::canvas::Canvas;

/// Most frames of a recording: ten seconds at 70 Hz.
const MOST_FRAMES: usize = 700;

/// Frames recorded so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct FrameRecorder {
    size: (u32, u32),
    /// Each a PNG of its own: as they are painted, they would take a megabyte each. One that is the same again is kept once.
    frames: Vec<Arc<[u8]>>,
    /// The number of the newest one, and its pixels.
    last: Option<(u64, Canvas)>,
}

impl FrameRecorder {
    /// Number of frames.
    pub fn len(&self) -> usize {
        self.frames.len()
    }

    /// Takes a frame on, unless it is the last one again or of another size.
    pub fn take(&mut self, frame: u64, canvas: Canvas) {
        let size = (canvas.width, canvas.height);
        let is_new = self.last.as_ref().is_none_or(|(last, _)| *last != frame);
        if !is_new || !self.frames.is_empty() && self.size != size || self.frames.len() >= MOST_FRAMES {
            return;
        }
        let same = self.last.as_ref().filter(|(_, last)| *last == canvas).and_then(|_| self.frames.last().cloned());
        let Some(packed) = same.or_else(|| packed(&canvas).ok().map(Arc::from)) else { return };
        self.size = size;
        self.frames.push(packed);
        self.last = Some((frame, canvas));
    }

    /// The frames as an animated PNG at the board's own rate.
    ///
    /// # Errors
    /// Where nothing was recorded.
    pub fn apng(&self, rate_hz: f64) -> Result<Vec<u8>, InputError> {
        if self.frames.is_empty() {
            return Err(InputError::new("recording", "no frame", "at least one frame; let it run"));
        }
        let mut bytes = Vec::new();
        self.encode(rate_hz, &mut bytes)
            .map_err(|error| InputError::new("recording", error, "frames that a PNG can hold"))?;
        Ok(bytes)
    }

    fn encode(&self, rate_hz: f64, bytes: &mut Vec<u8>) -> Result<(), EncodingError> {
        let mut encoder = rgb_encoder(bytes, self.size);
        encoder.set_animated(self.frames.len() as u32, 0)?;
        // Delays are fractions of a second of 16-bit parts: 70.09 Hz as 100 / 7009.
        encoder.set_frame_delay(100, (rate_hz * 100.0).clamp(1.0, 65535.0) as u16)?;
        let mut writer = encoder.write_header()?;
        let mut rgb = vec![0; self.size.0 as usize * self.size.1 as usize * 3];
        for frame in &self.frames {
            unpack(frame, &mut rgb).map_err(std::io::Error::other)?;
            writer.write_image_data(&rgb)?;
        }
        writer.finish()
    }
}

fn rgb_encoder(bytes: &mut Vec<u8>, (width, height): (u32, u32)) -> Encoder<'_, &mut Vec<u8>> {
    let mut encoder = Encoder::new(bytes, width, height);
    encoder.set_color(ColorType::Rgb);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Fast);
    encoder
}

fn rgb(canvas: &Canvas) -> Vec<u8> {
    canvas.rgba.iter().flat_map(|[red, green, blue, _]| [*red, *green, *blue]).collect()
}

/// A frame as a PNG.
fn packed(canvas: &Canvas) -> Result<Vec<u8>, EncodingError> {
    let mut bytes = Vec::new();
    let mut writer = rgb_encoder(&mut bytes, (canvas.width, canvas.height)).write_header()?;
    writer.write_image_data(&rgb(canvas))?;
    writer.finish()?;
    Ok(bytes)
}

/// The pixels of a PNG that was packed here.
fn unpack(packed: &[u8], rgb: &mut [u8]) -> Result<(), DecodingError> {
    Decoder::new(Cursor::new(packed)).read_info()?.next_frame(rgb).map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn canvas(seed: u8) -> Canvas {
        let rgba = (0..64 * 40).map(|at: u32| [seed, (at % 64) as u8, (at / 64) as u8, 255]).collect();
        Canvas { width: 64, height: 40, rgba, ..Canvas::default() }
    }

    #[test]
    fn what_was_recorded_is_written_and_a_still_picture_kept_once() {
        let mut recorder = FrameRecorder::default();
        assert!(recorder.apng(70.0).is_err());
        for (frame, seed) in [(5, 1), (6, 1), (6, 9), (7, 2), (8, 1)] {
            recorder.take(frame, canvas(seed));
        }
        recorder.take(9, Canvas { width: 32, ..canvas(3) });
        assert_eq!(recorder.len(), 4);
        assert!(Arc::ptr_eq(&recorder.frames[0], &recorder.frames[1]));
        let bytes = recorder.apng(70.0).unwrap();
        let mut reader = Decoder::new(Cursor::new(bytes)).read_info().unwrap();
        let mut read = vec![0; 64 * 40 * 3];
        for seed in [1, 1, 2, 1] {
            reader.next_frame(&mut read).unwrap();
            assert!(read == rgb(&canvas(seed)), "{seed}");
        }
    }
}
