//! What the built-in profiles hold, against what the classes are known for.

use std::collections::BTreeSet;

use backporch_adapter::{ADAPTERS, AccessSlots, Adapter, MemoryBus, Role};
use backporch_signal::{Monitor, Polarity, Reading, SyncPolarity};

/// Class, firmware mode number, name of the mode, characters in a row.
///
/// 0 to 7: firmware listing of the Technical Reference. 0Dh to 10h: Technical
/// Reference, enhanced graphics adapter. 12h and 13h, and all numbers of the
/// VGA class: common practice.
const NUMBERS: &[(&str, u8, &str, u8)] = &[
    ("colour-graphics", 0x00, "text-40", 40),
    ("colour-graphics", 0x01, "text-40", 40),
    ("colour-graphics", 0x02, "text-80", 80),
    ("colour-graphics", 0x03, "text-80", 80),
    ("colour-graphics", 0x04, "320x200x4", 40),
    ("colour-graphics", 0x05, "320x200x4", 40),
    ("colour-graphics", 0x06, "640x200x2", 80),
    ("monochrome", 0x07, "text-80", 80),
    ("ega", 0x00, "320x350-text", 40),
    ("ega", 0x01, "320x350-text", 40),
    ("ega", 0x02, "640x350-text", 80),
    ("ega", 0x03, "640x350-text", 80),
    ("ega", 0x04, "320x200x4", 40),
    ("ega", 0x05, "320x200x4", 40),
    ("ega", 0x06, "640x200x2", 80),
    ("ega", 0x0D, "320x200x16", 40),
    ("ega", 0x0E, "640x200x16", 80),
    ("ega", 0x10, "640x350x16", 80),
    ("linear-256", 0x13, "320x200x256", 40),
    ("vga", 0x00, "360x400-text", 40),
    ("vga", 0x01, "360x400-text", 40),
    ("vga", 0x02, "720x400-text", 80),
    ("vga", 0x03, "720x400-text", 80),
    ("vga", 0x04, "320x200x4", 40),
    ("vga", 0x05, "320x200x4", 40),
    ("vga", 0x06, "640x200x2", 80),
    ("vga", 0x07, "720x400-mono-text", 80),
    ("vga", 0x0D, "320x200x16", 40),
    ("vga", 0x0E, "640x200x16", 80),
    ("vga", 0x0F, "640x350x4-mono", 80),
    ("vga", 0x10, "640x350x16", 80),
    ("vga", 0x11, "640x480x2", 80),
    ("vga", 0x12, "640x480x16", 80),
    ("vga", 0x13, "320x200x256", 40),
];

/// Modes that programs make by changing registers of another: firmware has no
/// number for them (common practice).
const WITHOUT_NUMBER: &[(&str, &str)] = &[
    ("monochrome", "720x348x2"),
    ("vga", "320x200x256-planar"),
    ("vga", "320x240x256-planar"),
    ("vga", "360x480x256-planar"),
];

/// Classes based on another, whose modes they have.
const DERIVED: [&str; 5] = ["linear-256-plain", "monochrome-16", "vga-late-load", "vga-quick", "vga-slow"];

/// 16.000 MHz through 882 dots a line and 370 lines a frame, on a monitor that takes both (common practice).
#[test]
fn the_other_monochrome_crystal_runs_a_little_slower() {
    let rates = |class: &str| {
        let adapter = Adapter::built_in(class).unwrap();
        let signal = adapter.signal(&adapter.start_up(adapter.default_mode())).unwrap();
        assert!(Monitor::built_in("fixed-18").unwrap().judge(&signal).accepts(), "{class}");
        (signal.line_rate_hz(), signal.frame_rate_hz())
    };
    let ((first_line, first_frame), (line, frame)) = (rates("monochrome"), rates("monochrome-16"));
    assert!((first_line - 18_432.0).abs() < 1.0 && (first_frame - 49.82).abs() < 0.01);
    assert!((line - 16e6 / 882.0).abs() < 0.1 && (frame - 16e6 / 882.0 / 370.0).abs() < 0.001);
}

/// Cards of one class differ in what an access costs, and in nothing that shows.
#[test]
fn cards_of_the_vga_class_are_told_by_their_memory() {
    let vga = Adapter::built_in("vga").unwrap();
    let cards: Vec<_> = vga.other_cards().map(|card| (card.name().to_string(), card.memory().bus.access_ns)).collect();
    // 300 ns to 2 us: Graphics Programming Black Book, chapter 45.
    assert_eq!(cards, [("vga-quick".to_string(), 300), ("vga-slow".to_string(), 2000)]);
    assert_eq!(Adapter::built_in("monochrome").unwrap().other_cards().count(), 0);
}

/// The bandwidth bit leaves the processor three of five memory cycles instead of one (Technical Reference, enhanced graphics
/// adapter), and the firmware sets it where a picture has 320 pixels; screen off gives memory to the processor (VGA
/// register documentation).
#[test]
fn what_an_access_costs_follows_the_registers() {
    let ega = Adapter::built_in("ega").unwrap();
    for mode in &ega.profile().modes {
        let slots = ega.bus(&ega.start_up(mode)).slots.unwrap();
        let shares = if mode.name.starts_with("320") { 3 } else { 1 };
        assert_eq!((slots.every, slots.count), (32, shares), "{}", mode.name);
    }
    for name in ["vga", "vga-slow", "vga-quick"] {
        let vga = Adapter::built_in(name).unwrap();
        let mut registers = vga.start_up(vga.default_mode());
        let shown = vga.bus(&registers).access_ns;
        vga.set(&mut registers, vga.field_with(Role::ScreenOff).unwrap(), 1).unwrap();
        assert_eq!(vga.bus(&registers).access_ns < shown, name == "vga", "{name}: a card's own time holds always");
    }
    // What was measured holds in every mode.
    let measured = ega.on_bus(MemoryBus { slots: Some(AccessSlots::new(9, 16)), ..ega.memory().bus });
    assert!(ega.has_bus_cases() && !measured.has_bus_cases());
    assert_eq!(measured.bus(&ega.start_up(ega.mode("320x200x16").unwrap())), measured.memory().bus);
}

#[test]
fn modes_carry_their_firmware_numbers() {
    let mut found = BTreeSet::new();
    // Classes based on another have its modes.
    for class in ADAPTERS.names().filter(|class| !DERIVED.contains(class)) {
        let adapter = Adapter::built_in(class).unwrap();
        for number in 0..=0x7F {
            if let Some((mode, firmware)) = adapter.mode_numbered(number) {
                found.insert((class.to_string(), number, mode.name.clone(), firmware.columns));
            }
        }
        for mode in adapter.profile().modes.iter().filter(|mode| mode.firmware.is_none()) {
            assert!(WITHOUT_NUMBER.contains(&(class, mode.name.as_str())), "{class} {}", mode.name);
        }
    }
    let known =
        NUMBERS.iter().map(|(class, number, mode, columns)| (class.to_string(), *number, mode.to_string(), *columns));
    assert_eq!(found, known.collect());
}

/// Text is cleared with grey blanks on black, graphics with zeros (firmware
/// listing of the Technical Reference).
#[test]
fn a_mode_set_clears_memory_as_the_mode_shows_it() {
    for class in ADAPTERS.names() {
        let adapter = Adapter::built_in(class).unwrap();
        for mode in &adapter.profile().modes {
            let Some(firmware) = &mode.firmware else { continue };
            let format = adapter.format(adapter.format_index(&adapter.start_up(mode)));
            let wanted = if format.serialise.is_text() { (0x20, 0x07) } else { (0, 0) };
            assert_eq!(firmware.clears_with, wanted, "{class} {}", mode.name);
        }
    }
}

/// What every controller of the 6845's kind has (MC6845 CRT Controller data
/// sheet, R0 to R15), and the sixteen palette registers of the EGA and VGA
/// classes (VGA register documentation).
#[test]
fn every_class_has_the_roles_of_its_controller() {
    for class in ADAPTERS.names() {
        let adapter = Adapter::built_in(class).unwrap();
        for role in [
            Role::HorizontalTotal,
            Role::HorizontalDisplayed,
            Role::HorizontalSyncStart,
            Role::VerticalTotal,
            Role::VerticalDisplayed,
            Role::VerticalSyncStart,
            Role::RowHeight,
            Role::StartAddress,
            Role::CursorAddress,
        ] {
            let field = adapter.field_with(role).map(|field| adapter.field_info(field).role);
            assert_eq!(field, Some(role), "{class}");
        }
        let palette = adapter.fields().filter(|(_, field)| field.role == Role::Palette).count();
        assert_eq!(palette, if class == "ega" || class.starts_with("vga") { 16 } else { 0 }, "{class}");
    }
}

/// Polarity of sync (horizontal, vertical) by class and lines shown: a monitor of the VGA class takes its picture height from
/// it (VGA register documentation, miscellaneous output register), the two-rate monitor its line rate (Technical Reference,
/// enhanced graphics adapter); connectors of the other two in their technical references.
const POLARITIES: &[(&str, u32, Polarity, Polarity, &str)] = &[
    ("colour-graphics", 200, Polarity::Positive, Polarity::Positive, "fixed-15"),
    ("monochrome", 350, Polarity::Positive, Polarity::Negative, "fixed-18"),
    ("monochrome", 348, Polarity::Positive, Polarity::Negative, "fixed-18"),
    ("ega", 200, Polarity::Positive, Polarity::Positive, "fixed-15"),
    ("ega", 350, Polarity::Positive, Polarity::Negative, "fixed-21"),
    ("vga", 400, Polarity::Negative, Polarity::Positive, "fixed-31"),
    ("vga", 350, Polarity::Positive, Polarity::Negative, "fixed-31"),
    ("vga", 480, Polarity::Negative, Polarity::Negative, "fixed-31"),
];

#[test]
fn every_mode_has_the_polarity_its_monitor_waits_for() {
    for class in ADAPTERS.names().filter(|class| !DERIVED.contains(class)) {
        let adapter = Adapter::built_in(class).unwrap();
        for mode in &adapter.profile().modes {
            let signal = adapter.signal(&adapter.start_up(mode)).unwrap();
            let lines = signal.vertical.active();
            let known = POLARITIES.iter().find(|(of, shown, ..)| (*of, *shown) == (class, lines));
            let Some((.., horizontal, vertical, monitor)) = known else {
                assert_eq!((class, signal.polarity), ("linear-256", None), "{lines} lines");
                continue;
            };
            let expected = SyncPolarity { horizontal: *horizontal, vertical: *vertical };
            assert_eq!(signal.polarity, Some(expected), "{class} {}", mode.name);
            let monitor = Monitor::built_in(monitor).unwrap();
            assert!(monitor.judge(&signal).accepts(), "{class} {}: {:?}", mode.name, monitor.judge(&signal).reasons());
        }
    }
}

#[test]
fn a_monitor_refuses_the_polarity_of_another() {
    let adapter = Adapter::built_in("vga").unwrap();
    let mut registers = adapter.start_up(adapter.default_mode());
    let polarity = adapter.field_with(Role::SyncPolarity).unwrap();
    adapter.set(&mut registers, polarity, 0).unwrap();
    let signal = adapter.signal(&registers).unwrap();
    let judgement = Monitor::built_in("fixed-31").unwrap().judge(&signal);
    assert!(!judgement.accepts() && judgement.readings.iter().all(Reading::holds));
    assert_eq!(
        judgement.reasons(),
        [
            "sync polarity horizontal positive and vertical positive; allowed horizontal negative and vertical positive, or \
             horizontal positive and vertical negative, or horizontal negative and vertical negative"
        ]
    );
    assert!(Monitor::built_in("multi").unwrap().judge(&signal).accepts());
}
