//! Budgets and step times against hand computations from published clocks.

#[path = "../../script/tests/setup/mod.rs"]
mod setup;

use std::sync::Arc;

use backporch_hazards::{Budget, MoveKind};
use backporch_raster::{Board, Plain};
use backporch_script::{Event, PortAccess, Width};
use setup::{class, cpu, runner};

fn moves(budget: &Budget) -> Vec<(MoveKind, Width, f64, u64, u64)> {
    budget.moves.iter().map(|one| (one.kind, one.width, one.clocks_each, one.in_blanking, one.in_frame)).collect()
}

/// Technical Reference, colour/graphics display adapter: 912 × 262 dots, 200
/// lines shown, three dots a clock. The 8086 Family User's Manual: REP MOVS
/// 9 + 17, REP STOS 9 + 10, a word 4 more a transfer on an 8-bit bus. An access
/// to the board waits 3 clocks at least and ends in a slot, one each 16 dots or
/// 5 1/3 clocks (hardware note *The CGA wait states*, 2012), so that equal
/// accesses settle at whole slots: 10 + 3 clocks at 3 slots, 17 + 3 at 4, the
/// second half of a word (4 + 3) at 2.
#[test]
fn the_colour_graphics_budget_is_the_hand_computed_one() {
    let (adapter, registers) = class("colour-graphics", "320x200x4");
    let budget = Budget::new(&adapter, &registers, &cpu("8bit-4.77", &adapter)).unwrap();
    assert_eq!(budget.frame_clocks, 912 * 262 / 3);
    assert_eq!(budget.blanking_clocks, 912 * 62 / 3);
    assert_eq!(budget.line_blanking_clocks, (912 - 640) / 3);
    assert_eq!(budget.picture_bytes, 16_000);
    let (frame, blanking) = (79_648 - 9, 18_848 - 9);
    let slots = |number: u64| number as f64 * 16.0 / 3.0;
    let fit = |clocks: u64, number: u64| clocks * 3 / (16 * number);
    assert_eq!(
        moves(&budget),
        [
            (MoveKind::Copy, Width::Byte, slots(4), fit(blanking, 4), fit(frame, 4)),
            // Reading its other half takes 4 clocks more: 21 + 3 at 5 slots.
            (MoveKind::Copy, Width::Word, slots(5 + 2), fit(blanking, 7) * 2, fit(frame, 7) * 2),
            (MoveKind::Fill, Width::Byte, slots(3), fit(blanking, 3), fit(frame, 3)),
            (MoveKind::Fill, Width::Word, slots(3 + 2), fit(blanking, 5) * 2, fit(frame, 5) * 2),
        ]
    );
    assert_eq!(budget.moves[0].in_blanking, 883);
    assert_eq!(budget.moves[1].in_frame, 4266);
}

/// iAPX 286 Programmer's Reference: REP MOVS 5 + 4, REP STOS 4 + 3. An access is ready 10 dots after its command and up to
/// 33 where it meets the burst of dots 758 to 785 (reverse-engineered schematic of display controller gate array 72X8300):
/// 3.18 clocks of 8 MHz, and the processor goes on at its next, the fourth; the burst adds 368 dots over the 800 places of
/// a line, 0.146 clocks on average. System memory waits one; a word to the 8-bit board is two cycles. 800 × 449 dots at
/// 25.175 MHz, 400 lines shown (VGA register documentation).
#[test]
fn the_256_colour_budget_is_the_hand_computed_one() {
    let (adapter, registers) = class("linear-256", "320x200x256");
    let budget = Budget::new(&adapter, &registers, &cpu("286-8", &adapter)).unwrap();
    let clocks = |dots: u64| dots * 320 / 1007;
    assert_eq!(budget.frame_clocks, clocks(800 * 449));
    assert_eq!(budget.blanking_clocks, clocks(800 * 49));
    let burst: u32 = (0..27).map(|into| (27 - into).min(33 - 10)).sum();
    let wait = 4.0 + f64::from(burst) / 800.0 * 8.0 / 25.175;
    let by_hand = [
        (MoveKind::Copy, Width::Byte, 5, 4.0 + 1.0 + wait),
        (MoveKind::Copy, Width::Word, 5, 4.0 + 1.0 + 2.0 + 2.0 * wait),
        (MoveKind::Fill, Width::Byte, 4, 3.0 + wait),
        (MoveKind::Fill, Width::Word, 4, 3.0 + 2.0 + 2.0 * wait),
    ];
    for ((kind, width, each, in_blanking, in_frame), (known, bytes, start, clocks)) in
        moves(&budget).into_iter().zip(by_hand)
    {
        assert_eq!((kind, width), (known, bytes));
        assert!((each - clocks).abs() < 0.1, "{kind:?} {width:?}: {each}, by hand {clocks}");
        let fit = |all: u64| ((all - start) as f64 / each) as u64 * u64::from(width.bytes());
        assert_eq!((in_blanking, in_frame), (fit(budget.blanking_clocks), fit(budget.frame_clocks)));
    }
}

/// Behind the beam: the writer begins a line after it and has until the beam
/// of the next frame catches it. By hand for one byte in 21 1/3 clocks, 64 dots:
/// byte b of bank pairs is written at 640... + 64 b and read again at
/// 238,944 + 912 line + 8 offset; 80 bytes a line take 5,120 dots, so the lead of
/// a frame is used up at 4,208 dots a line after some 57 lines.
#[test]
fn bytes_behind_the_beam_end_where_the_beam_catches_up() {
    let (adapter, registers) = class("colour-graphics", "320x200x4");
    let budget = Budget::new(&adapter, &registers, &cpu("8bit-4.77", &adapter)).unwrap();
    // Written: 27 dots to set up, 64 a byte. Read: two bytes every 16 dots, 80 a line of 912.
    let in_time = |byte: u64| 9 * 3 + (byte + 1) * 64 <= 238_944 + byte / 80 * 912 + byte % 80 / 2 * 16;
    let expected = (0..16_000).take_while(|byte| in_time(*byte)).count() as u64;
    assert_eq!(budget.moves[0].behind_beam, expected);
    // A processor faster than the beam follows it all the way.
    let quick = Budget::new(&adapter, &registers, &cpu("386-16", &adapter)).unwrap();
    assert_eq!(quick.moves[3].behind_beam, 16_000);
}

/// Every bus access of a script at its clock. The 8086 Family User's Manual:
/// MOV 4, OUT DX 8, INC 2; one wait state a port cycle; three dots a clock, and
/// an access takes effect at the next character clock of 16 dots.
#[test]
fn steps_take_their_published_clocks() {
    let (adapter, registers) = class("colour-graphics", "320x200x4");
    let text =
        "(version: 1, once: [Work(100), Set(register: \"start_address\", value: 0x0123)], each_frame: [Work(1000)])";
    let mut runner = runner(text, Board::<Plain>::plain(Arc::clone(&adapter), registers), "8bit-4.77");
    let record = runner.next_record();
    let ports = record.events.iter().filter_map(|event| match event {
        Event::Port(PortAccess { at, port, value, .. }) => Some((at.dot, *port, *value)),
        _ => None,
    });
    let index = 4 + 4 + 9;
    let data = 2 + 4 + 9;
    let mut clock = 100;
    let mut expected = Vec::new();
    for (step, port, value) in [(index, 0x3D4, 0x0C), (data, 0x3D5, 0x01), (index, 0x3D4, 0x0D), (data, 0x3D5, 0x23)] {
        clock += step;
        expected.push((u64::div_ceil(clock * 3, 16) * 16, port, value));
    }
    assert_eq!(ports.collect::<Vec<_>>(), expected);
}
