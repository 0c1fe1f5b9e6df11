//! The art check of `workaround`: how visible a fault is that has to be lived with.

use backporch_analysis::art::{ArtCheck, BestColumn, Visibility};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How visible the likeliest fault is in the bench's picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArtAnswer {
    /// Where the picture was drawn that marks where art should be plain.
    pub out: String,
    /// Start addresses that were rendered.
    pub starts_looked_at: usize,
    /// The bench's own setting, then the best of the partial answers.
    pub settings: Vec<ArtSettingAnswer>,
}

/// How visible the fault is under one setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArtSettingAnswer {
    /// The setting, in words.
    pub setting: String,
    /// How much is seen on average; 1 is a pixel of black on white.
    pub weight: f64,
    /// Share of start addresses at which nothing is seen, 0 to 1.
    pub unseen_share: f64,
    /// The start address at which most is seen; null where nothing is seen.
    pub worst_start: Option<u32>,
    /// Pixels seen there.
    pub worst_visible_pixels: u32,
    /// Columns to the left by which the picture would have to be moved for least to be seen.
    pub best_shift_px: Option<u32>,
    /// How much is seen there.
    pub weight_there: Option<f64>,
    /// Every start address that was rendered.
    pub starts: Vec<ArtStartAnswer>,
}

/// How visible the fault is at one start address.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArtStartAnswer {
    /// The start address.
    pub start: u32,
    /// Picture lines that are damaged.
    pub damaged_lines: u32,
    /// Pixels that are seen to differ.
    pub visible_pixels: u32,
    /// How much is seen; 1 is a pixel of black on white.
    pub weight: f64,
}

impl ArtSettingAnswer {
    /// What a check of the setting called `setting` found.
    #[must_use]
    pub fn new(setting: String, check: &ArtCheck, best: Option<BestColumn>) -> Self {
        let worst = check.worst().filter(|worst| worst.visible_pixels > 0);
        let start = |start: &Visibility| ArtStartAnswer {
            start: start.start,
            damaged_lines: start.damaged_lines,
            visible_pixels: start.visible_pixels,
            weight: start.weight,
        };
        Self {
            setting,
            weight: check.weight(),
            unseen_share: check.unseen(),
            worst_start: worst.map(|worst| worst.start),
            worst_visible_pixels: worst.map_or(0, |worst| worst.visible_pixels),
            best_shift_px: best.map(|best| best.shift),
            weight_there: best.map(|best| best.weight),
            starts: check.starts.iter().map(start).collect(),
        }
    }

    fn text(&self) -> String {
        let worst = match self.worst_start {
            Some(start) => format!("most at start address {start}, {} pixels", self.worst_visible_pixels),
            None => "nothing is seen".to_string(),
        };
        let mut text = format!(
            "  {:24}weight {:.1}, unseen at {:.0}% of the start addresses; {worst}\n",
            self.setting,
            self.weight,
            self.unseen_share * 100.0
        );
        if let (Some(shift), Some(weight)) = (self.best_shift_px, self.weight_there) {
            text += &match shift {
                0 => format!("  {:24}the picture already begins where least is seen\n", ""),
                shift => format!(
                    "  {:24}least is seen with the picture {shift} columns to the left: weight {weight:.1}\n",
                    ""
                ),
            };
        }
        text
    }
}

impl ArtAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "\nLived with, in this picture ({} start addresses looked at; weight 1 is a pixel of black on white):\n",
            self.starts_looked_at
        );
        text.extend(self.settings.iter().map(ArtSettingAnswer::text));
        text + &format!("where art should be plain: {}\n", self.out)
    }
}
