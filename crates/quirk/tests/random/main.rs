//! Random stacks of random quirks: whatever the language allows must run, the
//! same way however the beam is stopped, on any number of threads.

mod effects;

use backporch_adapter::{Adapter, Registers};
use backporch_quirk::{Quirk, QuirkStack};
use backporch_raster::{Board, Frame, Intercept, Line, LineReuse, QuietFrame, Run, Stages};
use proptest::prelude::*;
use std::sync::Arc;

use effects::stack;

const BOARDS: [(&str, &str); 4] = [
    ("linear-256", "320x200x256"),
    ("colour-graphics", "320x200x4"),
    ("colour-graphics", "640x200x2"),
    ("colour-graphics", "text-80"),
];

fn board_of(which: usize) -> (Arc<Adapter>, Registers) {
    let (name, mode) = BOARDS[which % BOARDS.len()];
    let adapter = Adapter::built_in(name).unwrap();
    let registers = adapter.start_up(adapter.mode(mode).unwrap());
    (adapter, registers)
}

/// Sets a few registers to anything they can hold.
fn odd(adapter: &Adapter, registers: &mut Registers, values: &[(u8, u32)]) {
    let fields: Vec<_> = adapter.fields().map(|(field, info)| (field, info.max())).collect();
    for (which, value) in values {
        let (field, max) = fields[usize::from(*which) % fields.len()];
        adapter.set(registers, field, u64::from(value % (max + 1))).unwrap();
    }
}

fn noise() -> Vec<u8> {
    (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect()
}

/// Something the processor does to a board, some dots after what it did before.
#[derive(Clone, Debug)]
enum Act {
    Wait,
    Port(u16, u8),
    Word(u16, u16),
    Memory(u32, u8),
}

fn acts() -> impl Strategy<Value = Vec<(u64, Act)>> {
    let port = prop_oneof![Just(0x3D4u16), Just(0x3D5), Just(0x3D8), Just(0x3D9), Just(0x3C8), Just(0x3C9)];
    let act = prop_oneof![
        2 => Just(Act::Wait),
        3 => (port.clone(), any::<u8>()).prop_map(|(port, value)| Act::Port(port, value)),
        // A register of the start address, and the value that goes there.
        2 => (0x0Cu8..=0x0D, any::<u8>()).prop_map(|(index, value)| Act::Word(0x3D4, u16::from_le_bytes([index, value]))),
        2 => (any::<u32>(), any::<u8>()).prop_map(|(at, value)| Act::Memory(at, value)),
    ];
    let dots = prop_oneof![1u64..40, 1u64..3000, 1u64..200_000];
    prop::collection::vec((dots, act), 0..12)
}

fn perform(board: &mut Board<QuirkStack>, act: &Act) {
    match *act {
        Act::Wait => {}
        Act::Port(port, value) => board.write_port(port, value),
        Act::Word(port, value) => board.write_port_word(port, value),
        Act::Memory(at, value) => board.write_memory(at, value),
    }
}

/// All frames that end while the acts are done, and the next one; between two
/// acts the beam is stopped at `stops` places more.
fn frames(mut board: Board<QuirkStack>, acts: &[(u64, Act)], stops: &[u64]) -> Vec<Frame> {
    let mut frames = Vec::new();
    let mut now = 0;
    let mut stops = stops.iter().cycle();
    for (dots, act) in acts {
        let next = now + dots;
        for step in stops.by_ref() {
            now += step;
            if now >= next {
                break;
            }
            board.run_to(now);
            frames.extend(board.take_frame());
        }
        now = next;
        board.run_to(now);
        frames.extend(board.take_frame());
        perform(&mut board, act);
    }
    frames.push(board.run_frame());
    frames
}

fn faulty(adapter: &Arc<Adapter>, registers: &Registers, quirks: &[Quirk], seed: u64) -> Board<QuirkStack> {
    let mut board = Board::new(Arc::clone(adapter), registers.clone(), QuirkStack::new(quirks.to_vec(), seed));
    board.load(&noise());
    board
}

proptest! {
    /// Where the beam is stopped on its way leaves no trace, whatever the stack.
    #[test]
    fn stops_leave_no_trace(
        which in 0usize..BOARDS.len(), quirks in stack(), acts in acts(),
        values in prop::collection::vec((any::<u8>(), any::<u32>()), 0..3),
        stops in prop::collection::vec(1u64..2500, 1..60), seed: u64,
    ) {
        let (adapter, mut registers) = board_of(which);
        odd(&adapter, &mut registers, &values);
        let straight = faulty(&adapter, &registers, &quirks, seed);
        let stopping = straight.clone();
        // Waits of a whole frame more than once would make frames that a straight run does not give back.
        let acts: Vec<(u64, Act)> = acts.into_iter().map(|(dots, act)| (dots.min(200_000), act)).collect();
        let (one, two) = (frames(straight, &acts, &[u64::MAX / 2]), frames(stopping, &acts, &stops));
        let numbers: Vec<u64> = one.iter().map(|frame| frame.number).collect();
        let two: Vec<Frame> = two.into_iter().filter(|frame| numbers.contains(&frame.number)).collect();
        prop_assert!(one == two, "frames differ under {:?}", quirks.iter().map(Quirk::describe).collect::<Vec<_>>());
    }

    /// The same seed gives the same frames, on one thread and on two; and the
    /// work of a frame is bounded with whatever in the registers.
    #[test]
    fn frames_are_the_same_on_two_threads(
        which in 0usize..BOARDS.len(), quirks in stack(),
        values in prop::collection::vec((any::<u8>(), any::<u32>()), 0..6), seed: u64,
    ) {
        let (adapter, mut registers) = board_of(which);
        odd(&adapter, &mut registers, &values);
        let run = || {
            let mut board = faulty(&adapter, &registers, &quirks, seed);
            (board.run_frame(), board.run_frame())
        };
        let here = run();
        let (one, two) = std::thread::scope(|scope| {
            let threads = (scope.spawn(run), scope.spawn(run));
            (threads.0.join().unwrap(), threads.1.join().unwrap())
        });
        prop_assert!(here == one && here == two);
        // The board cuts a frame that does not end after 2^21 dots; every byte is fetched once.
        for frame in [here.0, here.1] {
            let dots: u64 = frame.lines.iter().map(|line| u64::from(line.dots)).sum();
            prop_assert!(dots <= (1 << 21) + 256 * 32, "{dots} dots");
            prop_assert!(frame.spans.iter().map(|span| u64::from(span.len)).sum::<u64>() <= dots * 2);
        }
    }

    /// A run of addresses is what asking byte by byte gives.
    #[test]
    fn runs_are_what_each_byte_says(
        which in 0usize..BOARDS.len(), quirks in stack(), start in 0u32..40000, index in 0u32..400, frame in 0u64..9,
        seed: u64,
    ) {
        let (adapter, registers) = board_of(which);
        let tap = QuirkStack::new(quirks, seed);
        let quiet = QuietFrame::new(&adapter, &registers, &tap);
        let line = quiet.line(frame, start, index % quiet.picture_lines().max(1));
        if tap.line_effects(&line).stages.contains(Stages::ADDRESS) {
            let ask = |at: u32| tap.address(&line, at, line.plain_address(at));
            for at in 0..line.bytes {
                let Run { linear, len } = ask(at);
                prop_assert!(len >= 1);
                for further in 1..len.min(line.bytes - at) {
                    let there = ask(at + further).linear;
                    prop_assert_eq!(
                        there & line.mask, linear.wrapping_add(further) & line.mask,
                        "at {} + {} of {:?}", at, further, line
                    );
                }
            }
        } else {
            unbent(&tap, &line)?;
        }
    }

    /// What a stack says of a byte alone is what it says of the whole line.
    #[test]
    fn lines_are_what_each_place_says(
        which in 0usize..BOARDS.len(), quirks in stack(), start in 0u32..40000, index in 0u32..400,
        cuts in prop::collection::vec(1usize..200, 1..8), seed: u64,
    ) {
        let (adapter, registers) = board_of(which);
        let tap = QuirkStack::new(quirks, seed);
        let quiet = QuietFrame::new(&adapter, &registers, &tap);
        let line = quiet.line(3, start, index % quiet.picture_lines().max(1));
        let original = |at: u32| (at.wrapping_mul(2_654_435_761) >> 13) as u8;
        let effects = tap.line_effects(&line);
        type Stage<'a> = &'a dyn Fn(u32, &mut [u8]);
        let stages: [(u32, Stage<'_>); 2] = [
            (line.bytes, &|at, values| tap.fetch_on(&line, &effects, at, values, &original)),
            (line.pixels(), &|at, values| tap.pixels_on(&line, &effects, at, values, &original)),
        ];
        for (count, stage) in stages {
            let whole = |from: u32, to: u32| {
                let mut values: Vec<u8> = (from..to).map(original).collect();
                stage(from, &mut values);
                values
            };
            let each: Vec<u8> = (0..count).flat_map(|at| whole(at, at + 1)).collect();
            prop_assert_eq!(&whole(0, count), &each);
            let mut cut = Vec::new();
            for step in cuts.iter().cycle() {
                let from = cut.len() as u32;
                cut.extend(whole(from, (from + *step as u32).min(count)));
                if cut.len() as u32 >= count {
                    break;
                }
            }
            prop_assert_eq!(&cut, &each);
        }
    }
}

/// A line on which no address effect acts is fetched as a plain board fetches it.
fn unbent(tap: &QuirkStack, line: &Line) -> Result<(), TestCaseError> {
    for at in 0..line.bytes {
        prop_assert_eq!(tap.address(line, at, line.plain_address(at)).linear, line.plain_address(at));
    }
    Ok(())
}
