//! A table described for people: what it gives up, and what its worst steps look like.

use backporch_adapter::Rgba;
use backporch_bench::Bench;
use backporch_raster::{Frame, Picture, Tap, View};

use super::laid_copies::LaidCopies;
use super::{StepTable, TableStep};

/// A step as it looks with the bench's own picture.
#[derive(Debug)]
pub struct StepView {
    /// What was meant: the plain board's frame.
    pub meant: Frame,
    /// What the suspected board shows.
    pub shown: Frame,
}

impl StepView {
    /// What is shown of the picture's first lines; what is not as meant, or not shown, in a colour of its own.
    #[must_use]
    pub fn marked(&self, height: u32, colour: Rgba) -> Picture {
        let (meant, mut shown) = (self.meant.picture(View::Picture), self.shown.picture(View::Picture));
        shown.height = shown.height.min(height);
        shown.rgba.truncate(shown.width as usize * shown.height as usize);
        let rows = shown.rgba.chunks_mut(shown.width.max(1) as usize);
        for (row, meant) in rows.zip(meant.rgba.chunks(meant.width.max(1) as usize)) {
            for (pixel, meant) in row.iter_mut().zip(meant) {
                if pixel != meant {
                    *pixel = colour;
                }
            }
        }
        shown
    }
}

impl StepTable {
    /// Which step it is, and what is wrong in it.
    #[must_use]
    pub fn says(&self, step: &TableStep) -> String {
        let (position, start) = (step.position, self.start(step));
        let shows = if position == start { String::new() } else { format!(" shows start address {start}") };
        let blanked = self.writes_of(step).map_or(0, |writes| writes.blanked);
        let blanked = if blanked == 0 { String::new() } else { format!(", {blanked} not shown") };
        match step.wrong.pixels {
            0 => format!("position {position}{shows}: nothing wrong{blanked}"),
            pixels => format!("position {position}{shows}: {pixels} pixels wrong{blanked}"),
        }
    }

    /// The steps in which most pixels are wrong, the worst first, of those that look alike one; where nothing is wrong, the
    /// first step that shows another start address than the obvious one.
    #[must_use]
    pub fn worst_steps(&self, most: usize) -> Vec<&TableStep> {
        let mut worst: Vec<&TableStep> = Vec::new();
        let mut shown: Vec<&TableStep> = self.steps.iter().filter(|step| !step.skipped).collect();
        // A detour, or what is not shown, says more than a step that is as it always was.
        let blanked = |step: &TableStep| self.writes_of(step).map_or(0, |writes| writes.blanked);
        shown.sort_by_key(|step| {
            (std::cmp::Reverse(step.wrong.pixels), std::cmp::Reverse(blanked(step)), step.ahead == 0)
        });
        for step in shown {
            let alike =
                |known: &&TableStep| known.wrong == step.wrong && (known.ahead == step.ahead || step.wrong.is_none());
            if worst.len() < most && !worst.iter().any(alike) {
                worst.push(step);
            }
        }
        if worst.first().is_some_and(|step| !step.wrong.is_none()) {
            worst.retain(|step| !step.wrong.is_none());
        }
        worst
    }

    /// How a step looks on a board under a suspect; `None` where its position is none of the register's.
    #[must_use]
    pub fn view<T: Tap + Clone>(&self, bench: &Bench, step: &TableStep, suspect: &T) -> Option<StepView> {
        let laid = LaidCopies::of_bench(bench, self, step.position)?;
        Some(StepView { meant: laid.meant(step.position)?, shown: laid.shown(step, suspect)? })
    }

    /// What is given up, in words.
    #[must_use]
    pub fn gives_up(&self) -> String {
        let (cost, border) = (&self.cost, &self.border);
        let mut parts = Vec::new();
        if cost.pixels_lost > 0 {
            parts.push(format!("{} pixels of each frame", cost.pixels_lost));
        }
        if border.left + border.right > 0 {
            parts.push(format!(
                "a border of {} columns at the left and {} at the right in one colour",
                border.left, border.right
            ));
        }
        if self.copies.len() > 1 {
            parts.push(format!("memory for {} copies of the picture", self.copies.len()));
        }
        match cost.lines_below {
            0 => {}
            1 => parts.push("1 line below the picture, which shows other memory".to_string()),
            lines => parts.push(format!("{lines} lines below the picture, which show other memory")),
        }
        if cost.jump > 1 {
            parts.push(format!("positions left out: jumps of up to {} steps", cost.jump));
        }
        if cost.blanked > 0 {
            parts.push(format!("up to {} pixels at the right that are not shown on some lines", cost.blanked));
        }
        if cost.line_writes > 0 {
            parts.push(format!(
                "the processor's time while the picture is shown, for up to {} writes beside the beam",
                cost.line_writes
            ));
        }
        if cost.worst_wrong > 0 {
            parts.push(format!("up to {} wrong pixels", cost.worst_wrong));
        }
        if !self.fit.accepted() {
            parts.push("a signal inside the monitor's margins".to_string());
        }
        if parts.is_empty() { "nothing".to_string() } else { parts.join("; ") }
    }
}
