//! Idle actions: values with which an action changes nothing on any board.

use crate::language::{Action, MOST_BYTES};
use crate::stage::{AddressAction, ColourAction, LatchAction, PixelAction, SyncAction};

/// No sync pulse is longer, in character clocks.
const MOST_SYNC: i32 = 16;

impl Action<i32> {
    /// Whether it changes nothing.
    pub(crate) fn is_idle(&self) -> bool {
        match self {
            Self::Port(_) | Self::Fetch(_) => false,
            Self::Latch(action) => {
                matches!(action, LatchAction::LateFrames { frames: 0 } | LatchAction::LateLines { lines: 0 })
            }
            Self::Address(action) => match *action {
                AddressAction::RowReload { row_bytes, reloads } => {
                    i64::from(row_bytes) * i64::from(reloads) >= MOST_BYTES
                }
                AddressAction::BitsSwapped { one, other } => one == other,
                AddressAction::PitchRounded { to } => to == 1,
                AddressAction::PitchOff { bytes } | AddressAction::Moved { bytes } => bytes == 0,
                _ => false,
            },
            Self::Pixel(action) => match *action {
                PixelAction::Panned { pixels } => pixels == 0,
                PixelAction::BitsSwapped { one, other } => one == other,
                _ => false,
            },
            Self::Colour(action) => matches!(
                action,
                ColourAction::LevelsLow { red: 0, green: 0, blue: 0 }
                    | ColourAction::LevelsHigh { red: 0, green: 0, blue: 0 }
            ),
            Self::Sync(action) => match *action {
                SyncAction::PositionRounded { to } => to == 1,
                SyncAction::PositionOff { chars } | SyncAction::DisplayedOff { chars } => chars == 0,
                SyncAction::WidthAtMost { chars } => chars >= MOST_SYNC,
                SyncAction::Jump { dots, lines }
                | SyncAction::Jitter { dots, lines }
                | SyncAction::Bounce { dots, lines, .. } => dots == 0 && lines == 0,
            },
        }
    }
}
