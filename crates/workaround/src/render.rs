//! Proving a candidate by rendering: what the monitor would show, step by step.
//!
//! Two boards, the plain one and the one in question, are brought to the
//! candidate's registers through their ports and then scrolled as a routine
//! does: the start address is written in the active area, the picture's
//! entering columns are redrawn, and the frame that shows it is held against
//! the plain one.
//!
//! Where a fault says that it looks at less, less is done: see [`Way`].

use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_bench::{Bench, LaidMemory};
use backporch_raster::{Board, Frame, Plain, QuietFrame, ScanLine, Stages, Tap};
use rayon::prelude::*;

use crate::transition::Transition;

/// Parts of a frame after which it is held against the other, before the whole.
const PARTS_LOOKED_AT: [u64; 4] = [32, 12, 5, 2];
/// Start addresses walked by one pair of boards.
const STRETCH: usize = 256;

/// Renders every one of `starts` under `registers` and says for each whether
/// it is clean; nothing once `goes_on`, which is asked before each, from any thread, says no.
#[must_use]
pub fn rendered<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    registers: &Registers,
    tap: &T,
    starts: &[u32],
    goes_on: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<bool>> {
    let stretch = |starts: &[u32]| {
        let mut pair = Pair::new(bench, registers, tap);
        let clean = |start: &u32| goes_on().then(|| pair.shows_clean(*start));
        starts.iter().map(clean).collect::<Vec<Option<bool>>>()
    };
    starts.par_chunks(STRETCH).flat_map_iter(stretch).collect()
}

/// Whether every one of `starts` is clean; the rest is left alone once one is not, or once `goes_on` says no, which proves
/// nothing. `goes_on` is asked before each, from any thread.
#[must_use]
pub fn holds<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    registers: &Registers,
    tap: &T,
    starts: &[u32],
    goes_on: &(dyn Fn() -> bool + Sync),
) -> bool {
    let clean = |starts: &[u32]| {
        let mut pair = Pair::new(bench, registers, tap);
        starts.iter().all(|start| goes_on() && pair.shows_clean(*start))
    };
    starts.par_chunks(STRETCH).all(clean)
}

/// Whether two frames show the same on every scan line, also where a picture
/// line is shown once more: fetched from the same places, at the same dots, in
/// the same colours.
fn shows_the_same(one: &Frame, other: &Frame) -> bool {
    let whole = |frame: &Frame| (frame.lines.len(), frame.shift, frame.unstable);
    let same = |(line, that): (&ScanLine, &ScanLine)| {
        one.spans_of(line) == other.spans_of(that) && one.looks_like(line, other, that)
    };
    whole(one) == whole(other) && (are_stored_alike(one, other) || one.lines.iter().zip(&other.lines).all(same))
}

/// Whether two frames are stored alike, list by list: then they show the same, which is known without going through lines.
fn are_stored_alike(one: &Frame, other: &Frame) -> bool {
    let alike = |(one, other): (&ScanLine, &ScanLine)| {
        (one.dots, &one.segments, &one.spans) == (other.dots, &other.segments, &other.spans)
    };
    one.segments == other.segments
        && one.spans == other.spans
        && one.palettes == other.palettes
        && one.values == other.values
        && one.lines.iter().zip(&other.lines).all(alike)
}

/// What has to be done with a board to know what it shows from a start address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// Nothing but when the start address is taken over may be wrong: it is driven, and the one taken over is looked at.
    Latched,
    /// How it came to its registers plays no part: frames of boards at rest are drawn.
    AtRest,
    /// Anything: it is driven, and frames are drawn.
    Driven,
}

impl Way {
    fn of<T: Tap>(tap: &T) -> Self {
        let stages = tap.stages();
        if Stages::LATCH.contains(stages) {
            Self::Latched
        } else if stages.intersects(Stages::PORT | Stages::LATCH | Stages::SYNC | Stages::MEMORY) {
            Self::Driven
        } else {
            Self::AtRest
        }
    }
}

/// The boards side by side.
struct Pair<'a, T: Tap> {
    bench: &'a Bench,
    memory: LaidMemory<'a>,
    registers: Registers,
    plain: Board,
    shown: Board<T>,
    way: Way,
}

impl<'a, T: Tap + Clone> Pair<'a, T> {
    fn new(bench: &'a Bench, registers: &Registers, tap: &T) -> Self {
        let adapter = bench.adapter();
        let mut from = adapter.start_up(bench.mode());
        for index in 0..=255 {
            from.set_dac(index, bench.registers().dac(index));
        }
        let transition = Transition::new(adapter, &from, registers);
        let mut pair = Self {
            bench,
            memory: LaidMemory::new(bench),
            registers: registers.clone(),
            plain: Board::plain(Arc::clone(adapter), from.clone()),
            shown: Board::new(Arc::clone(adapter), from, tap.clone()),
            way: Way::of(tap),
        };
        for (port, byte) in transition.ports() {
            pair.plain.write_port(port, byte);
            pair.shown.write_port(port, byte);
        }
        settle(&mut pair.plain);
        settle(&mut pair.shown);
        pair
    }

    fn shows_clean(&mut self, start: u32) -> bool {
        match self.way {
            Way::Latched => self.takes_over(start),
            Way::AtRest => self.shows_the_same_at_rest(start),
            Way::Driven => self.shows_the_same_driven(start),
        }
    }

    /// Whether frames of the boards, driven to a start address, look the same.
    fn shows_the_same_driven(&mut self, start: u32) -> bool {
        let quiet = self.quiet_from(start);
        let memory = self.memory.under(&quiet);
        let meant = shown(&mut self.plain, memory, start);
        let found = shown(&mut self.shown, memory, start);
        let clean = shows_the_same(&meant, &found);
        self.plain.recycle(meant);
        self.shown.recycle(found);
        clean
    }

    /// Whether frames of the boards at rest look the same; no more of them is drawn than it takes to say no.
    fn shows_the_same_at_rest(&mut self, start: u32) -> bool {
        let quiet = self.quiet_from(start);
        let memory = self.memory.lent_under(&quiet);
        let frame = 4 * quarter(&self.plain);
        let Self { plain, shown, .. } = self;
        // Every start address of a path fits the register.
        let _ = (plain.begin_frame_at(start), shown.begin_frame_at(start));
        let began = (plain.beam().dot, shown.beam().dot);
        for part in PARTS_LOOKED_AT.map(|part| frame / part) {
            with_memory(plain, memory, |board| board.run_to(began.0 + part));
            with_memory(shown, memory, |board| board.run_to(began.1 + part));
            if !shows_the_same(plain.frame_so_far(), shown.frame_so_far()) {
                return false;
            }
        }
        let meant = with_memory(plain, memory, Board::run_frame);
        let found = with_memory(shown, memory, Board::run_frame);
        let clean = shows_the_same(&meant, &found);
        plain.recycle(meant);
        shown.recycle(found);
        clean
    }

    /// The plain board's frame at rest from a start address.
    fn quiet_from(&mut self, start: u32) -> QuietFrame {
        let adapter = self.bench.adapter();
        // Every start address of a path fits the register.
        let _ = adapter.set(&mut self.registers, adapter.start_address(), u64::from(start));
        QuietFrame::new(adapter, &self.registers, &Plain)
    }

    /// Whether the frame after the one in which a start address is written is shown from there as on the plain board,
    /// from its first line on.
    fn takes_over(&mut self, start: u32) -> bool {
        let meant = match self.plain.begin_frame_at(start) {
            Ok(()) => self.plain.start_shown(),
            Err(_) => return false,
        };
        write_start(&mut self.shown, start);
        self.shown.pass_frame();
        let first = self.shown.start_shown();
        self.shown.pass_to(self.shown.beam().dot + quarter(&self.shown));
        let later = self.shown.start_shown();
        self.shown.pass_frame();
        first == meant && later == meant
    }
}

fn settle<T: Tap>(board: &mut Board<T>) {
    for _ in 0..2 {
        board.pass_frame();
    }
}

/// Lends a board memory while it draws.
fn with_memory<T: Tap, A>(board: &mut Board<T>, memory: &mut Vec<u8>, draw: impl FnOnce(&mut Board<T>) -> A) -> A {
    board.exchange_memory(memory);
    let drawn = draw(board);
    board.exchange_memory(memory);
    drawn
}

/// Writes the start address a quarter down the frame and gives the frame that shows it.
fn shown<T: Tap>(board: &mut Board<T>, memory: &[u8], start: u32) -> Frame {
    write_start(board, start);
    board.load(memory);
    board.pass_frame();
    board.run_frame()
}

/// Writes the start address a quarter down the frame that begins.
fn write_start<T: Tap>(board: &mut Board<T>, start: u32) {
    let adapter = Arc::clone(board.adapter());
    board.pass_to(board.beam().dot + quarter(board));
    for (port, byte) in adapter.programming(board.registers(), adapter.start_address(), start) {
        board.write_port(port, byte);
    }
}

/// Dots of a quarter of a frame.
fn quarter<T: Tap>(board: &Board<T>) -> u64 {
    let adapter = board.adapter();
    let timing = adapter.timing(board.registers());
    let char_dots = u64::from(adapter.format(adapter.format_index(board.registers())).char_dots);
    u64::from(timing.lines()) * u64::from(timing.chars()) * char_dots / 4
}

#[cfg(test)]
mod tests {
    use std::sync::LazyLock;

    use backporch_bench::Overrides;
    use backporch_quirk::{Family, QuirkStack};
    use backporch_raster::{LineDependencies, LineReuse};
    use proptest::prelude::*;

    use super::*;

    /// Members that do not look at the number of the frame, and for which less is done.
    static SPARED: LazyLock<Vec<(Family, u64)>> = LazyLock::new(|| {
        let members = |family: Family| (0..family.count().min(4)).map(move |member| (family.clone(), member));
        let is_spared = |(family, member): &(Family, u64)| {
            let tap = QuirkStack::new(vec![family.member(*member).unwrap()], 0);
            Way::of(&tap) != Way::Driven && !tap.depends_on().contains(LineDependencies::FRAME)
        };
        Family::all_built_in().flat_map(members).filter(is_spared).collect()
    });
    static BENCHES: LazyLock<[Bench; 2]> = LazyLock::new(|| {
        ["harbour-256-plain", "harbour-vga"].map(|name| Bench::open(name, &Overrides::default()).unwrap())
    });

    proptest! {
        #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 16, ..ProptestConfig::default() })]

        /// Where less is done, the answer is that of boards that are driven and drawn.
        #[test]
        fn doing_less_answers_the_same(
            at: prop::sample::Index, on_vga: bool, starts in prop::collection::vec(0..0x4000_u32, 1..6)
        ) {
            let bench = &BENCHES[usize::from(on_vga)];
            let (family, member) = at.get(&SPARED);
            let tap = QuirkStack::new(vec![family.member(*member).unwrap()], 0);
            let mut quick = Pair::new(bench, bench.registers(), &tap);
            let mut whole = Pair { way: Way::Driven, ..Pair::new(bench, bench.registers(), &tap) };
            for start in starts {
                let (quick, whole) = (quick.shows_clean(start), whole.shows_clean(start));
                prop_assert_eq!(quick, whole, "{} {} at {}", family.name(), member, start);
            }
        }
    }
}
