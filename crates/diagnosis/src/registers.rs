//! What a survey says of the controller's registers, held against every cause.
//!
//! The survey turns a bit of a register over and back, and reads it before, between and after; each cause is asked for the
//! same through the ports of its own board. What counts is what has changed from one reading to the next: what a register
//! held before the survey, firmware knows. Surveys keep no moments, so each cause answers twice, hurried and at leisure.

use std::borrow::Cow;
use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Mode, PortRole};
use backporch_evidence::Sightings;
use backporch_evidence::survey::{TurnedBit, turned_bits};
use backporch_raster::{Board, Plain, Stages, Tap};

/// How often a register reads otherwise than the profile and the cause say: class profiles know least of what reads back.
const OTHERWISE: f64 = 0.02;
/// How often a register of a board with an unknown fault changes in another way than the class's does.
const UNKNOWN: f64 = 0.1;
/// Ways in which two readings can differ otherwise, as many as bytes.
const WAYS: f64 = 256.0;
/// Dots between the accesses of a survey: the least that its instructions take, and enough that nothing is still under way.
const PACES: [u64; 2] = [24, 20_000];

/// What two readings differ in from the first: between, and after.
type Changes = [u8; 2];

/// A register of a mode, with what the survey found.
struct Check {
    bit: TurnedBit,
    found: Changes,
}

/// The registers that a survey tried in one mode, through the controller's ports there.
struct TriedMode<'a> {
    mode: &'a Mode,
    index_port: u16,
    data_port: u16,
    checks: Vec<Check>,
}

/// The registers that a survey tried.
pub(crate) struct RegisterEvidence<'a> {
    adapter: &'a Arc<Adapter>,
    modes: Vec<TriedMode<'a>>,
    /// What is found on every board whose ports do as they should, at each pace.
    unhindered: [Vec<Changes>; PACES.len()],
}

impl<'a> RegisterEvidence<'a> {
    /// `None` where there is no survey, or one that tried nothing.
    pub fn of(sightings: &'a Sightings) -> Option<Self> {
        let adapter = sightings.bench().adapter();
        let tried = sightings.survey()?.modes.iter().filter_map(|surveyed| {
            let mode = adapter.mode(&surveyed.name)?;
            let registers = adapter.start_up(mode);
            let index_port = adapter.port_of(&registers, PortRole::Index(Bank::Crtc))?;
            let data_port = adapter.port_of(&registers, PortRole::Data(Bank::Crtc))?;
            let check = |bit: TurnedBit| {
                let turned = surveyed.turned.iter().find(|one| one.index == bit.index)?;
                Some(Check { bit, found: changes(turned.reads) })
            };
            let checks: Vec<Check> = turned_bits(adapter, mode).into_iter().filter_map(check).collect();
            (!checks.is_empty()).then_some(TriedMode { mode, index_port, data_port, checks })
        });
        let modes: Vec<TriedMode> = tried.collect();
        if modes.is_empty() {
            return None;
        }
        let unhindered = PACES.map(|pace| modes.iter().flat_map(|mode| mode.answers(adapter, &Plain, pace)).collect());
        Some(Self { adapter, modes, unhindered })
    }

    /// Natural logarithm of the likelihood of what was found, on a board under this tap.
    pub fn log<T: Tap + Clone>(&self, tap: &T) -> f64 {
        let answers = self.expected(tap);
        let log = |(at, check): (usize, &Check)| {
            let fits = answers.iter().filter(|answer| answer[at] == check.found).count();
            let share = fits as f64 / PACES.len() as f64;
            ((1.0 - OTHERWISE) * share + OTHERWISE / WAYS).ln()
        };
        self.checks().enumerate().map(log).sum()
    }

    /// The same for a fault of which nothing is known; `design` is the board as its class is built.
    pub fn unmodelled<T: Tap + Clone>(&self, design: &T) -> f64 {
        let [_, expected] = &*self.expected(design);
        let log = |(check, expected): (&Check, &Changes)| {
            if check.found == *expected { (1.0 - UNKNOWN).ln() } else { (UNKNOWN / WAYS).ln() }
        };
        self.checks().zip(expected).map(log).sum()
    }

    /// Registers that read otherwise than those of a board under this tap, by mode and index.
    pub fn otherwise<T: Tap + Clone>(&self, tap: &T) -> Vec<(String, u8)> {
        let [_, expected] = &*self.expected(tap);
        let names = self.modes.iter().flat_map(|tried| tried.checks.iter().map(|_| &tried.mode.name));
        let all = self.checks().zip(names).zip(expected);
        let differ = all.filter(|((check, _), expected)| check.found != **expected);
        differ.map(|((check, mode), _)| (mode.clone(), check.bit.index)).collect()
    }

    fn checks(&self) -> impl Iterator<Item = &Check> {
        self.modes.iter().flat_map(|mode| &mode.checks)
    }

    /// What the same accesses find on a board under this tap, at each pace, in the order of the checks.
    fn expected<T: Tap + Clone>(&self, tap: &T) -> Cow<'_, [Vec<Changes>; PACES.len()]> {
        if !tap.stages().contains(Stages::PORT) {
            return Cow::Borrowed(&self.unhindered);
        }
        let answers = |pace| self.modes.iter().flat_map(|mode| mode.answers(self.adapter, tap, pace)).collect();
        Cow::Owned(PACES.map(answers))
    }
}

impl TriedMode<'_> {
    /// What its accesses find on a board under this tap, that many dots apart.
    fn answers<T: Tap + Clone>(&self, adapter: &Arc<Adapter>, tap: &T, pace: u64) -> Vec<Changes> {
        let mut board = Board::new(Arc::clone(adapter), adapter.start_up(self.mode), tap.clone());
        let mut now = 0;
        let answer = |TurnedBit { index, value, bit }: TurnedBit| {
            let mut wait = |board: &mut Board<T>| {
                now += pace;
                board.run_to(now);
            };
            board.write_port(self.index_port, index);
            wait(&mut board);
            let before = board.read_port(self.data_port);
            board.write_port(self.data_port, value ^ bit);
            wait(&mut board);
            let between = board.read_port(self.data_port);
            board.write_port(self.data_port, value);
            wait(&mut board);
            let reads = [before, between, board.read_port(self.data_port)];
            wait(&mut board);
            changes(reads)
        };
        self.checks.iter().map(|check| check.bit).map(answer).collect()
    }
}

fn changes([before, between, after]: [u8; 3]) -> Changes {
    [before ^ between, before ^ after]
}
