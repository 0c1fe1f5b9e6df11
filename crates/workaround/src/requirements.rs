//! What a routine needs: what the search must keep, and what it may change.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;
use std::time::Instant;

use backporch_adapter::{Adapter, FieldId, Role};
use backporch_input::{InputError, Number, Source, Version1, parse};
use backporch_signal::Limit;
use serde::{Deserialize, Serialize};

use crate::mode_search::RateWanted;

/// Roles of the registers a search may change unless the requirements name some of them.
pub const MAY_CHANGE: [Role; 11] = [
    Role::HorizontalDisplayed,
    Role::Pitch,
    Role::HorizontalSyncStart,
    Role::HorizontalSyncWidth,
    Role::HorizontalTotal,
    Role::VerticalDisplayed,
    Role::VerticalSyncStart,
    Role::VerticalTotal,
    Role::VerticalTotalAdjust,
    Role::RowHeight,
    Role::StartAddress,
];

/// The role of a register that a search may change, by the name the board gives it.
///
/// # Errors
/// Says which names the board has, where it is none of them.
pub fn may_change(adapter: &Adapter, name: &str) -> Result<Role, InputError> {
    let known = || MAY_CHANGE.iter().filter_map(|role| Some(adapter.field_info(adapter.field_with(*role)?)));
    let found = known().find(|field| field.name == name);
    let names = || known().map(|field| field.name.as_str()).collect::<Vec<_>>().join(", ");
    found.map(|field| field.role).ok_or_else(|| InputError::new("may_change", name, names()))
}

/// Which way the picture scrolls.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Direction {
    /// To the left or to the right.
    #[default]
    Horizontal,
    /// Up or down.
    Vertical,
    /// Both ways.
    Both,
}

/// Which start addresses the routine shows.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Starts {
    /// On and on, around all of memory.
    #[default]
    Endless,
    /// From one to another, both included, as the register holds them.
    Range {
        /// The first.
        from: Number,
        /// The last.
        to: Number,
    },
}

/// Where the picture begins in memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Origin {
    /// Where the range of start addresses says.
    #[default]
    Fixed,
    /// Anywhere: the whole range may move.
    Free,
}

/// Size of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizeWanted {
    /// Pixels across.
    pub width: Number,
    /// Picture lines down.
    pub height: Number,
}

/// The file form of a requirements: `*.requirements.ron`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RequirementsFile {
    /// Version of the file form.
    pub version: Version1,
    /// Which way the picture scrolls.
    #[serde(default)]
    pub direction: Direction,
    /// Pixels a horizontal step moves the picture; the smallest step of the board if left out.
    #[serde(default)]
    pub step_pixels: Option<Number>,
    /// Picture lines a vertical step moves it; the smallest step of the board if left out.
    #[serde(default)]
    pub step_lines: Option<Number>,
    /// Start addresses it shows.
    #[serde(default)]
    pub starts: Starts,
    /// Whether the range of start addresses may move.
    #[serde(default)]
    pub origin: Origin,
    /// Size of the picture: what `modes` makes, and the least that a way round leaves of it.
    #[serde(default)]
    pub size: Option<SizeWanted>,
    /// Frame rates that will do, in hertz; any if left out.
    #[serde(default)]
    pub rate_hz: Option<Limit>,
    /// Least number of colours at once.
    #[serde(default)]
    pub colours: Option<Number>,
    /// Least pixels across; that of `size`, or half of the bench's if left out.
    #[serde(default)]
    pub least_width: Option<Number>,
    /// Least picture lines; that of `size`, or as many as the bench shows if left out.
    #[serde(default)]
    pub least_height: Option<Number>,
    /// Mode; the bench's if left out.
    #[serde(default)]
    pub mode: Option<String>,
    /// Registers that may change; all that the search knows if left out.
    #[serde(default)]
    pub may_change: Option<BTreeSet<String>>,
    /// Monitor, by name or path; the bench's if left out.
    #[serde(default)]
    pub monitor: Option<String>,
    /// Bytes of video memory the routine keeps for itself.
    #[serde(default)]
    pub keep_free: Number,
    /// Whether settings the monitor refuses are listed all the same.
    #[serde(default)]
    pub out_of_margin: bool,
}

/// What a routine needs, of the board it will run on.
#[derive(Clone, Debug, PartialEq)]
pub struct Requirements {
    /// Which way the picture scrolls.
    pub direction: Direction,
    /// Pixels a horizontal step moves the picture; the board's smallest step if `None`.
    pub step_pixels: Option<u32>,
    /// Picture lines a vertical step moves it; the board's smallest step if `None`.
    pub step_lines: Option<u32>,
    /// Start addresses, both ends included; `None` is endless.
    pub starts: Option<RangeInclusive<u32>>,
    /// Whether the range may move.
    pub origin: Origin,
    /// Least pixels across; half of the bench's if `None`.
    pub least_width: Option<u32>,
    /// Least picture lines; as many as the bench shows if `None`.
    pub least_height: Option<u32>,
    /// Frame rate; any if `None`.
    pub rate: Option<RateWanted>,
    /// Least number of colours at once.
    pub colours: Option<u32>,
    /// Roles of the registers that may change.
    pub may_change: BTreeSet<Role>,
    /// Bytes of video memory kept free.
    pub keep_free: u32,
    /// Whether settings the monitor refuses are listed all the same.
    pub out_of_margin: bool,
    /// When a search ends with what it has found by then; never, if `None`.
    pub until: Option<Instant>,
}

impl Default for Requirements {
    /// Every start address by the board's smallest horizontal step.
    fn default() -> Self {
        Self {
            direction: Direction::Horizontal,
            step_pixels: None,
            step_lines: None,
            starts: None,
            origin: Origin::Fixed,
            least_width: None,
            least_height: None,
            rate: None,
            colours: None,
            may_change: MAY_CHANGE.into(),
            keep_free: 0,
            out_of_margin: false,
            until: None,
        }
    }
}

impl Requirements {
    /// Whether the time to search in is over.
    #[must_use]
    pub fn time_is_over(&self) -> bool {
        self.until.is_some_and(|until| Instant::now() >= until)
    }

    /// Whether a frame rate, in hertz, is one that was asked for.
    #[must_use]
    pub fn takes_rate(&self, hertz: f64) -> bool {
        self.rate.is_none_or(|rate| rate.takes(hertz))
    }

    /// The only start addresses it shows; `None` where they are all of memory's, or may move.
    #[must_use]
    pub fn fixed_starts(&self) -> Option<&RangeInclusive<u32>> {
        self.starts.as_ref().filter(|_| self.origin == Origin::Fixed)
    }

    /// The register with that role, where the board has it and it may change.
    #[must_use]
    pub fn lever(&self, adapter: &Adapter, role: Role) -> Option<FieldId> {
        adapter.field_with(role).filter(|_| self.may_change.contains(&role))
    }
}

impl RequirementsFile {
    /// Reads a requirements.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Self, InputError> {
        let file: Self = parse(source)?;
        let numbers = [
            ("step_pixels", file.step_pixels),
            ("step_lines", file.step_lines),
            ("least_width", file.least_width),
            ("least_height", file.least_height),
            ("keep_free", Some(file.keep_free)),
            ("colours", file.colours),
            ("size", file.size.map(|size| size.width)),
            ("size", file.size.map(|size| size.height)),
        ];
        for (field, number) in numbers {
            if let Some(number) = number.filter(|number| u64::from(*number) > u64::from(u32::MAX)) {
                return Err(source.fault(&[field], u64::from(number), format!("0..={}", u32::MAX)));
            }
        }
        if let Some(Limit { from, to }) = file.rate_hz
            && RateWanted::between(&(from..=to)).is_none()
        {
            return Err(source.fault(&["rate_hz"], format!("{from} to {to}"), "two rising rates above 1"));
        }
        if let Starts::Range { from, to } = &file.starts {
            let (from, to) = (u64::from(*from), u64::from(*to));
            if from > to || to > 0xFF_FFFF {
                return Err(source.fault(&["starts"], format!("{from} to {to}"), "a last address of FROM..=0xFFFFFF"));
            }
        }
        Ok(file)
    }

    /// The frame rate, the middle of what will do being the best.
    #[must_use]
    pub fn rate(&self) -> Option<RateWanted> {
        self.rate_hz.and_then(|Limit { from, to }| RateWanted::between(&(from..=to)))
    }

    /// The requirements without what they say of bench and monitor, on one board.
    ///
    /// # Errors
    /// Where it names a register that a search on this board may not change.
    pub fn requirements(&self, source: &Source, adapter: &Adapter) -> Result<Requirements, InputError> {
        // Every number was checked when the file was read.
        let small = |number: Number| u64::from(number).min(u64::from(u32::MAX)) as u32;
        let may_change = self.may_change.as_ref().map(|names| {
            let roles = names.iter().map(|name| may_change(adapter, name));
            let roles = roles.collect::<Result<_, _>>();
            roles.map_err(|error| source.fault(&["may_change"], error.found(), error.allowed()))
        });
        Ok(Requirements {
            direction: self.direction,
            step_pixels: self.step_pixels.map(small),
            step_lines: self.step_lines.map(small),
            starts: match self.starts {
                Starts::Endless => None,
                Starts::Range { from, to } => Some(small(from)..=small(to)),
            },
            origin: self.origin,
            least_width: self.least_width.or(self.size.map(|size| size.width)).map(small),
            least_height: self.least_height.or(self.size.map(|size| size.height)).map(small),
            rate: self.rate(),
            colours: self.colours.map(small),
            may_change: may_change.transpose()?.unwrap_or_else(|| MAY_CHANGE.into()),
            keep_free: small(self.keep_free),
            out_of_margin: self.out_of_margin,
            until: None,
        })
    }
}
