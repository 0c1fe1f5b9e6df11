//! Recording: the frames shown, written as one animated PNG.

use backporch_input::InputError;
use png::{BitDepth, ColorType, Compression, EncodingError};

use super::canvas::Canvas;

/// Most frames of a recording: ten seconds at 70 Hz.
const MOST_FRAMES: usize = 700;

/// Frames recorded so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct FrameRecorder {
    frames: Vec<Canvas>,
    last: Option<u64>,
}

impl FrameRecorder {
    /// Number of frames.
    pub fn len(&self) -> usize {
        self.frames.len()
    }

    /// Takes a frame on, unless it is the last one again or of another size.
    pub fn take(&mut self, frame: u64, canvas: Canvas) {
        let fits = self.frames.first().is_none_or(|first| (first.width, first.height) == (canvas.width, canvas.height));
        if self.last != Some(frame) && fits && self.frames.len() < MOST_FRAMES {
            self.last = Some(frame);
            self.frames.push(canvas);
        }
    }

    /// The frames as an animated PNG at the board's own rate.
    ///
    /// # Errors
    /// Where nothing was recorded.
    pub fn apng(&self, rate_hz: f64) -> Result<Vec<u8>, InputError> {
        let nothing = || InputError::new("recording", "no frame", "at least one frame; let it run");
        let first = self.frames.first().ok_or_else(nothing)?;
        let mut bytes = Vec::new();
        let written = self.encode(first, rate_hz, &mut bytes);
        written.map_err(|error| InputError::new("recording", error, "frames that a PNG can hold"))?;
        Ok(bytes)
    }

    fn encode(&self, first: &Canvas, rate_hz: f64, bytes: &mut Vec<u8>) -> Result<(), EncodingError> {
        let mut encoder = png::Encoder::new(bytes, first.width, first.height);
        encoder.set_color(ColorType::Rgb);
        encoder.set_depth(BitDepth::Eight);
        encoder.set_compression(Compression::Fast);
        encoder.set_animated(self.frames.len() as u32, 0)?;
        // Delays are fractions of a second of 16-bit parts: 70.09 Hz as 100 / 7009.
        encoder.set_frame_delay(100, (rate_hz * 100.0).clamp(1.0, 65535.0) as u16)?;
        let mut writer = encoder.write_header()?;
        for frame in &self.frames {
            let rgb: Vec<u8> = frame.rgba.iter().flat_map(|[red, green, blue, _]| [*red, *green, *blue]).collect();
            writer.write_image_data(&rgb)?;
        }
        writer.finish()
    }
}
