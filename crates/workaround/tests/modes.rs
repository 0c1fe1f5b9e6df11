//! From need to mode: settings for a picture, held against published timings and against the counters.

use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, Registers};
use backporch_raster::{Board, Plain, QuietFrame};
use backporch_signal::{Axis, Formula, Limit, MONITORS, Monitor};
use backporch_workaround::mode_search::{ModeNeed, ModeSetting, RateWanted, modes};
use proptest::prelude::*;

fn monitor(name: &str) -> Monitor {
    Monitor::built_in(name).unwrap()
}

fn need(width: u32, height: u32, rate: f64, colours: u32) -> ModeNeed {
    ModeNeed { width, height, rate: RateWanted::about(rate), colours }
}

fn found(board: &str, on: &str, need: &ModeNeed) -> Vec<ModeSetting> {
    modes(&Adapter::built_in(board).unwrap(), &monitor(on), need).settings
}

fn in_mode<'a>(settings: &'a [ModeSetting], mode: &str) -> &'a ModeSetting {
    settings.iter().find(|setting| setting.mode == mode).unwrap_or_else(|| panic!("{mode} makes none"))
}

fn parts(axis: &Axis) -> [u32; 4] {
    [axis.active(), axis.front_porch(), axis.sync(), axis.back_porch()]
}

/// VESA Display Monitor Timing 04h: 640 x 480 of 800 x 525, a sync of 96 dots in 160 of blanking, porches of 10 and 33 lines
/// around one of 2, both polarities negative. It comes out of the need alone, whatever mode it begins with. (The class's
/// registers place horizontal sync two characters later than it is sent, which is not modelled.)
#[test]
fn the_standard_timing_comes_out_of_its_need() {
    let settings = found("vga", "fixed-31", &need(640, 480, 60.0, 16));
    let own = in_mode(&settings, "640x480x16");
    let [active, front, sync, back] = parts(&own.signal.horizontal);
    assert_eq!((active, sync, front + back), (640, 96, 64));
    assert_eq!(parts(&own.signal.vertical), [480, 10, 2, 33]);
    assert_eq!(own.signal.polarity.unwrap().to_string(), "horizontal negative and vertical negative");
    let other = in_mode(&settings, "640x350x16");
    assert_eq!(other.signal.horizontal.total(), 800);
    assert!((other.signal.frame_rate_hz() - 59.94).abs() < 0.15);
    assert_eq!(other.signal.polarity, own.signal.polarity);
}

/// A mode whose picture is the one wanted is left as it is: 320 x 200 at 60 Hz is the colour-graphics class's own
/// (Technical Reference: 262 lines of 912 dots), 70 Hz the VGA class's.
#[test]
fn what_a_mode_shows_already_is_left_alone() {
    for (board, on, mode, need) in [
        ("colour-graphics", "fixed-15", "320x200x4", need(320, 200, 60.0, 4)),
        ("vga", "fixed-31", "320x200x256", need(320, 200, 70.0, 256)),
        ("linear-256", "fixed-31", "320x200x256", need(320, 200, 70.0, 256)),
    ] {
        let adapter = Adapter::built_in(board).unwrap();
        let settings = found(board, on, &need);
        let setting = in_mode(&settings, mode);
        let own = adapter.start_up(adapter.mode(mode).unwrap());
        let differing =
            adapter.fields().filter(|(field, _)| adapter.get(&own, *field) != adapter.get(&setting.registers, *field));
        let names: Vec<&str> = differing.map(|(_, field)| field.name.as_str()).collect();
        assert!(names.is_empty(), "{board}: {names:?}");
    }
}

/// 50 Hz, 256 x 224 on a fixed 31 kHz monitor: 448 of 629 lines of 800 dots, 31,469 Hz / 629 = 50.03 Hz (by hand); 630 lines
/// would be below the monitor's 50 Hz.
#[test]
fn fifty_hertz_on_a_fixed_monitor() {
    let settings = found("vga", "fixed-31", &need(256, 224, 50.0, 16));
    let best = &settings[0];
    assert_eq!((best.signal.horizontal.active(), best.signal.horizontal.total()), (512, 800));
    assert_eq!((best.signal.vertical.active(), best.signal.vertical.total()), (448, 629));
    assert!((best.signal.frame_rate_hz() - 50.03).abs() < 0.005);
    assert_eq!((best.scan_lines, best.pitch_bytes, best.memory_bytes), (2, 256, 57_344));
    // Its vertical registers end at 545 lines (9 bits, derived).
    assert!(found("linear-256", "fixed-31", &need(256, 224, 50.0, 16)).is_empty());
}

/// On a monitor of many rates the porches are those of the formula, with what the rate leaves over around the picture.
#[test]
fn porches_follow_the_formula_on_a_monitor_of_many_rates() {
    let (on, need) = (monitor("multi"), need(640, 400, 60.0, 16));
    let adapter = Adapter::built_in("vga").unwrap();
    let settings = modes(&adapter, &on, &need).settings;
    assert!(!settings.is_empty());
    for setting in &settings {
        let signal = &setting.signal;
        let [active, front, sync, back] = parts(&signal.horizontal);
        let least = Formula::Gtf.least_line(active, 8, signal.dot_clock).unwrap();
        let total = signal.horizontal.total();
        assert!(total >= least, "{total} dots, {least} at least");
        assert!((f64::from(sync) - 0.08 * f64::from(total)).abs() <= 4.0, "sync is 8 % to the nearest character");
        assert!((front + sync).abs_diff(back) <= 8, "sync ends in the middle of blanking");
        let line_rate = backporch_signal::Hertz::new(signal.line_rate_hz()).unwrap();
        let shortest = Formula::Gtf.least_frame(active, signal.vertical.active(), line_rate).unwrap();
        assert_eq!(signal.vertical.sync(), 3);
        assert!(signal.vertical.total() >= shortest.total());
        assert!(signal.vertical.front_porch() >= 1 && signal.vertical.back_porch() >= shortest.back_porch());
    }
}

#[test]
fn what_no_mode_makes_is_told_by_mode() {
    let reasons = |board: &str, on: &str, need: &ModeNeed| {
        let found = modes(&Adapter::built_in(board).unwrap(), &monitor(on), need);
        assert!(found.settings.is_empty());
        found.without.iter().map(|(_, reason)| reason.to_string()).collect::<Vec<_>>().join("; ")
    };
    assert!(reasons("colour-graphics", "fixed-15", &need(320, 200, 60.0, 16)).contains("it has 4 colours"));
    assert!(reasons("colour-graphics", "fixed-15", &need(324, 200, 60.0, 2)).contains("character clocks of 8 pixels"));
    assert!(reasons("vga", "fixed-15", &need(640, 480, 60.0, 16)).contains("at rates the monitor takes"));
    assert!(reasons("vga", "fixed-31", &need(640, 480, 100.0, 16)).contains("rate"));
    assert!(reasons("colour-graphics", "fixed-15", &need(320, 220, 60.0, 4)).contains("memory"));
}

/// Dots between the starts of two vertical syncs, and picture lines and pixels between them, counted on the board.
fn counted(adapter: &Arc<Adapter>, registers: &Registers) -> (u64, u32, u32) {
    let mut board = Board::plain(Arc::clone(adapter), registers.clone());
    let dots = u64::from(adapter.format(adapter.format_index(registers)).char_dots);
    let sync_start = |board: &mut Board| {
        while board.beam().vertical_sync {
            board.run_to(board.beam().dot + dots);
        }
        while !board.beam().vertical_sync {
            board.run_to(board.beam().dot + dots);
        }
        board.beam().dot
    };
    let (first, second) = (sync_start(&mut board), sync_start(&mut board));
    let frame = QuietFrame::new(adapter, registers, &Plain);
    let format = frame.format();
    let pixels = u32::from(frame.timing().displayed) * format.pixels_per_char();
    (second - first, frame.picture_lines(), pixels)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// No need and no monitor is too odd: whatever is found is still taken by the monitor and of the size wanted.
    #[test]
    fn nothing_is_too_odd(
        size in any::<(u32, u32)>(), rate in 1e-3f64..1e9, asked in any::<bool>(), board in 0..ADAPTERS.names().count(),
        line in (1e-3f64..1e9, 1e-3f64..1e9), frame in (1e-3f64..1e9, 1e-3f64..1e9), sync in (1e-6f64..1e6, 1e-6f64..1e6),
        small in any::<bool>(), formula in prop::option::of(prop::sample::select(vec![Formula::Gtf, Formula::Cvt])),
    ) {
        let limit = |(one, other): (f64, f64)| Limit { from: one.min(other), to: one.max(other) };
        let monitor = Monitor {
            line_rate_hz: limit(line),
            frame_rate_hz: limit(frame),
            horizontal_sync_us: limit(sync),
            horizontal_blanking_us: 0.0,
            sync_polarities: Vec::new(),
            porches: formula,
            ..monitor("multi")
        };
        let (width, height) = if small { (size.0 % 1024, size.1 % 1024) } else { size };
        let rate = RateWanted::about(rate).filter(|_| asked);
        let adapter = Adapter::built_in(ADAPTERS.names().nth(board).unwrap()).unwrap();
        for setting in modes(&adapter, &monitor, &ModeNeed { width, height, rate, colours: 2 }).settings {
            prop_assert!(monitor.judge(&setting.signal).accepts());
            let frame = QuietFrame::new(&adapter, &setting.registers, &Plain);
            prop_assert_eq!(frame.picture_lines(), height);
        }
    }

    /// Whatever the need: each setting has the size, the colours and the rate, the monitor takes it, and the board's own
    /// counters make a frame of just that many dots.
    #[test]
    fn every_setting_is_what_was_asked_for(
        chars in 16u32..=45, height in 100u32..=480, rate in 48u32..=90, colours in 2u32..=256,
        board in 0..ADAPTERS.names().count(), on in 0..MONITORS.names().count(),
    ) {
        let adapter = Adapter::built_in(ADAPTERS.names().nth(board).unwrap()).unwrap();
        let monitor = monitor(MONITORS.names().nth(on).unwrap());
        let need = need(chars * 8, height, f64::from(rate), colours);
        let found = modes(&adapter, &monitor, &need);
        for setting in &found.settings {
            let signal = &setting.signal;
            prop_assert!(monitor.judge(signal).accepts());
            prop_assert!((signal.frame_rate_hz() - f64::from(rate)).abs() <= 0.5);
            prop_assert!(setting.colours >= colours);
            prop_assert_eq!(adapter.signal(&setting.registers), Ok(*signal));
            prop_assert!(setting.memory_bytes <= adapter.memory().bytes);
        }
        if let Some(largest) = found.settings.first() {
            let dots = u64::from(largest.signal.horizontal.total()) * u64::from(largest.signal.vertical.total());
            prop_assert_eq!(counted(&adapter, &largest.registers), (dots, height, chars * 8), "{}", largest.mode);
        }
    }
}
