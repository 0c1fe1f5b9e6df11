//! Which processor it is.

use serde::{Deserialize, Serialize};

/// A processor of the family, by part number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "&str")]
pub enum Model {
    /// 8-bit bus, queue of 4 bytes.
    P8088,
    /// 16-bit bus, queue of 6 bytes.
    P8086,
    /// 16-bit bus; has new forms of instructions.
    P80186,
    /// 16-bit bus; has the additions of the 80186 and its own, run in real mode.
    P80286,
    /// Has 32-bit operands and addresses, run in real mode on the 16-bit bus of an AT.
    P80386,
}

impl Model {
    /// Every model, oldest first.
    pub const ALL: [Self; 5] = [Self::P8088, Self::P8086, Self::P80186, Self::P80286, Self::P80386];

    /// Part number, as people write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::P8088 => "8088",
            Self::P8086 => "8086",
            Self::P80186 => "80186",
            Self::P80286 => "80286",
            Self::P80386 => "80386",
        }
    }

    /// The model of that part number.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|model| model.name() == name)
    }

    /// Whether it is this model or came later: what one of them has, the later ones have as well.
    #[must_use]
    pub fn is_from(self, earliest: Self) -> bool {
        self >= earliest
    }
}

impl TryFrom<String> for Model {
    type Error = String;

    fn try_from(name: String) -> Result<Self, String> {
        Self::named(&name).ok_or_else(|| format!("found {name}, allowed {}", Self::ALL.map(Self::name).join(", ")))
    }
}

impl From<Model> for &str {
    fn from(model: Model) -> Self {
        model.name()
    }
}
