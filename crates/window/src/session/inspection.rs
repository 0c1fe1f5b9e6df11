//! Inspection: how the boards are looked at, and what was seen of the newest frames.

use backporch_analysis::{Damage, Verdict};
use backporch_raster::View;

use super::board_pair::BoardPair;
use super::canvas::BoardView;
use super::hazard_trail::HazardTrail;
use super::memory::{MapRows, ShownMemory};
use super::pixel_inspector::{self, InspectedPixel};
use super::timeline::FrameTimeline;
use super::{BoardSide, Canvas};

/// What is looked at, and what is seen.
#[derive(Debug)]
pub struct Inspection {
    pub(super) damage: Damage,
    beyond_design: Damage,
    pub(super) hazards: HazardTrail,
    pub(super) timeline: FrameTimeline,
    pub(super) shown_memory: ShownMemory,
    board_view: BoardView,
    view: View,
    map_rows: MapRows,
    pixel: Option<InspectedPixel>,
    revision: u64,
    memory_revision: u64,
    /// Changes of the boards that are taken in.
    changes: u64,
}

impl Default for Inspection {
    fn default() -> Self {
        Self {
            damage: Damage::default(),
            beyond_design: Damage::default(),
            hazards: HazardTrail::default(),
            timeline: FrameTimeline::default(),
            shown_memory: ShownMemory::default(),
            board_view: BoardView::default(),
            view: View::Picture,
            map_rows: MapRows::default(),
            pixel: None,
            revision: 0,
            memory_revision: 0,
            changes: 0,
        }
    }
}

impl Inspection {
    /// What the newest frame of the faulty board differs in.
    #[must_use]
    pub fn damage(&self) -> &Damage {
        &self.damage
    }

    /// What of that the board as its class is built does not do: nothing of a clean frame.
    #[must_use]
    pub fn beyond_design(&self) -> &Damage {
        &self.beyond_design
    }

    /// The mistakes found lately, by frame.
    #[must_use]
    pub fn hazards(&self) -> &HazardTrail {
        &self.hazards
    }

    /// The verdicts of the frames shown lately.
    #[must_use]
    pub fn timeline(&self) -> &FrameTimeline {
        &self.timeline
    }

    /// The memory the newest frame of the faulty board shows.
    #[must_use]
    pub fn shown_memory(&self) -> &ShownMemory {
        &self.shown_memory
    }

    /// Which boards are looked at, and how.
    #[must_use]
    pub fn board_view(&self) -> BoardView {
        self.board_view
    }

    /// Whether the whole raster is shown, or the active area.
    #[must_use]
    pub fn view(&self) -> View {
        self.view
    }

    /// How long the memory map's rows are.
    #[must_use]
    pub fn map_rows(&self) -> MapRows {
        self.map_rows
    }

    /// The pixel pointed at, and where it comes from.
    #[must_use]
    pub fn pixel(&self) -> Option<&InspectedPixel> {
        self.pixel.as_ref()
    }

    /// Changes with everything the canvas shows.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Changes with memory, its colours and the rows of its map.
    #[must_use]
    pub fn memory_revision(&self) -> u64 {
        self.memory_revision
    }

    pub(super) fn changed(&mut self) {
        self.revision += 1;
    }

    pub(super) fn set_board_view(&mut self, board_view: BoardView) {
        self.board_view = board_view;
        self.changed();
    }

    pub(super) fn toggle_raster(&mut self) {
        self.view = if self.view == View::Picture { View::Raster } else { View::Picture };
        self.changed();
    }

    pub(super) fn toggle_map_rows(&mut self) {
        self.map_rows = if self.map_rows == MapRows::Pitch { MapRows::Fixed256 } else { MapRows::Pitch };
        self.memory_revision += 1;
    }

    /// Forgets what was seen: the boards are others now.
    pub(super) fn restart(&mut self) {
        self.timeline = FrameTimeline::default();
        self.hazards = HazardTrail::default();
        self.shown_memory = ShownMemory::default();
        self.pixel = None;
        self.memory_revision += 1;
    }

    /// Forgets what frames after `frame` showed: something else happens there now.
    pub(super) fn forget_after(&mut self, frame: u64) {
        self.timeline.forget_after(frame);
        self.hazards.forget_after(frame);
    }

    /// Works out what is seen of the newest frames; `changes` counts what has changed the boards so far.
    pub(super) fn refresh(&mut self, boards: &BoardPair, changes: u64) {
        let newest = &boards.newest;
        self.damage = Damage::between(&newest.plain, &newest.faulty);
        self.beyond_design = match self.damage.verdict() {
            Verdict::Clean => Damage::default(),
            Verdict::EdgeDamaged | Verdict::Broken => {
                Damage::between(boards.frame_of(BoardSide::Built), &newest.faulty)
            }
        };
        self.timeline.note(newest.faulty.number, self.damage.verdict());
        self.hazards.take(boards.recent_hazards());
        self.shown_memory.take(&newest.faulty, boards.faulty.memory().len());
        // What drives the boards writes to them whenever they run.
        if boards.driver().is_some() || self.changes != changes {
            self.changes = changes;
            self.memory_revision += 1;
        }
        if let Some(InspectedPixel { side, provenance }) = self.pixel.take() {
            self.inspect_pixel(boards, side, provenance.x, provenance.picture_line);
        }
        self.changed();
    }

    /// Inspects a pixel of the canvas, or none.
    pub(super) fn inspect(&mut self, boards: &BoardPair, canvas: &Canvas, at: Option<(u32, u32)>) {
        self.pixel = at.and_then(|(x, y)| {
            let (tile, x) = canvas.tile_at(x)?;
            let (x, line) = pixel_inspector::picture_point(boards.frame_of(tile.side), self.view, x, y)?;
            pixel_inspector::provenance(boards, tile.side, x, line)
        });
    }

    /// Inspects a pixel of a board's picture.
    pub(super) fn inspect_pixel(&mut self, boards: &BoardPair, side: BoardSide, x: u32, line: u32) {
        self.pixel = pixel_inspector::provenance(boards, side, x, line);
    }
}
