//! APNG: true colours, true time.

use std::fmt;
use std::io::Write;
use std::time::Duration;

use backporch_input::MAKER;
use image::RgbImage;
use png::{BitDepth, BlendOp, ColorType, DeflateCompression, DisposeOp, EncodingError, Filter};

use super::change::ChangedRectangle;
use super::clock::fraction;
use super::{Opening, RecordError, RecordingSummary};

/// Most pixels a side (PNG specification: a positive 31-bit number).
const MOST: u32 = i32::MAX as u32;

/// Writes an APNG.
pub struct ApngRecorder<W: Write> {
    writer: png::Writer<W>,
    opening: Opening,
    before: Option<RgbImage>,
    summary: RecordingSummary,
}

impl<W: Write> fmt::Debug for ApngRecorder<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("ApngRecorder")
            .field("opening", &self.opening)
            .field("told", &self.summary)
            .finish_non_exhaustive()
    }
}

impl<W: Write> ApngRecorder<W> {
    /// Begins a recording.
    ///
    /// # Errors
    /// [`RecordError`] for a size or number of frames APNG does not have, or a sink that takes nothing.
    pub fn new(sink: W, opening: Opening) -> Result<Self, RecordError> {
        opening.check(MOST)?;
        let mut encoder = png::Encoder::new(sink, opening.width, opening.height);
        encoder.set_color(ColorType::Rgb);
        encoder.set_depth(BitDepth::Eight);
        // Enlarged rows repeat the one above: that filter turns them into nothing, and the fastest
        // level then packs as well as the slow ones do.
        encoder.set_filter(Filter::Up);
        encoder.set_deflate_compression(DeflateCompression::Level(1));
        encoder.set_animated(opening.frames, u32::from(!opening.again)).map_err(encode)?;
        encoder.set_dispose_op(DisposeOp::None).map_err(encode)?;
        encoder.set_blend_op(BlendOp::Source).map_err(encode)?;
        encoder.validate_sequence(true);
        encoder.add_text_chunk("Software".to_string(), MAKER.to_string()).map_err(encode)?;
        let writer = encoder.write_header().map_err(encode)?;
        Ok(Self { writer, opening, before: None, summary: RecordingSummary::default() })
    }

    /// Adds a frame.
    ///
    /// # Errors
    /// [`RecordError`] for a frame of another size, one too many, or one that lasts longer than 65,534 seconds.
    pub fn show(&mut self, frame: RgbImage, lasts: Duration) -> Result<(), RecordError> {
        self.opening.check_frame(&frame)?;
        if self.summary.frames == self.opening.frames {
            return Err(RecordError::Frames { found: self.summary.frames + 1, announced: self.opening.frames });
        }
        let (over, under) = fraction(lasts)?;
        let part = ChangedRectangle::changed(self.before.as_ref(), &frame);
        self.place(part, over, under).map_err(encode)?;
        if (part.width, part.height) == frame.dimensions() {
            self.writer.write_image_data(frame.as_raw())
        } else {
            self.writer.write_image_data(part.of(&frame).as_raw())
        }
        .map_err(encode)?;
        self.before = Some(frame);
        self.summary.frames += 1;
        self.summary.shown += 1;
        self.summary.lasts += Duration::from_secs_f64(f64::from(over) / f64::from(under));
        Ok(())
    }

    fn place(&mut self, part: ChangedRectangle, over: u16, under: u16) -> Result<(), EncodingError> {
        // The first may be anywhere only after the part has shrunk, the second only before it grows.
        self.writer.reset_frame_position()?;
        self.writer.set_frame_dimension(part.width, part.height)?;
        self.writer.set_frame_position(part.x, part.y)?;
        self.writer.set_frame_delay(over, under)
    }

    /// Ends the recording.
    ///
    /// # Errors
    /// [`RecordError`] where frames are missing or the sink takes no more.
    pub fn finish(self) -> Result<RecordingSummary, RecordError> {
        if self.summary.frames != self.opening.frames {
            return Err(RecordError::Frames { found: self.summary.frames, announced: self.opening.frames });
        }
        self.writer.finish().map_err(encode)?;
        Ok(self.summary)
    }
}

/// What the encoder says; a sink that failed stays what it is.
fn encode(error: EncodingError) -> RecordError {
    match error {
        EncodingError::IoError(error) => RecordError::Sink(error),
        other => RecordError::Encode(other.to_string()),
    }
}
