//! Which facts of a line a stack looks at: what its conditions measure, and
//! what its actions count with.

use backporch_raster::LineFacts;

use crate::armed::Armed;
use crate::compiled::Compiled;
use crate::language::Quantity;
use crate::stage::{AddressAction, FetchAction, PixelAction};
use crate::truth::{Fact, Truth};

impl Compiled {
    /// Facts that may change what the address, fetch and pixel stages do.
    pub fn looks_at(&self) -> LineFacts {
        let address = self.address.effects.iter().map(|effect| of(effect, effect.action.looks_at()));
        let fetch = self.fetch.effects.iter().map(|effect| of(effect, effect.action.looks_at()));
        let pixel = self.pixel.effects.iter().map(|effect| of(effect, effect.action.looks_at()));
        address.chain(fetch).chain(pixel).fold(LineFacts::empty(), |all, facts| all | facts)
    }
}

fn of<A>(effect: &Armed<A>, action: LineFacts) -> LineFacts {
    effect.truth.looks_at() | action
}

impl Truth {
    fn looks_at(&self) -> LineFacts {
        match self {
            Self::Always(_) => LineFacts::empty(),
            Self::All(parts) | Self::Any(parts) => {
                parts.iter().fold(LineFacts::empty(), |all, part| all | part.looks_at())
            }
            Self::Measured { of, .. } => of.looks_at(),
            Self::Plain { fact: Fact::Chance { .. }, .. } => LineFacts::FRAME | LineFacts::PLACE,
            Self::Plain { .. } => LineFacts::empty(),
        }
    }
}

impl Quantity<i32> {
    fn looks_at(&self) -> LineFacts {
        match self {
            Self::Frame => LineFacts::FRAME,
            Self::Line | Self::ScanLine | Self::Row | Self::RowAddress => LineFacts::PLACE,
            Self::Start => LineFacts::START,
            Self::FirstByte | Self::Crossings(_) | Self::ToCrossing(_) | Self::SinceCrossing(_) => LineFacts::LINEAR,
            Self::LineCrossings(_) | Self::Tail(..) => LineFacts::LINEAR | LineFacts::LENGTH,
            Self::Pitch | Self::Displayed | Self::Bytes | Self::BytesLeft | Self::PixelsLeft => LineFacts::LENGTH,
            Self::PixelBits | Self::Byte | Self::X | Self::Char => LineFacts::empty(),
            Self::Remainder(of, _) | Self::Quotient(of, _) => of.looks_at(),
            // Not known where lines are bent, or not known here: look at everything.
            _ => LineFacts::all(),
        }
    }
}

impl AddressAction<i32> {
    fn looks_at(&self) -> LineFacts {
        let more = match self {
            Self::RowReload { .. }
            | Self::CarryBroken { .. }
            | Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::BitsSwapped { .. }
            | Self::Wrap { .. }
            | Self::Moved { .. } => LineFacts::empty(),
            Self::RowCarryBroken { .. } => LineFacts::START | LineFacts::PLACE | LineFacts::LENGTH,
            Self::PitchRounded { .. } | Self::RowsBack { .. } => LineFacts::PLACE | LineFacts::LENGTH,
            Self::PitchOff { .. } | Self::WrongBank { .. } => LineFacts::PLACE,
        };
        LineFacts::LINEAR | more
    }
}

impl FetchAction<i32> {
    fn looks_at(&self) -> LineFacts {
        match self {
            // Chance and notes of writes belong to one scan line of one frame, wherever it is fetched from.
            Self::Noise { .. } | Self::Snow { .. } => LineFacts::FRAME | LineFacts::PLACE | LineFacts::LENGTH,
            _ => LineFacts::LENGTH,
        }
    }
}

impl PixelAction<i32> {
    fn looks_at(&self) -> LineFacts {
        match self {
            Self::Jitter { .. } | Self::WriteShows { .. } => LineFacts::FRAME | LineFacts::PLACE | LineFacts::LENGTH,
            _ => LineFacts::LENGTH,
        }
    }
}
