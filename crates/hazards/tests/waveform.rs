//! The value change dump in an independent reader; the chart of a frame.

#[path = "../../script/tests/setup/mod.rs"]
mod setup;

use std::io::Cursor;

use backporch_hazards::{beam_chart, write_vcd};
use backporch_raster::Board;
use backporch_script::FrameRecord;
use setup::{class, runner, scroll};
use wellen::simple::{Waveform, read_from_reader};
use wellen::{TimescaleUnit, VarRef};

/// Rising edges of a signal, in picoseconds.
fn rising(wave: &mut Waveform, name: &str) -> Vec<u64> {
    changes(wave, name).windows(2).filter(|pair| pair[0].1 == "0" && pair[1].1 == "1").map(|pair| pair[1].0).collect()
}

/// Changes of a signal: time and bits.
fn changes(wave: &mut Waveform, name: &str) -> Vec<(u64, String)> {
    let var: VarRef = wave.hierarchy().lookup_var(&["board"], name).expect("the signal is in the dump");
    let signal_ref = wave.hierarchy()[var].signal_ref();
    wave.load_signals(&[signal_ref]);
    let times = wave.time_table().to_vec();
    let signal = wave.get_signal(signal_ref).unwrap();
    signal.iter_changes().map(|(at, value)| (times[at as usize], value.to_bit_string().unwrap())).collect()
}

fn dump(records: &[FrameRecord], runner: &backporch_script::Runner) -> Waveform {
    let mut bytes = Vec::new();
    write_vcd(&mut bytes, runner.board().adapter(), runner.board().signals(), records).unwrap();
    read_from_reader(Cursor::new(bytes)).expect("an independent reader opens it")
}

#[test]
fn edges_give_the_line_and_frame_rates_of_the_signal() {
    for (name, mode) in
        [("colour-graphics", "320x200x4"), ("linear-256", "320x200x256"), ("colour-graphics", "text-80")]
    {
        let (adapter, registers) = class(name, mode);
        let signal = adapter.signal(&registers).unwrap();
        let text = "(version: 1, each_frame: [Wait(RetraceStart), Port(port: 0x3D4, value: 0x0E)])";
        let mut runner = runner(text, Board::plain(adapter, registers), "286-8");
        runner.board_mut().keep_signals();
        let records: Vec<FrameRecord> = (0..3).map(|_| runner.next_record()).collect();
        let mut wave = dump(&records, &runner);
        assert_eq!(
            wave.hierarchy().timescale().map(|scale| (scale.factor, scale.unit)),
            Some((1, TimescaleUnit::PicoSeconds))
        );

        let rate = |edges: &[u64]| {
            let span = edges[edges.len() - 1] - edges[0];
            (edges.len() - 1) as f64 * 1e12 / span as f64
        };
        let lines = rising(&mut wave, "horizontal_sync");
        assert_eq!(lines.len(), 3 * signal.vertical.total() as usize, "{name} {mode}");
        assert!((rate(&lines) / signal.line_rate_hz() - 1.0).abs() < 1e-8, "{name} {mode}");
        let frames = rising(&mut wave, "vertical_sync");
        assert_eq!(frames.len(), 3);
        assert!((rate(&frames) / signal.frame_rate_hz() - 1.0).abs() < 1e-8, "{name} {mode}");
        let shown = rising(&mut wave, "display_enable");
        assert_eq!(shown.len(), 3 * signal.vertical.active() as usize);
    }
}

#[test]
fn writes_and_addresses_stand_in_the_dump() {
    let mut runner = scroll("scroll-clean", 0);
    runner.board_mut().keep_signals();
    let records: Vec<FrameRecord> = (0..3).map(|_| runner.next_record()).collect();
    let mut wave = dump(&records, &runner);
    // Four port writes a pass: index and data of two bytes; two passes.
    assert_eq!(rising(&mut wave, "port_write").len(), 8);
    // Passes 0 and 1 redraw 200 rows of one word, both bytes at once; of pass 2
    // there is time for 37 scan lines from retrace to the frame's end: 9,406
    // clocks of 8 MHz, at 55 a row (MOVSW 18 + 4, two ADD, LOOP 17; each of two accesses waits 4, for the board is ready 397 ns
    // after the command) and a few more where the board is busy.
    let rows = rising(&mut wave, "memory_write").len() - 2 * 200;
    assert!((9406 / 56 - 2..=9406 / 55).contains(&rows), "{rows}");
    let addresses = changes(&mut wave, "memory_address");
    // 400 lines of 32 characters, each eight bytes after the last but for the doubled lines.
    let first: Vec<u32> = addresses.iter().filter_map(|(_, bits)| u32::from_str_radix(bits, 2).ok()).take(33).collect();
    assert_eq!(first[..32], (0..32).map(|char| char * 8).collect::<Vec<_>>());
    assert_eq!(first[32], 0, "the second scan line of the row");
    assert_eq!(rising(&mut wave, "latch").len(), 3);
}

#[test]
fn the_chart_marks_what_happened_where_the_beam_was() {
    let mut runner = scroll("scroll-late", 0);
    let records: Vec<FrameRecord> = (0..3).map(|_| runner.next_record()).collect();
    let svg = beam_chart(&records[1], runner.board().adapter());
    assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n"));
    // Two of the four port writes hold a byte of the start address.
    assert_eq!(svg.matches("port 0x3d5 = ").count() + svg.matches("port 0x3D5 = ").count(), 2);
    assert_eq!(svg.matches("end of the wait for retrace to begin").count(), 1);
    if let Ok(path) = std::env::var("CHART_OUT") {
        std::fs::write(path, svg).unwrap();
    }
}
