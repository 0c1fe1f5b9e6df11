//! Registers set to nonsense never hang, panic or take memory without bound.

use backporch_adapter::{ADAPTERS, Adapter, Bank, Cell, Registers};
use backporch_raster::{Board, Plain, QuietFrame, View};
use proptest::prelude::*;

/// Lines, segments and pixels that a frame may have at most: it is cut at
/// 2^21 dots or 2^14 lines, whichever comes first, and one line more.
const MOST_LINES: usize = 1 << 14;
const MOST_VALUES: usize = (1 << 21) + (4096 * 32);

fn try_out(adapter: &str, fill: impl Fn(usize) -> u8) -> Result<(), TestCaseError> {
    let adapter = Adapter::built_in(adapter).unwrap();
    let mut registers: Registers = adapter.start_up(adapter.default_mode());
    let cells = Bank::ALL.into_iter().flat_map(|bank| (0..bank.len()).filter_map(move |at| Cell::new(bank, at)));
    for (position, cell) in cells.enumerate() {
        registers.set_cell(cell, fill(position));
    }
    let signal = adapter.signal(&registers);
    let _ = QuietFrame::new(&adapter, &registers, &Plain).plan(&Plain);
    let mut board = Board::plain(adapter, registers);
    for _ in 0..2 {
        let frame = board.run_frame();
        prop_assert!(frame.lines.len() <= MOST_LINES && frame.values.len() <= MOST_VALUES);
        prop_assert!(!frame.unstable || frame.lines.iter().map(|line| u64::from(line.dots)).sum::<u64>() > 0);
        let (width, height) = frame.picture_size();
        if u64::from(width) * u64::from(height) < 1 << 22 {
            let _ = frame.picture(View::Picture);
        }
    }
    if let Err(error) = signal {
        prop_assert!(!error.to_string().is_empty());
    }
    Ok(())
}

#[test]
fn all_zero_and_all_ones() {
    for adapter in ADAPTERS.names() {
        try_out(adapter, |_| 0).unwrap();
        try_out(adapter, |_| 0xFF).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes(which in 0..ADAPTERS.entries().len(), bytes in prop::collection::vec(any::<u8>(), 128)) {
        try_out(ADAPTERS.entries()[which].0, |at| bytes[at % bytes.len()])?;
    }

    #[test]
    fn a_total_smaller_than_displayed(which in 0..ADAPTERS.entries().len(), total in 0u8..4, rows in 0u8..4) {
        let adapter = Adapter::built_in(ADAPTERS.entries()[which].0).unwrap();
        let start = adapter.start_up(adapter.default_mode());
        let all: Vec<u8> = Bank::ALL.into_iter()
            .flat_map(|bank| (0..bank.len()).filter_map(move |at| Cell::new(bank, at)))
            .map(|cell| start.cell(cell))
            .collect();
        // Horizontal and vertical total of the 6845 and of the EGA and VGA kind.
        try_out(ADAPTERS.entries()[which].0, |at| match at {
            0 => total,
            4 | 6 => rows,
            _ => all[at],
        })?;
    }
}

/// Writes that keep the character counter away from its total cannot make a
/// line without end.
#[test]
fn a_line_kept_from_ending_is_cut() {
    let adapter = Adapter::built_in("colour-graphics").unwrap();
    let registers = adapter.start_up(adapter.mode("text-80").unwrap());
    let mut board = Board::plain(adapter, registers);
    let mut dot = 0;
    board.write_port(0x3D4, 0);
    while board.beam().frame == 0 && dot < 1 << 22 {
        dot += 8 * 50;
        board.run_to(dot);
        let behind = (board.beam().char + 200) as u8;
        board.write_port(0x3D5, behind);
    }
    let frame = board.take_frame().expect("a frame that was cut");
    assert!(frame.unstable);
    assert!(frame.lines.iter().all(|line| line.dots <= 4096 * 16));
}
