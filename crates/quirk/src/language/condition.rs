//! Conditions: when an effect acts.

use backporch_adapter::{Bank, PortRole};
use serde::{Deserialize, Serialize};

use super::{DecisionPoint, Limits, Quantity, Value};

/// How often chance is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Each {
    /// Once a frame.
    Frame,
    /// Once a scan line.
    Line,
    /// Once for each byte or pixel of a line.
    Place,
    /// Once for each write.
    Write,
}

impl Each {
    pub(crate) fn is_known_at(self, place: DecisionPoint) -> bool {
        match self {
            Self::Frame => !matches!(place, DecisionPoint::Nothing | DecisionPoint::Comparands),
            Self::Line => matches!(place, DecisionPoint::Line | DecisionPoint::Byte | DecisionPoint::Pixel),
            Self::Place => matches!(place, DecisionPoint::Byte | DecisionPoint::Pixel),
            Self::Write => matches!(place, DecisionPoint::Write | DecisionPoint::MemoryWrite),
        }
    }

    /// Its name as a file writes it.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Frame => "Frame",
            Self::Line => "Line",
            Self::Place => "Place",
            Self::Write => "Write",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Frame => "frame",
            Self::Line => "scan line",
            Self::Place => "place",
            Self::Write => "write",
        }
    }
}

/// When an effect acts; conditions combine by `All`, `Any` and `Not`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Condition<V> {
    /// At all times.
    #[default]
    Always,
    /// When all of these hold; an empty list holds.
    All(Vec<Condition<V>>),
    /// When one of these holds; an empty list does not.
    Any(Vec<Condition<V>>),
    /// When this does not hold.
    Not(Box<Condition<V>>),
    /// When a quantity has this value.
    Is {
        /// What is measured.
        of: Quantity<V>,
        /// Its value.
        value: V,
    },
    /// At every `count`-th value of a quantity: when it leaves `phase` on division by `count`.
    Every {
        /// What is measured.
        of: Quantity<V>,
        /// Distance from one to the next.
        count: V,
        /// Remainder at which it acts, below `count`.
        phase: V,
    },
    /// When a quantity lies between two values, both included.
    Within {
        /// What is measured.
        of: Quantity<V>,
        /// Least value.
        from: V,
        /// Greatest value.
        to: V,
    },
    /// When the bits of a quantity under a mask have this value.
    Bits {
        /// What is measured.
        of: Quantity<V>,
        /// Bits looked at.
        mask: V,
        /// Their value.
        value: V,
    },
    /// By chance, drawn from the bench's seed.
    Chance {
        /// How many times in a thousand.
        in_1000: V,
        /// How often chance is asked.
        each: Each,
    },
    /// In text modes.
    Text,
    /// When the byte is the upper half of a word-wide write.
    UpperHalf,
    /// When the byte goes to this register of a bank.
    Register {
        /// Bank of registers.
        bank: Bank,
        /// Index inside the bank.
        index: V,
    },
    /// When the byte goes to a port that does this.
    To(PortRole),
}

/// The kinds of condition with one plain sentence each, for the reference.
pub(crate) const KINDS: &[(&str, &str)] = &[
    ("Always", "At all times; what an effect without `when` does."),
    ("All([…])", "When all of these hold."),
    ("Any([…])", "When one of these holds."),
    ("Not(…)", "When this does not hold."),
    ("Is(of: QUANTITY, value: n)", "When the quantity is n."),
    ("Every(of: QUANTITY, count: n, phase: p)", "When the quantity leaves p on division by n."),
    ("Within(of: QUANTITY, from: a, to: b)", "When the quantity lies between a and b, both included."),
    ("Bits(of: QUANTITY, mask: m, value: v)", "When the quantity's bits under m are v."),
    (
        "Chance(in_1000: n, each: EACH)",
        "n times in a thousand, asked each `Frame`, `Line`, `Place` or `Write`, from the bench's seed.",
    ),
    ("Text", "In text modes."),
    ("UpperHalf", "When the byte is the upper half of a word-wide port write."),
    (
        "Register(bank: BANK, index: n)",
        "When the byte goes to that register (`Crtc`, `Sequencer`, `Graphics`, `Attribute`, `Single`).",
    ),
    (
        "To(ROLE)",
        "When the byte goes to a port with that role (`Index(BANK)`, `Data(BANK)`, `AttributeFlipFlop`, `DacMask`, `DacReadIndex`, `DacWriteIndex`, `DacData`).",
    ),
];

impl<V> Condition<V> {
    /// What it measures, where it is a measurement.
    pub(crate) fn quantity(&self) -> Option<&Quantity<V>> {
        match self {
            Self::Is { of, .. } | Self::Every { of, .. } | Self::Within { of, .. } | Self::Bits { of, .. } => Some(of),
            _ => None,
        }
    }

    /// The numbers of this condition itself, with what they may be.
    pub(crate) fn fields(&self) -> Vec<(&'static str, &V, Limits)> {
        const ANY: Limits = Limits::Between(i32::MIN, i32::MAX);
        match self {
            Self::Is { value, .. } => vec![("value", value, ANY)],
            Self::Every { count, phase, .. } => {
                vec![("count", count, Limits::Between(1, 1 << 24)), ("phase", phase, Limits::Between(0, (1 << 24) - 1))]
            }
            Self::Within { from, to, .. } => vec![("from", from, ANY), ("to", to, ANY)],
            Self::Bits { mask, value, .. } => {
                let bits = Limits::Between(0, i32::MAX);
                vec![("mask", mask, bits), ("value", value, bits)]
            }
            Self::Chance { in_1000, .. } => vec![("in_1000", in_1000, Limits::Between(0, 1000))],
            Self::Register { index, .. } => vec![("index", index, Limits::Between(0, 63))],
            _ => Vec::new(),
        }
    }

    /// The same condition with other numbers.
    pub(crate) fn map<W>(&self, each: &mut dyn FnMut(&V) -> W) -> Condition<W> {
        match self {
            Self::Always => Condition::Always,
            Self::All(parts) => Condition::All(parts.iter().map(|part| part.map(each)).collect()),
            Self::Any(parts) => Condition::Any(parts.iter().map(|part| part.map(each)).collect()),
            Self::Not(part) => Condition::Not(Box::new(part.map(each))),
            Self::Is { of, value } => Condition::Is { of: of.map(each), value: each(value) },
            Self::Every { of, count, phase } => {
                Condition::Every { of: of.map(each), count: each(count), phase: each(phase) }
            }
            Self::Within { of, from, to } => Condition::Within { of: of.map(each), from: each(from), to: each(to) },
            Self::Bits { of, mask, value } => {
                Condition::Bits { of: of.map(each), mask: each(mask), value: each(value) }
            }
            Self::Chance { in_1000, each: often } => Condition::Chance { in_1000: each(in_1000), each: *often },
            Self::Text => Condition::Text,
            Self::UpperHalf => Condition::UpperHalf,
            Self::Register { bank, index } => Condition::Register { bank: *bank, index: each(index) },
            Self::To(role) => Condition::To(*role),
        }
    }
}

impl Condition<Value> {
    /// The condition in plain words, to follow the word "when".
    pub(crate) fn words(&self) -> String {
        match self {
            Self::All(parts) if parts.len() > 1 => joined(parts, " and "),
            Self::Any(parts) if parts.len() > 1 => joined(parts, " or "),
            Self::All(parts) => parts.first().map_or("always".to_owned(), Self::words),
            Self::Any(parts) => parts.first().map_or("never".to_owned(), Self::words),
            Self::Always => "always".to_owned(),
            Self::Not(part) => format!("it is not so that {}", part.inner_words()),
            Self::Is { of, value } => format!("{} is {value:#}", of.words()),
            Self::Every { of, count, phase } => format!("{} is {phase} modulo {count}", of.words()),
            Self::Within { of, from, to } => format!("{} is {from} to {to}", of.words()),
            Self::Bits { of, mask, value } => format!("{} has {value:#} in bits {mask:#}", of.words()),
            Self::Chance { in_1000, each } => format!("chance has it, {in_1000} in 1000 for each {}", each.words()),
            Self::Text => "text is shown".to_owned(),
            Self::UpperHalf => "the byte is the upper half of a word-wide write".to_owned(),
            Self::Register { bank, index } => {
                format!("the byte goes to register {index:#} of the {}", bank_words(*bank))
            }
            Self::To(role) => format!("the byte goes to {}", role_words(*role)),
        }
    }

    /// The same as a part of a longer sentence.
    fn inner_words(&self) -> String {
        match self {
            Self::All(parts) | Self::Any(parts) if parts.len() > 1 => format!("({})", self.words()),
            _ => self.words(),
        }
    }
}

fn joined(parts: &[Condition<Value>], word: &str) -> String {
    parts.iter().map(Condition::inner_words).collect::<Vec<_>>().join(word)
}

fn bank_words(bank: Bank) -> &'static str {
    match bank {
        Bank::Crtc => "CRT controller",
        Bank::Sequencer => "sequencer",
        Bank::Graphics => "graphics controller",
        Bank::Attribute => "attribute controller",
        Bank::Single => "registers with a port of their own",
    }
}

fn role_words(role: PortRole) -> String {
    match role {
        PortRole::Index(bank) => format!("the index port of the {}", bank_words(bank)),
        PortRole::Data(bank) => format!("the data port of the {}", bank_words(bank)),
        PortRole::AttributeFlipFlop => "the port of the attribute controller".to_owned(),
        PortRole::AttributeData => "the attribute controller's port for reading".to_owned(),
        PortRole::Single(index) | PortRole::ReadOnly(index) => format!("single register {index}"),
        PortRole::Status => "the status port".to_owned(),
        PortRole::LightPenClear => "the port that clears the light pen".to_owned(),
        PortRole::LightPenSet => "the port that sets the light pen".to_owned(),
        PortRole::DacMask => "the palette mask".to_owned(),
        PortRole::DacReadIndex => "the palette's read index".to_owned(),
        PortRole::DacWriteIndex => "the palette's write index".to_owned(),
        PortRole::DacData => "the palette's data port".to_owned(),
    }
}
