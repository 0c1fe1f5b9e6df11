//! What of a line a stack depends on: what its conditions measure, and what
//! its actions, each beside its own table, count with.

use backporch_raster::LineDependencies;

use crate::compiled::Compiled;
use crate::compiled_condition::{CompiledCondition, Predicate};
use crate::compiled_effect::CompiledEffect;
use crate::language::Quantity;
use crate::stage::PlaceAction;

impl Compiled {
    /// Facts that may change what the address, fetch and pixel stages do.
    pub fn depends_on(&self) -> LineDependencies {
        let address = self.address.effects.iter().map(|effect| of(effect, effect.action.depends_on()));
        let fetch = self.fetch.effects.iter().map(|effect| of(effect, effect.action.depends_on()));
        let pixel = self.pixel.effects.iter().map(|effect| of(effect, effect.action.depends_on()));
        address.chain(fetch).chain(pixel).fold(LineDependencies::empty(), |all, one| all | one)
    }
}

fn of<A>(effect: &CompiledEffect<A>, action: LineDependencies) -> LineDependencies {
    effect.condition.depends_on() | action
}

impl CompiledCondition {
    fn depends_on(&self) -> LineDependencies {
        match self {
            Self::Always(_) => LineDependencies::empty(),
            Self::All(parts) | Self::Any(parts) => {
                parts.iter().fold(LineDependencies::empty(), |all, part| all | part.depends_on())
            }
            Self::Measured { of, .. } => of.depends_on(),
            Self::Plain { predicate, .. } => match predicate {
                Predicate::Chance { .. } => LineDependencies::FRAME | LineDependencies::PLACE,
                // The display format belongs to the setting; the rest is known at writes only.
                Predicate::Text | Predicate::UpperHalf | Predicate::Register(_) | Predicate::To(_) => {
                    LineDependencies::empty()
                }
            },
        }
    }
}

impl Quantity<i32> {
    fn depends_on(&self) -> LineDependencies {
        match self {
            Self::Frame => LineDependencies::FRAME,
            Self::Line | Self::ScanLine | Self::Row | Self::RowAddress => LineDependencies::PLACE,
            Self::Start => LineDependencies::START,
            Self::FirstByte | Self::Crossings(_) | Self::ToCrossing(_) | Self::SinceCrossing(_) => {
                LineDependencies::LINEAR
            }
            Self::LineCrossings(_) | Self::Tail(..) => LineDependencies::LINEAR | LineDependencies::LENGTH,
            Self::Pitch | Self::Displayed | Self::Bytes | Self::BytesLeft | Self::PixelsLeft => {
                LineDependencies::LENGTH
            }
            Self::PixelBits | Self::Byte | Self::X | Self::Char => LineDependencies::empty(),
            Self::Remainder(of, _) | Self::Quotient(of, _) => of.depends_on(),
            // Not known where lines are fetched: to be safe, everything.
            Self::Port
            | Self::Value
            | Self::SinceLast
            | Self::LinesToLatch
            | Self::SinceWrite
            | Self::Total
            | Self::SyncPosition
            | Self::SyncWidth => LineDependencies::all(),
        }
    }
}
