//! Recordings: frames one after the other with the time each of them lasts, as APNG or GIF.
//!
//! ```text
//! frame, how long it lasts ─► Screen (size, aspect) ─► Caption (a strip below) ─► Recorder ─► bytes
//! ```
//!
//! A [`Recorder`] holds the frame before and nothing older: of each new frame only the rectangle that has
//! changed is encoded, and the bytes leave for the sink at once. Memory stays the same however long the
//! recording grows.
//!
//! **Time.** APNG gives each frame its time as a fraction, which comes within a millionth of a second of
//! any frame rate. GIF counts hundredths of a second, and viewers do not take less than two of them at
//! their word. The rounding is therefore spread: every frame ends as near to its true end as hundredths
//! allow, so errors never add up; and a frame for which fewer than two hundredths would be left gives its
//! time to those that follow. [`Told::shown`] says how many frames were left. To see every frame of a 70 Hz
//! board in a GIF, record it slowed; APNG has them all.
//!
//! **Colour.** APNG is exact. GIF has 256 colours a frame: where there are more, the rarest give way to
//! those that look most like them, and [`Told::colours_lost`] says so.

use std::io::{self, Write};
use std::time::Duration;

use image::RgbImage;
use thiserror::Error;

mod apng;
mod caption;
mod change;
mod clock;
mod gif;
mod screen;
mod tally;

pub use apng::ApngRecorder;
pub use caption::Caption;
pub use gif::GifRecorder;
pub use screen::ScreenShape;

/// What goes in front of a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opening {
    /// Pixels across; every frame has as many.
    pub width: u32,
    /// Pixels down; every frame has as many.
    pub height: u32,
    /// Frames to come, at least one. APNG has to know before the first.
    pub frames: u32,
    /// Whether a viewer begins again after the last frame.
    pub again: bool,
}

/// What a recording turned out to be.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RecordingSummary {
    /// Frames that were recorded.
    pub frames: u32,
    /// Frames a viewer shows; in a GIF there may be fewer.
    pub shown: u32,
    /// Time from the first frame to the end of the last, as the file has it.
    pub lasts: Duration,
    /// Colours of a frame that the form had no room for, at most.
    pub colours_lost: u32,
}

/// Why a recording cannot go on.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The form cannot hold frames of that size.
    #[error("frames of {width} x {height} pixels, allowed are 1 x 1 to {most} x {most}")]
    Size {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Most pixels a side.
        most: u32,
    },
    /// A frame is not of the size that was announced.
    #[error("a frame of {found_width} x {found_height} pixels in a recording of {width} x {height}")]
    OtherSize {
        /// Pixels across of the frame.
        found_width: u32,
        /// Pixels down of the frame.
        found_height: u32,
        /// Pixels across of the recording.
        width: u32,
        /// Pixels down of the recording.
        height: u32,
    },
    /// Not as many frames as were announced.
    #[error("{found} frames in a recording of {announced}")]
    Frames {
        /// Frames that came.
        found: u32,
        /// Frames that were announced.
        announced: u32,
    },
    /// A frame lasts longer than the form can say.
    #[error("a frame that lasts {found:?}, allowed is up to {most:?}")]
    TooLong {
        /// How long it lasts.
        found: Duration,
        /// How long it may.
        most: Duration,
    },
    /// The sink took no more bytes.
    #[error("cannot write the recording: {0}")]
    Sink(#[from] io::Error),
    /// The encoder refused.
    #[error("cannot encode the recording: {0}")]
    Encode(String),
}

/// Frames in, bytes out.
#[derive(Debug)]
pub enum Recorder<W: Write> {
    /// All colours, true time.
    Apng(ApngRecorder<W>),
    /// 256 colours a frame, time in hundredths of a second.
    Gif(GifRecorder<W>),
}

impl<W: Write> Recorder<W> {
    /// Adds a frame.
    ///
    /// # Errors
    /// [`RecordError`], after which the recording is of no use.
    pub fn show(&mut self, frame: RgbImage, lasts: Duration) -> Result<(), RecordError> {
        match self {
            Self::Apng(recorder) => recorder.show(frame, lasts),
            Self::Gif(recorder) => recorder.show(frame, lasts),
        }
    }

    /// Ends the recording.
    ///
    /// # Errors
    /// [`RecordError`] where frames are missing or the sink takes no more.
    pub fn finish(self) -> Result<RecordingSummary, RecordError> {
        match self {
            Self::Apng(recorder) => recorder.finish(),
            Self::Gif(recorder) => recorder.finish(),
        }
    }
}

impl Opening {
    /// Checks that the form can hold the size.
    fn check(&self, most: u32) -> Result<(), RecordError> {
        let fits = |side: u32| (1..=most).contains(&side);
        if fits(self.width) && fits(self.height) {
            Ok(())
        } else {
            Err(RecordError::Size { width: self.width, height: self.height, most })
        }
    }

    /// Checks that the frame has the size.
    fn check_frame(&self, frame: &RgbImage) -> Result<(), RecordError> {
        let (found_width, found_height) = frame.dimensions();
        let Self { width, height, .. } = *self;
        if (found_width, found_height) == (width, height) {
            Ok(())
        } else {
            Err(RecordError::OtherSize { found_width, found_height, width, height })
        }
    }
}
