//! Where a line's row transfer falls and which row it loads.

use std::collections::BTreeMap;

use backporch_raster::stepper::Stepper;
use backporch_raster::{Board, Drive, Frame, QuietFrame, Span};

use super::{Row, adapter, layers, registers, rows};

const TABLE: &str = include_str!("data/row-transfers.csv");

/// Memory addresses of a line, byte by byte.
fn addresses(spans: &[Span]) -> Vec<u32> {
    spans.iter().flat_map(|span| span.address..span.address + span.len).collect()
}

/// The addresses a row of the table stands for: the line's own row, then from the transfer on the one it loaded.
fn wanted(row: &Row) -> Vec<u32> {
    let base = row.number("line_base_byte");
    let address = |x: u32| {
        let loaded = row.get("transfer_x").filter(|from| x >= *from).and_then(|_| row.get("row_loaded"));
        (loaded.unwrap_or(base >> 8) << 8 | (base + x) & 0xFF) & 0xFFFF
    };
    (0..8 * (row.number("r1") + 1)).map(address).collect()
}

/// The addresses of a picture line, each of which is two scan lines.
fn drawn(frame: &Frame, picture_line: u32) -> Vec<u32> {
    addresses(frame.spans_of(&frame.lines[2 * picture_line as usize + 1]))
}

/// Every row of the table, by plan, span path and stepper.
#[test]
fn lines_fetch_what_the_gates_fetch() {
    let adapter = adapter();
    let tap = layers().by_design();
    let rows = rows(TABLE);
    assert_eq!(rows.len(), 3000);
    let mut settings: BTreeMap<(u32, u32), Vec<&Row>> = BTreeMap::new();
    for row in &rows {
        settings.entry((row.number("r1"), row.number("start_address"))).or_default().push(row);
    }
    for ((r1, start), rows) in settings {
        let [high, low] = u16::try_from(start).unwrap().to_be_bytes();
        let registers = registers(&[(0x01, r1 as u8), (0x0C, high), (0x0D, low)]);
        let plan = QuietFrame::new(&adapter, &registers, &tap).plan(&tap);
        let last = rows.iter().map(|row| row.number("picture_line")).max().unwrap_or(0);
        let until = u64::from(2 * last + 2) * 800 + 1;
        let mut board = Board::new(adapter.clone(), registers.clone(), tap.clone());
        let mut stepper = Stepper::new(adapter.clone(), registers, tap.clone());
        board.run_to(until);
        stepper.run_to(until);
        for row in rows {
            let (wanted, line) = (wanted(row), row.number("picture_line"));
            let place = format!("R1 {r1}, start {start}, line {line}");
            assert_eq!(addresses(plan.spans_of(&plan.lines[line as usize])), wanted, "plan: {place}");
            assert_eq!(drawn(board.frame_so_far(), line), wanted, "span path: {place}");
            assert_eq!(drawn(Drive::frame_so_far(&stepper), line), wanted, "stepper: {place}");
        }
    }
}
