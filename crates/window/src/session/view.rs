//! What is seen of the boards: canvas, signal, memory map, and the inspected.

use backporch_adapter::Registers;
use backporch_analysis::Damage;
use backporch_raster::{Beam, Frame, View};
use backporch_signal::{Judgement, Signal};

use super::canvas::Seen;
use super::pixel_inspector::{self, InspectedPixel, PixelRun, shown_at};
use super::{BoardView, Canvas, MapRows, MemoryCoverage, MemoryMap, Session, Side};

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
    /// What the newest frame of the faulty board differs in.
    #[must_use]
    pub fn damage(&self) -> &Damage {
        &self.damage
    }

    /// How the boards are looked at.
    #[must_use]
    pub fn board_view(&self) -> BoardView {
        self.board_view
    }

    /// Looks at the boards another way.
    pub fn set_board_view(&mut self, board_view: BoardView) {
        self.board_view = board_view;
        self.revision += 1;
    }

    /// Whether the whole raster is shown, or the active area.
    #[must_use]
    pub fn view(&self) -> View {
        self.view
    }

    pub(crate) fn raster_or_picture(&mut self) {
        self.view = if self.view == View::Picture { View::Raster } else { View::Picture };
        self.revision += 1;
    }

    /// How long the memory map's rows are.
    #[must_use]
    pub fn rows(&self) -> MapRows {
        self.rows
    }

    pub(crate) fn other_rows(&mut self) {
        self.rows = if self.rows == MapRows::Pitch { MapRows::Fixed256 } else { MapRows::Pitch };
        self.memory_revision += 1;
    }

    /// The newest whole frame of a board.
    #[must_use]
    pub fn frame(&self, side: Side) -> &Frame {
        let newest = &self.history.boards().newest;
        match side {
            Side::Healthy => &newest.healthy,
            Side::Faulty => &newest.faulty,
        }
    }

    /// Registers as the faulty board's ports have left them.
    #[must_use]
    pub fn faulty_registers(&self) -> &Registers {
        self.history.boards().faulty.registers()
    }

    /// The pixels to show; `other` tells which board a blink is at.
    #[must_use]
    pub fn canvas(&self, other: bool) -> Canvas {
        let boards = self.history.boards();
        let drawn = match !self.is_running() && self.is_mid_frame() {
            true => Some((boards.healthy.frame_seen(), boards.faulty.frame_seen())),
            false => None,
        };
        let healthy = Seen { whole: &boards.newest.healthy, under_way: drawn.as_ref().map(|(healthy, _)| healthy) };
        let faulty = Seen { whole: &boards.newest.faulty, under_way: drawn.as_ref().map(|(_, faulty)| faulty) };
        Canvas::draw(self.board_view, self.view, healthy, faulty, other)
    }

    /// Where the beam stands on a tile of the canvas, where it stands on it at all.
    #[must_use]
    pub fn beam_on_tile(&self) -> Option<(u32, u32)> {
        let beam: Beam = self.beam();
        match self.view {
            View::Raster => Some((beam.line_dot, beam.scan_line)),
            View::Picture => {
                let newest = self.frame(Side::Faulty);
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
        let signal = self.bench.adapter().signal(self.faulty_registers());
        signal.map_or(60.0, |signal| signal.frame_rate_hz())
    }

    /// Width of a canvas pixel over its height, on a tube of 4 : 3 that the mode's
    /// start-up picture fills (common practice).
    #[must_use]
    pub fn pixel_aspect(&self) -> f64 {
        let adapter = self.bench.adapter();
        let Ok(signal) = adapter.signal(&adapter.start_up(self.bench.mode())) else {
            return 1.0;
        };
        let (dots, lines) = (f64::from(signal.horizontal.active()), f64::from(signal.vertical.active()));
        let dot = 4.0 / 3.0 * lines / dots;
        match self.view {
            View::Raster => dot,
            View::Picture => {
                let frame = self.frame(Side::Faulty);
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
        match self.bench.adapter().signal(self.faulty_registers()) {
            Ok(signal) => {
                let judge = |monitor: &backporch_signal::Monitor| (monitor.name.clone(), monitor.judge(&signal));
                SignalView::Stable { signal, judged: self.bench.monitor().map(judge) }
            }
            Err(error) => SignalView::Unstable(error.to_string()),
        }
    }

    // ---- memory -------------------------------------------------------------------

    /// The faulty board's video memory.
    #[must_use]
    pub fn memory(&self) -> &[u8] {
        self.history.boards().faulty.memory()
    }

    /// Video memory as a picture.
    #[must_use]
    pub fn memory_map(&self) -> MemoryMap {
        let pitch = self.frame(Side::Faulty).picture_lines().find_map(|line| line.fetch).map_or(0, |line| line.pitch);
        let row_bytes = match (self.rows, pitch) {
            (MapRows::Pitch, 1..) => pitch,
            _ => 256,
        };
        MemoryMap::draw(self.bench.adapter(), self.faulty_registers(), self.memory(), row_bytes)
    }

    /// The bytes the newest frame of the faulty board shows.
    #[must_use]
    pub fn coverage(&self) -> &MemoryCoverage {
        &self.coverage
    }

    /// The bytes that came into view with the last change.
    #[must_use]
    pub fn newly_shown(&self) -> &MemoryCoverage {
        &self.newly_shown
    }

    // ---- the inspected pixel -----------------------------------------------------------------

    /// Points at a pixel of the canvas, or at none.
    pub fn inspect(&mut self, canvas: &Canvas, at: Option<(u32, u32)>) {
        self.inspected = at.and_then(|(x, y)| {
            let (tile, x) = canvas.tile_at(x)?;
            let (x, line) = pixel_inspector::picture_point(self.frame(tile.side), self.view, x, y)?;
            self.inspection_at(tile.side, x, line)
        });
    }

    /// Points at a pixel of a board's picture.
    pub fn inspect_pixel(&mut self, side: Side, x: u32, line: u32) {
        self.inspected = self.inspection_at(side, x, line);
    }

    fn inspection_at(&self, side: Side, x: u32, line: u32) -> Option<InspectedPixel> {
        let boards = self.history.boards();
        let provenance = match side {
            Side::Healthy => boards.healthy.provenance(&boards.newest.healthy, x, line),
            Side::Faulty => boards.faulty.provenance(&boards.newest.faulty, x, line),
        };
        Some(InspectedPixel { side, provenance: provenance? })
    }

    /// The pixel pointed at, and where it comes from.
    #[must_use]
    pub fn inspected(&self) -> Option<&InspectedPixel> {
        self.inspected.as_ref()
    }

    /// Inspects the same pixel again as frames change.
    pub(crate) fn refresh_inspected(&mut self) {
        if let Some(InspectedPixel { side, provenance }) = self.inspected.take() {
            self.inspected = self.inspection_at(side, provenance.x, provenance.picture_line);
        }
    }

    /// Where a byte of memory shows on a board's picture.
    #[must_use]
    pub fn shown_at(&self, side: Side, address: u32) -> Vec<PixelRun> {
        shown_at(self.frame(side), address)
    }

    /// Where a pixel of the picture stands on its tile of the canvas.
    #[must_use]
    pub fn on_tile(&self, side: Side, x: u32, line: u32) -> Option<(u32, u32)> {
        match self.view {
            View::Picture => Some((x, line)),
            View::Raster => pixel_inspector::raster_point(self.frame(side), x, line),
        }
    }

    // ---- thumbnails -----------------------------------------------------------------

    /// Draws a few missing thumbnails.
    pub fn draw_thumbnails(&mut self, most: u32) {
        let (field, value) = (self.active.field, self.active.value());
        self.thumbnails.show(value, self.active.max());
        let boards = self.history.boards();
        let driven = boards.driver().is_some();
        self.thumbnails.keep_for(self.bench.adapter(), &boards.intended, field);
        if driven {
            self.thumbnails.keep_from(self.memory_revision);
        }
        // Memory that is being drawn into is another one every frame.
        let most = if driven && self.running { 0 } else { most };
        let memory = driven.then(|| boards.healthy.memory());
        self.thumbnails.work((&self.bench, memory), &boards.intended, (field, value), most);
    }
}
