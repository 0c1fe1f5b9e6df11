//! GIF: 256 colours a frame, time in hundredths of a second.

use std::fmt;
use std::io::Write;
use std::time::Duration;

use backporch_input::MAKER;
use gif::{AnyExtension, DisposalMethod, Encoder, EncodingError, Extension, Frame, Repeat};
use image::RgbImage;

use super::change::ChangedRectangle;
use super::clock::Hundredths;
use super::tally::{IndexedFrame, reduce};
use super::{Opening, RecordError, RecordingSummary};

/// Most pixels a side (GIF89a: 16 bits).
const MOST: u32 = u16::MAX as u32;

/// Hundredths below which viewers take their own time for a frame (common practice: below two).
const LEAST: u64 = 2;

/// Writes a GIF.
pub struct GifRecorder<W: Write> {
    encoder: Encoder<W>,
    opening: Opening,
    clock: Hundredths,
    /// What a viewer would have on its screen.
    before: Option<RgbImage>,
    /// The newest frame that is shown, which may be given more time before it is written.
    pending: Option<Frame<'static>>,
    /// The newest frame of a recording that has shown none yet.
    only: Option<RgbImage>,
    summary: RecordingSummary,
}

impl<W: Write> fmt::Debug for GifRecorder<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("GifRecorder")
            .field("opening", &self.opening)
            .field("told", &self.summary)
            .finish_non_exhaustive()
    }
}

impl<W: Write> GifRecorder<W> {
    /// Begins a recording.
    ///
    /// # Errors
    /// [`RecordError`] for a size GIF does not have, or a sink that takes nothing.
    pub fn new(sink: W, opening: Opening) -> Result<Self, RecordError> {
        opening.check(MOST)?;
        let mut encoder = Encoder::new(sink, opening.width as u16, opening.height as u16, &[]).map_err(encode)?;
        if opening.again {
            encoder.set_repeat(Repeat::Infinite).map_err(encode)?;
        }
        encoder.write_raw_extension(AnyExtension(Extension::Comment as u8), &[MAKER.as_bytes()]).map_err(encode)?;
        Ok(Self {
            encoder,
            opening,
            clock: Hundredths::default(),
            before: None,
            pending: None,
            only: None,
            summary: RecordingSummary::default(),
        })
    }

    /// Adds a frame.
    ///
    /// # Errors
    /// [`RecordError`] for a frame of another size or one that lasts longer than 655.35 seconds.
    pub fn show(&mut self, frame: RgbImage, lasts: Duration) -> Result<(), RecordError> {
        self.opening.check_frame(&frame)?;
        self.summary.frames += 1;
        self.clock.pass(lasts);
        let left = self.clock.left();
        if left < LEAST {
            self.only = self.pending.is_none().then_some(frame);
            return Ok(());
        }
        // Time that frames left out were too short to take is handed on bit by bit, not given to one at once.
        let own = u64::try_from(lasts.as_nanos().div_ceil(10_000_000)).unwrap_or(u64::MAX);
        self.take(frame, left.min(own.max(LEAST)))
    }

    /// Shows a frame for this many hundredths.
    fn take(&mut self, frame: RgbImage, hundredths: u64) -> Result<(), RecordError> {
        let delay = hundredths_of(hundredths)?;
        if let Some(pending) = self.pending.take() {
            self.encoder.write_frame(&pending).map_err(encode)?;
        }
        let part = ChangedRectangle::changed(self.before.as_ref(), &frame);
        let IndexedFrame { indices, palette, lost } = reduce(&part.of(&frame));
        self.clock.give(hundredths);
        self.summary.shown += 1;
        self.summary.colours_lost = self.summary.colours_lost.max(lost);
        self.before = Some(frame);
        // The size was checked to fit 16 bits.
        let [left, top, width, height] = [part.x, part.y, part.width, part.height].map(|side| side as u16);
        self.pending = Some(Frame {
            delay,
            dispose: DisposalMethod::Keep,
            left,
            top,
            width,
            height,
            palette: Some(palette.into_flattened()),
            buffer: indices.into(),
            ..Frame::default()
        });
        Ok(())
    }

    /// Ends the recording.
    ///
    /// # Errors
    /// [`RecordError`] where no frame came or the sink takes no more.
    pub fn finish(mut self) -> Result<RecordingSummary, RecordError> {
        if let Some(frame) = self.only.take() {
            // One blink of an eye: as short as a viewer shows anything.
            let hundredths = self.clock.left().max(LEAST);
            self.take(frame, hundredths)?;
        }
        let Some(mut pending) = self.pending.take() else {
            return Err(RecordError::Frames { found: 0, announced: self.opening.frames });
        };
        let left = self.clock.left();
        pending.delay = hundredths_of(u64::from(pending.delay) + left)?;
        self.clock.give(left);
        self.encoder.write_frame(&pending).map_err(encode)?;
        self.summary.lasts = self.clock.given();
        self.encoder.into_inner().map_err(encode)?.flush()?;
        Ok(self.summary)
    }
}

/// As many hundredths as GIF can say.
fn hundredths_of(hundredths: u64) -> Result<u16, RecordError> {
    let duration = |hundredths: u64| Duration::from_millis(hundredths.saturating_mul(10));
    u16::try_from(hundredths)
        .map_err(|_| RecordError::TooLong { found: duration(hundredths), most: duration(u16::MAX.into()) })
}

/// What the encoder says; a sink that failed stays what it is.
fn encode(error: EncodingError) -> RecordError {
    match error {
        EncodingError::Io(error) => RecordError::Sink(error),
        other => RecordError::Encode(other.to_string()),
    }
}
