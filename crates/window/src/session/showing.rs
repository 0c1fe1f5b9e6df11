//! What is seen of the boards: canvas, signal, memory map, and the inspected.

use backporch_adapter::{Rgba, Serialise};
use backporch_raster::{Beam, Plain, QuietFrame, View};
use backporch_signal::{Judgement, Signal};

use super::canvas::{SeenBoards, ShownFrames};
use super::pixel_inspector::{self, PixelRun, shown_at};
use super::register_sweep::RegisterSweep;
use super::thumbnails::Scene;
use super::{BoardSide, Canvas, MapRows, MemoryPicture, Session};

/// The signal as it is now, and what the bench's monitor makes of it.
#[derive(Clone, Debug, PartialEq)]
pub enum SignalView {
    /// A signal a monitor could lock to.
    Stable {
        /// Rates and porches.
        signal: Signal,
        /// The monitor's name and readings, where the bench has one.
        judged: Option<(String, Judgement)>,
    },
    /// No stable signal, and why.
    Unstable(String),
}

impl SignalView {
    /// Whether a monitor refuses it: then the caution has to be read.
    #[must_use]
    pub fn is_refused(&self) -> bool {
        match self {
            Self::Stable { judged, .. } => judged.as_ref().is_some_and(|(_, judged)| !judged.accepts()),
            Self::Unstable(_) => true,
        }
    }
}

impl Session {
    /// The pixels to show; `other` tells which board a blink is at.
    #[must_use]
    pub fn canvas(&self, other: bool) -> Canvas {
        let boards = self.transport.boards();
        let inside = !self.transport.is_running() && self.transport.is_mid_frame();
        let [plain, built, faulty] = [BoardSide::Plain, BoardSide::Built, BoardSide::Faulty]
            .map(|side| inside.then(|| boards.frame_under_way(side)));
        let seen = |side, under_way| ShownFrames { whole: boards.frame_of(side), under_way };
        let seen = SeenBoards {
            plain: seen(BoardSide::Plain, plain.as_ref()),
            built: seen(BoardSide::Built, built.as_ref()),
            faulty: seen(BoardSide::Faulty, faulty.as_ref()),
            photograph: self.photograph.pictures(),
        };
        Canvas::draw(self.inspection.board_view(), self.inspection.view(), seen, other)
    }

    /// Where the beam stands on a tile of the canvas, where it stands on it at all.
    #[must_use]
    pub fn beam_on_tile(&self) -> Option<(u32, u32)> {
        let beam: Beam = self.transport.beam();
        match self.inspection.view() {
            View::Raster => Some((beam.line_dot, beam.scan_line)),
            View::Picture => {
                let newest = self.transport.frame(BoardSide::Faulty);
                let line = newest.lines.get(beam.scan_line as usize)?.fetch?;
                let (width, _) = newest.picture_size();
                let x = beam.line_dot / pixel_inspector::narrowest(newest);
                (x <= width).then_some((x, line.picture_line))
            }
        }
    }

    /// Frames a second under the registers as they are; 60 where there is no stable signal.
    #[must_use]
    pub fn frame_rate_hz(&self) -> f64 {
        let signal = self.setup.bench.adapter().signal(self.transport.faulty_registers());
        signal.map_or(60.0, |signal| signal.frame_rate_hz())
    }

    /// Width of a canvas pixel over its height, on a tube of 4 : 3 that the mode's
    /// start-up picture fills (common practice).
    #[must_use]
    pub fn pixel_aspect(&self) -> f64 {
        let adapter = self.setup.bench.adapter();
        let Ok(signal) = adapter.signal(&adapter.start_up(self.setup.bench.mode())) else {
            return 1.0;
        };
        let (dots, lines) = (f64::from(signal.horizontal.active()), f64::from(signal.vertical.active()));
        let dot = 4.0 / 3.0 * lines / dots;
        match self.inspection.view() {
            View::Raster => dot,
            View::Picture => {
                let frame = self.transport.frame(BoardSide::Faulty);
                let shown = frame.lines.iter().filter(|line| line.fetch.is_some()).count() as u32;
                let (_, rows) = frame.picture_size();
                let repeats = (shown / rows.max(1)).max(1);
                dot * f64::from(pixel_inspector::narrowest(frame)) / f64::from(repeats)
            }
        }
    }

    /// The signal under the registers as they are.
    #[must_use]
    pub fn signal(&self) -> SignalView {
        match self.setup.bench.adapter().signal(self.transport.faulty_registers()) {
            Ok(signal) => {
                let judge = |monitor: &backporch_signal::Monitor| (monitor.name.clone(), monitor.judge(&signal));
                SignalView::Stable { signal, judged: self.setup.bench.monitor().map(judge) }
            }
            Err(error) => SignalView::Unstable(error.to_string()),
        }
    }

    /// Video memory as a picture, in the colours and rows of the registers as they are.
    #[must_use]
    pub fn memory_map(&self) -> MemoryPicture {
        let (adapter, registers) = (self.setup.bench.adapter(), self.transport.faulty_registers());
        MemoryPicture::draw(adapter, registers, self.transport.memory(), self.map_row_bytes())
    }

    /// Bytes a row of the memory map has: the pitch under the registers as they are, or 256.
    #[must_use]
    pub fn map_row_bytes(&self) -> u32 {
        let quiet = QuietFrame::new(self.setup.bench.adapter(), self.transport.faulty_registers(), &Plain);
        let pitch = if quiet.picture_lines() > 0 { quiet.line(0, quiet.start(), 0).pitch } else { 0 };
        match (self.inspection.map_rows(), pitch) {
            (MapRows::Pitch, 1..) => pitch,
            _ => 256,
        }
    }

    /// The colour of every value that a pixel may have under the registers as they are.
    #[must_use]
    pub fn palette(&self) -> Vec<Rgba> {
        let (adapter, registers) = (self.setup.bench.adapter(), self.transport.faulty_registers());
        let values = match adapter.format(adapter.format_index(registers)).serialise {
            Serialise::Packed(bits) => 1 << bits.min(8),
            Serialise::PlaneBytes => 256,
            _ => 16,
        };
        adapter.palette(registers).colours.iter().take(values).copied().collect()
    }

    /// Inspects a pixel of the canvas, or none.
    pub fn inspect(&mut self, canvas: &Canvas, at: Option<(u32, u32)>) {
        self.inspection.inspect(self.transport.boards(), canvas, at);
    }

    /// Inspects a pixel of a board's picture.
    pub fn inspect_pixel(&mut self, side: BoardSide, x: u32, line: u32) {
        self.inspection.inspect_pixel(self.transport.boards(), side, x, line);
    }

    /// Moves the inspected pixel over its board's picture, as far as that goes; where none is inspected, it begins
    /// in the middle.
    pub fn move_inspected(&mut self, right: i32, down: i32) {
        let inspected =
            self.inspection.pixel().map(|pixel| (pixel.side, pixel.provenance.x, pixel.provenance.picture_line));
        let side = inspected.map_or(BoardSide::Faulty, |(side, ..)| side);
        let (width, height) = self.transport.frame(side).picture_size();
        let moved = |from: u32, by: i32, size: u32| from.saturating_add_signed(by).min(size.saturating_sub(1));
        let (x, line) = inspected
            .map_or((width / 2, height / 2), |(_, x, line)| (moved(x, right, width), moved(line, down, height)));
        self.inspect_pixel(side, x, line);
        self.inspection.changed();
    }

    /// Where a byte of memory shows on a board's picture.
    #[must_use]
    pub fn shown_at(&self, side: BoardSide, address: u32) -> Vec<PixelRun> {
        shown_at(self.transport.frame(side), address)
    }

    /// Where a pixel of the picture stands on its tile of the canvas.
    #[must_use]
    pub fn on_tile(&self, side: BoardSide, x: u32, line: u32) -> Option<(u32, u32)> {
        match self.inspection.view() {
            View::Picture => Some((x, line)),
            View::Raster => pixel_inspector::raster_point(self.transport.frame(side), x, line),
        }
    }

    /// The row of a board's tile, from its top, that a scan line gives; none of a line below the picture.
    #[must_use]
    pub fn tile_row(&self, side: BoardSide, scan_line: u32) -> Option<f32> {
        match self.inspection.view() {
            View::Raster => Some(scan_line as f32),
            View::Picture => {
                let line = self.transport.frame(side).lines.get(scan_line as usize)?;
                line.fetch.as_ref().map(|fetch| fetch.picture_line as f32)
            }
        }
    }

    /// Draws a few missing thumbnails.
    pub fn draw_thumbnails(&mut self, most: u32) {
        let RegisterSweep { active, thumbnails } = &mut self.sweep;
        let boards = self.transport.boards();
        let driven = boards.driver().is_some();
        let bench = &self.setup.bench;
        thumbnails.show(active.value(), active.max());
        thumbnails.keep_for(bench.adapter(), &boards.intended, active.field);
        if driven {
            thumbnails.keep_from(self.inspection.memory_revision());
        }
        // Memory that is being drawn into is another one every frame.
        let most = if driven && self.transport.running { 0 } else { most };
        let scene = Scene { bench, memory: driven.then(|| boards.plain.memory()), registers: &boards.intended };
        thumbnails.draw_missing(&scene, active, most);
    }
}
