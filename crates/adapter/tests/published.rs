//! Start-up registers against published totals and rates.

use std::process::Command;

use backporch_adapter::Adapter;
use proptest::prelude::*;

/// Adapter, mode, dots a line, lines, line rate and frame rate in hertz.
///
/// Colour-graphics, monochrome and VGA rows: the adapters' Technical References
/// and the VGA register documentation. 14.31818 MHz is four times the
/// subcarrier of SMPTE 170M. EGA: 21.85 kHz published, the rest derived.
const PUBLISHED: &[(&str, &str, u32, u32, f64, f64)] = &[
    ("colour-graphics", "320x200x4", 912, 262, 15_700.0, 59.92),
    ("colour-graphics", "640x200x2", 912, 262, 15_700.0, 59.92),
    ("colour-graphics", "text-40", 912, 262, 15_700.0, 59.92),
    ("colour-graphics", "text-80", 912, 262, 15_700.0, 59.92),
    ("linear-256", "320x200x256", 800, 449, 31_469.0, 70.09),
    ("monochrome", "text-80", 882, 370, 18_432.0, 49.82),
    ("ega", "320x200x16", 912, 262, 15_700.0, 59.92),
    ("ega", "640x200x16", 912, 262, 15_700.0, 59.92),
    ("ega", "640x350x16", 744, 366, 21_850.0, 59.70),
    ("ega", "640x350-text", 744, 366, 21_850.0, 59.70),
    ("vga", "320x200x256", 800, 449, 31_469.0, 70.09),
    ("vga", "320x200x256-planar", 800, 449, 31_469.0, 70.09),
    ("vga", "320x200x16", 800, 449, 31_469.0, 70.09),
    ("vga", "640x200x16", 800, 449, 31_469.0, 70.09),
    ("vga", "640x350x16", 800, 449, 31_469.0, 70.09),
    ("vga", "320x200x4", 800, 449, 31_469.0, 70.09),
    ("vga", "640x200x2", 800, 449, 31_469.0, 70.09),
    ("vga", "720x400-text", 900, 449, 31_469.0, 70.09),
    ("vga", "360x400-text", 900, 449, 31_469.0, 70.09),
    ("vga", "640x480x16", 800, 525, 31_469.0, 59.94),
    // Common practice: a vertical total of 20Dh, two lines more than 640 × 480.
    ("vga", "320x240x256-planar", 800, 527, 31_469.0, 59.71),
];

fn near(found: f64, wanted: f64, part: f64) -> bool {
    (found / wanted - 1.0).abs() <= part
}

/// Half dot-clock modes show the same line in fewer, longer dots of the full
/// clock: totals are counted in dots of the full clock.
#[test]
fn start_up_rows_give_the_published_totals_and_rates() {
    for &(name, mode, dots, lines, line_rate, frame_rate) in PUBLISHED {
        let adapter = Adapter::built_in(name).unwrap();
        let signal = adapter.signal(&adapter.start_up(adapter.mode(mode).unwrap())).unwrap();
        assert_eq!((signal.horizontal.total(), signal.vertical.total()), (dots, lines), "{name} {mode}");
        assert!(near(signal.line_rate_hz(), line_rate, 1e-4), "{name} {mode}: {} Hz", signal.line_rate_hz());
        assert!(near(signal.frame_rate_hz(), frame_rate, 1e-4), "{name} {mode}: {} Hz", signal.frame_rate_hz());
    }
}

/// Every mode of every adapter makes a signal.
#[test]
fn every_mode_is_stable() {
    for name in backporch_adapter::ADAPTERS.names() {
        let adapter = Adapter::built_in(name).unwrap();
        for mode in &adapter.profile().modes {
            let signal = adapter.signal(&adapter.start_up(mode));
            assert!(signal.is_ok(), "{name} {}: {signal:?}", mode.name);
        }
    }
}

/// The numbers of the line of a table of `edid-decode` that begins so.
fn edid_row(list: &str, row: &str) -> Option<(f64, f64, f64)> {
    let output = backporch_test_tools::output(Command::new("edid-decode").arg(list))?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let line = text.lines().find(|line| line.contains(row)).unwrap_or_else(|| panic!("no {row} in {text}")).to_string();
    let before = |unit: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        let at = words.iter().position(|word| *word == unit).unwrap();
        words[at - 1].parse::<f64>().unwrap()
    };
    Some((before("Hz"), before("kHz") * 1e3, before("MHz") * 1e6))
}

/// VESA Display Monitor Timing 04h and the 720 × 400 entry of the established
/// timings (E-EDID), as `edid-decode` prints them.
#[test]
fn vesa_tables_agree() {
    for (mode, list, row) in [
        ("640x480x16", "--list-dmts", "640x480    59.94"),
        ("720x400-text", "--list-established-timings", "720x400    70.0"),
    ] {
        let adapter = Adapter::built_in("vga").unwrap();
        let signal = adapter.signal(&adapter.start_up(adapter.mode(mode).unwrap())).unwrap();
        let Some((frame_rate, line_rate, clock)) = edid_row(list, row) else { return };
        assert!(near(signal.frame_rate_hz(), frame_rate, 1e-3), "{mode}: {} and {frame_rate}", signal.frame_rate_hz());
        assert!(near(signal.line_rate_hz(), line_rate, 1e-3), "{mode}: {} and {line_rate}", signal.line_rate_hz());
        assert!(near(signal.dot_clock.get(), clock, 1e-3), "{mode}: {} and {clock}", signal.dot_clock.get());
    }
}

proptest! {
    /// Nht + 1, Nhd, Nhsp, Nhsw and their vertical fellows (MC6845 CRT
    /// Controller data sheet, timing relations): line time is (R0 + 1) tc,
    /// frame time (R4 + 1)(R9 + 1) + R5 lines.
    #[test]
    fn timing_relations_of_the_6845_hold(
        r0 in 30u64..=255, r1 in 1u64..20, r2 in 20u64..25, r3 in 1u64..=5,
        r4 in 20u64..=127, r5 in 0u64..32, r6 in 1u64..=10, r7 in 10u64..=12, r9 in 0u64..32,
    ) {
        let adapter = Adapter::built_in("colour-graphics").unwrap();
        let mut registers = adapter.start_up(adapter.mode("text-80").unwrap());
        for (name, value) in [
            ("horizontal_total", r0), ("displayed", r1), ("sync_position", r2), ("sync_width", r3),
            ("vertical_total", r4), ("vertical_adjust", r5), ("vertical_displayed", r6),
            ("vertical_sync_position", r7), ("max_scan_line", r9),
        ] {
            adapter.set(&mut registers, adapter.field(name).unwrap(), value).unwrap();
        }
        let lines = (r4 + 1) * (r9 + 1) + r5;
        let signal = adapter.signal(&registers);
        prop_assume!(r7 * (r9 + 1) + 16 <= lines);
        let signal = signal.unwrap();
        let tc = 8.0 / 14_318_180.0;
        let line_time = (r0 + 1) as f64 * tc;
        prop_assert!(near(1.0 / signal.line_rate_hz(), line_time, 1e-9));
        prop_assert!(near(1.0 / signal.frame_rate_hz(), lines as f64 * line_time, 1e-9));
        prop_assert_eq!(u64::from(signal.horizontal.active()), r1 * 8);
        prop_assert_eq!(u64::from(signal.horizontal.front_porch()), (r2 - r1) * 8);
        prop_assert_eq!(u64::from(signal.horizontal.sync()), r3 * 8);
        prop_assert_eq!(u64::from(signal.vertical.active()), r6 * (r9 + 1));
        prop_assert_eq!(u64::from(signal.vertical.front_porch()), (r7 - r6) * (r9 + 1));
        prop_assert_eq!(signal.vertical.sync(), 16);
    }

    /// Registers of any bytes make a signal or say why not; nothing panics.
    #[test]
    fn nonsense_is_answered_in_words(which in 0usize..5, bytes in prop::collection::vec(any::<u8>(), 128), kind in 0u8..3) {
        let (name, _) = backporch_adapter::ADAPTERS.entries()[which];
        let adapter = Adapter::built_in(name).unwrap();
        let mut registers = adapter.start_up(adapter.default_mode());
        for bank in backporch_adapter::Bank::ALL {
            for index in 0..bank.len() {
                let byte = [0, 0xFF, bytes[usize::from(index)]][usize::from(kind)];
                registers.set_cell(backporch_adapter::Cell::new(bank, index).unwrap(), byte);
            }
        }
        match adapter.signal(&registers) {
            Ok(signal) => prop_assert!(signal.line_rate_hz() > 0.0),
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}
