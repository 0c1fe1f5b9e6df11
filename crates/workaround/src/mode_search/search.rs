//! Every mode of a board, at every clock, for a picture.

use backporch_adapter::{Adapter, Mode, Registers, Role};
use backporch_signal::{Judgement, Monitor, Signal, SyncPolarity};
use thiserror::Error;

use super::base::{PixelFormat, RowLayout, bases};
use super::layouts::LayoutFinder;
use super::need::ModeNeed;
use crate::setting::Setting;

/// A picture as it was wanted.
#[derive(Clone, Debug)]
pub struct ModeSetting {
    /// The mode whose start-up values it begins with.
    pub mode: String,
    /// All registers.
    pub registers: Registers,
    /// The signal they make.
    pub signal: Signal,
    /// The monitor's verdict, every limit held.
    pub judgement: Judgement,
    /// Colours at once.
    pub colours: u32,
    /// Scan lines that show one picture line.
    pub scan_lines: u32,
    /// Bytes from one row of memory to the next.
    pub pitch_bytes: u32,
    /// Bytes of memory that are shown.
    pub memory_bytes: u32,
}

impl ModeSetting {
    /// Share of line and frame that is picture, 0 to 1: how large it is on the glass.
    #[must_use]
    pub fn share(&self) -> f64 {
        let Signal { horizontal, vertical, .. } = &self.signal;
        let shown = f64::from(horizontal.active()) * f64::from(vertical.active());
        shown / (f64::from(horizontal.total()) * f64::from(vertical.total()))
    }
}

/// Why a mode makes no such picture.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NoMode {
    /// It shows text.
    #[error("it shows text")]
    Text,
    /// It has too few colours.
    #[error("it has {0} colours")]
    Colours(u32),
    /// Its lines are whole character clocks.
    #[error("its lines are whole character clocks of {0} pixels")]
    Width(u32),
    /// Its class makes no such line and frame.
    #[error("the class makes no such line and frame at rates the monitor takes")]
    Layout,
    /// The picture is larger than its memory.
    #[error("the picture is larger than its memory")]
    Memory,
    /// The monitor refuses.
    #[error("the monitor refuses it: {0}")]
    Refused(String),
    /// No frame of whole lines comes near enough to the rate.
    #[error("no frame of whole lines comes near enough to the rate")]
    Rate,
}

/// What the modes of a board offer.
#[derive(Clone, Debug)]
pub struct ModeSearch {
    /// Settings that hold, the largest on the glass first; of each mode and dot clock the largest.
    pub settings: Vec<ModeSetting>,
    /// Modes that have none, and why.
    pub without: Vec<(String, NoMode)>,
}

/// Settings of a board for a picture on a monitor, each judged by the monitor as it would judge any signal.
#[must_use]
pub fn modes(adapter: &Adapter, monitor: &Monitor, need: &ModeNeed) -> ModeSearch {
    let mut found = ModeSearch { settings: Vec::new(), without: Vec::new() };
    for mode in &adapter.profile().modes {
        match (OfMode { adapter, mode, monitor, need }).settings() {
            Ok(settings) => found.settings.extend(settings),
            Err(reason) => found.without.push((mode.name.clone(), reason)),
        }
    }
    found.settings.sort_by(|one, other| other.share().total_cmp(&one.share()));
    found
}

/// The search in one mode.
struct OfMode<'a> {
    adapter: &'a Adapter,
    mode: &'a Mode,
    monitor: &'a Monitor,
    need: &'a ModeNeed,
}

impl OfMode<'_> {
    /// The largest setting of each dot clock; where there is none, the reason that came nearest to one.
    fn settings(&self) -> Result<Vec<ModeSetting>, NoMode> {
        let shown = PixelFormat::of(self.adapter, self.mode).ok_or(NoMode::Text)?;
        if shown.colours < self.need.colours {
            return Err(NoMode::Colours(shown.colours));
        }
        let bases = bases(self.adapter, self.mode, shown, self.need);
        if bases.is_empty() {
            return Err(NoMode::Width(shown.pixels_of_char));
        }
        let finder = LayoutFinder::new(self.adapter, self.mode, self.monitor, self.need.rate).ok_or(NoMode::Layout)?;
        let mut largest: Vec<ModeSetting> = Vec::new();
        let mut nearest = NoMode::Layout;
        for base in &bases {
            match self.setting(&finder, base, shown.colours) {
                Ok(setting) => keep_larger(&mut largest, setting),
                Err(NoMode::Layout) => {}
                Err(reason) => nearest = reason,
            }
        }
        if largest.is_empty() { Err(nearest) } else { Ok(largest) }
    }

    /// The first layout of a base that holds.
    fn setting(&self, finder: &LayoutFinder<'_>, base: &RowLayout, colours: u32) -> Result<ModeSetting, NoMode> {
        let mut nearest = NoMode::Layout;
        for layout in finder.layouts(base) {
            let Some(placed) = layout.placed(self.adapter, &base.registers) else { continue };
            let (registers, signal, judgement) = self.judged(&placed).ok_or(NoMode::Layout)?;
            if !judgement.accepts() {
                nearest = NoMode::Refused(judgement.reasons().into_iter().next().unwrap_or_default());
            } else if !finder.takes_rate(&signal) {
                nearest = NoMode::Rate;
            } else {
                let setting = self.with_least_pitch(&registers).ok_or(NoMode::Memory)?;
                return Ok(ModeSetting {
                    mode: self.mode.name.clone(),
                    pitch_bytes: setting.line.pitch,
                    memory_bytes: setting.rows(setting.height) * setting.line.pitch * setting.banks(),
                    registers: setting.registers,
                    scan_lines: base.scan_lines,
                    signal,
                    judgement,
                    colours,
                });
            }
        }
        Err(nearest)
    }

    /// The registers with the polarity of sync that suits the monitor, their signal and the verdict.
    ///
    /// Polarity tells some monitors how high the picture is. So that of the board's own mode with most nearly as many lines
    /// goes first, of those modes that the monitor takes.
    fn judged(&self, registers: &Registers) -> Option<(Registers, Signal, Judgement)> {
        let own = self.adapter.signal(registers).ok()?;
        let lines = own.vertical.active();
        let of_modes = self.adapter.profile().modes.iter().filter_map(|mode| {
            let signal = self.adapter.signal(&self.adapter.start_up(mode)).ok()?;
            let taken = self.monitor.judge(&signal).accepts();
            Some((signal.vertical.active().abs_diff(lines), signal.polarity?)).filter(|_| taken)
        });
        let nearest = of_modes.min_by_key(|(off, _)| *off).map(|(_, polarity)| polarity);
        let choices = nearest.into_iter().chain(own.polarity).chain((0..4).map(SyncPolarity::from_bits));
        let tried = choices.filter_map(|polarity| self.with_polarity(registers, polarity));
        let judged = |registers: Registers| {
            let signal = self.adapter.signal(&registers).ok()?;
            Some((registers, signal, self.monitor.judge(&signal)))
        };
        let mut tried = tried.filter_map(judged).peekable();
        let first = tried.peek().cloned();
        tried.find(|(_, _, judgement)| judgement.accepts()).or(first).or_else(|| judged(registers.clone()))
    }

    /// The registers with a polarity; `None` where the class cannot choose it.
    fn with_polarity(&self, registers: &Registers, polarity: SyncPolarity) -> Option<Registers> {
        let field = self.adapter.field_with(Role::SyncPolarity)?;
        let bits = (0..4).find(|bits| SyncPolarity::from_bits(*bits) == polarity)?;
        let mut registers = registers.clone();
        self.adapter.set(&mut registers, field, bits.into()).ok().map(|()| registers)
    }

    /// The picture with its rows as close together as they go; `None` where it is not the one wanted or memory is too small.
    fn with_least_pitch(&self, registers: &Registers) -> Option<Setting> {
        let wanted = |setting: &Setting| {
            let is_size = setting.width() == self.need.width && setting.height == self.need.height;
            is_size && setting.line.pitch >= setting.line.bytes && setting.fits_memory(setting.height)
        };
        let pitched = |value: u32| {
            let field = self.adapter.field_with(Role::Pitch)?;
            let mut registers = registers.clone();
            self.adapter.set(&mut registers, field, value.into()).ok()?;
            Setting::new(self.adapter, registers).filter(wanted)
        };
        let most = self.adapter.field_with(Role::Pitch).map_or(0, |field| self.adapter.field_info(field).max());
        let own = || Setting::new(self.adapter, registers.clone()).filter(wanted);
        (0..=most).find_map(pitched).or_else(own)
    }
}

/// Keeps of each dot clock the setting that is largest on the glass.
fn keep_larger(largest: &mut Vec<ModeSetting>, setting: ModeSetting) {
    match largest.iter_mut().find(|known| known.signal.dot_clock == setting.signal.dot_clock) {
        Some(known) if known.share() >= setting.share() => {}
        Some(known) => *known = setting,
        None => largest.push(setting),
    }
}
