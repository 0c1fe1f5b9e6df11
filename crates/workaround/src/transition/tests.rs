use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Guard, PulseEnd, Timing};
use backporch_signal::{Limit, MONITORS, Monitor, Signal};
use proptest::prelude::*;

use super::*;

/// The registers with about half of the fields that have one of `roles` (all, if empty) set by chance.
fn scattered(adapter: &Adapter, from: &Registers, seed: u64, roles: &[Role]) -> Registers {
    let mut to = from.clone();
    for (position, (field, info)) in adapter.fields().enumerate() {
        let value = (seed ^ position as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20;
        let chosen = roles.is_empty() || roles.contains(&info.role);
        if info.access.writes() && chosen && value & 1 == 0 {
            adapter.set(&mut to, field, (value >> 1) % (u64::from(info.max()) + 1)).unwrap();
        }
    }
    to
}

/// The registers after each cell's port writes, with the stage they belong to.
fn steps<'t>(adapter: &Adapter, from: &Registers, transition: &'t Transition) -> Vec<(&'t Stage, Registers)> {
    let mut registers = from.clone();
    let mut steps = Vec::new();
    for stage in &transition.stages {
        for (port, byte) in stage.cells.iter().flat_map(|cell| &cell.ports) {
            adapter.write_port(&mut registers, *port, *byte, Guard::AsRegister);
            steps.push((stage, registers.clone()));
        }
    }
    steps
}

fn every_class() -> impl Iterator<Item = Arc<Adapter>> {
    ADAPTERS.names().map(|name| Adapter::built_in(name).unwrap())
}

/// A monitor that takes just what lies between two signals, and the polarities of both.
fn between(one: &Signal, other: &Signal) -> Monitor {
    let limit = |a: f64, b: f64| Limit { from: a.min(b) * 0.999_999, to: a.max(b) * 1.000_001 };
    let sync = |signal: &Signal| signal.microseconds(signal.horizontal.sync());
    let blanking = |signal: &Signal| signal.microseconds(signal.horizontal.total() - signal.horizontal.active());
    Monitor {
        line_rate_hz: limit(one.line_rate_hz(), other.line_rate_hz()),
        frame_rate_hz: limit(one.frame_rate_hz(), other.frame_rate_hz()),
        horizontal_sync_us: limit(sync(one), sync(other)),
        sync_polarities: one.polarity.into_iter().chain(other.polarity).collect(),
        horizontal_blanking_us: blanking(one).min(blanking(other)) * 0.999_999,
        ..Monitor::built_in("fixed-31").unwrap()
    }
}

proptest! {
    /// Whatever the two sets, the writes lead from one to the other.
    #[test]
    fn writes_lead_there(seeds in any::<(u64, u64)>(), both in any::<bool>()) {
        for adapter in every_class() {
            let start = adapter.start_up(adapter.default_mode());
            let from = if both { scattered(&adapter, &start, seeds.0, &[]) } else { start };
            let to = scattered(&adapter, &from, seeds.1, &[]);
            let transition = Transition::new(&adapter, &from, &to);
            let reached = steps(&adapter, &from, &transition).pop().map_or(from, |(_, registers)| registers);
            for (field, info) in adapter.fields() {
                let (found, wanted) = (adapter.get(&reached, field), adapter.get(&to, field));
                prop_assert_eq!(found, wanted, "{} {}", adapter.name(), &info.name);
            }
        }
    }

    /// What changes the signal is written in retrace, and comes with the
    /// caution; so does every state on the way that a monitor made for both
    /// ends would refuse, or that is no stable signal at all.
    #[test]
    fn no_frame_leaves_the_limits_unannounced(seed in any::<u64>(), which in 0usize..4) {
        let some = [
            &[][..],
            &[Role::HorizontalDisplayed, Role::Pitch, Role::PixelPanning, Role::Blink],
            &[Role::HorizontalSyncStart, Role::SyncPolarity, Role::ClockSelect, Role::EightDots, Role::HalfDotClock],
            &[Role::DoubleScan, Role::SyncEnable, Role::VerticalSyncEnd, Role::Graphics, Role::TwoColours],
        ];
        for adapter in every_class() {
            for mode in &adapter.profile().modes {
                let from = adapter.start_up(mode);
                let to = scattered(&adapter, &from, seed, some[which]);
                let transition = Transition::new(&adapter, &from, &to);
                let at_start = adapter.signal(&from).unwrap();
                let monitor = between(&at_start, adapter.signal(&to).as_ref().unwrap_or(&at_start));
                let mut before = from.clone();
                for (stage, registers) in steps(&adapter, &from, &transition) {
                    if adapter.changes_signal(&before, &registers) {
                        prop_assert_eq!(stage.moment, BeamMoment::Retrace, "{} {}", adapter.name(), stage.purpose);
                    }
                    let taken = adapter.signal(&registers).is_ok_and(|signal| monitor.judge(&signal).accepts());
                    prop_assert!(taken || transition.changes_signal, "{} {}", adapter.name(), &mode.name);
                    before = registers;
                }
            }
        }
    }

    /// Where sync is counted and lies inside the line at both ends, it does so
    /// after every write: it is moved after the line has grown and before it shrinks.
    #[test]
    fn sync_stays_inside_the_line(
        (total, other_total) in (20u64..=255, 20u64..=255), widths in (1u64..=15, 1u64..=15), places in any::<(u16, u16)>(),
    ) {
        for adapter in every_class().filter(|adapter| adapter.field_with(Role::HorizontalSyncWidth).is_some()) {
            let with = |total: u64, width: u64, place: u16| {
                let mut registers = adapter.start_up(adapter.default_mode());
                let position = u64::from(place) % (total - width);
                for (role, value) in [
                    (Role::HorizontalTotal, total),
                    (Role::HorizontalSyncWidth, width),
                    (Role::HorizontalSyncStart, position),
                    (Role::HorizontalDisplayed, position.min(5)),
                ] {
                    adapter.set(&mut registers, adapter.field_with(role).unwrap(), value).unwrap();
                }
                registers
            };
            let (from, to) = (with(total, widths.0, places.0), with(other_total, widths.1, places.1));
            for ends in [&from, &to] {
                prop_assert!(!line_too_short(&adapter.timing(ends)));
            }
            for (stage, registers) in steps(&adapter, &from, &Transition::new(&adapter, &from, &to)) {
                let timing = adapter.timing(&registers);
                let end = u32::from(timing.sync_start) + pulse_length(&timing);
                prop_assert!(end <= timing.chars(), "{} {}: {timing:?}", adapter.name(), stage.purpose);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// What is stated of the way is what the ports do, write by write; the order for a monitor has no more states outside its
    /// limits than the usual one, and the caution is due wherever a write touches the signal.
    #[test]
    fn passing_tells_what_the_ports_do(seed in any::<u64>(), which in 0usize..4, on in 0..MONITORS.names().count()) {
        let some = [
            &[][..],
            &[Role::HorizontalTotal, Role::HorizontalDisplayed, Role::HorizontalSyncStart, Role::HorizontalSyncWidth],
            &[Role::VerticalTotal, Role::VerticalDisplayed, Role::VerticalSyncStart, Role::SyncPolarity, Role::ClockSelect],
            &[Role::StartAddress, Role::Palette, Role::Pitch],
        ];
        let monitor = Monitor::built_in(MONITORS.names().nth(on).unwrap()).unwrap();
        for adapter in every_class() {
            for mode in &adapter.profile().modes {
                let from = adapter.start_up(mode);
                let to = scattered(&adapter, &from, seed, some[which]);
                let usual = Passing::new(&adapter, &from, &Transition::new(&adapter, &from, &to), &monitor);
                let transition = Transition::on(Some(&monitor), &adapter, &from, &to);
                let passing = Passing::new(&adapter, &from, &transition, &monitor);
                prop_assert!(passing.outside.len() <= usual.outside.len());
                prop_assert_eq!(passing.caution().is_some(), transition.changes_signal);
                let taken = |registers: &Registers| {
                    adapter.signal(registers).is_ok_and(|signal| monitor.judge(&signal).accepts())
                };
                let (mut before, mut changes, mut outside) = (from.clone(), 0, 0);
                for (_, registers) in steps(&adapter, &from, &transition) {
                    if adapter.changes_signal(&before, &registers) {
                        changes += 1;
                        outside += usize::from(!taken(&registers));
                    }
                    before = registers;
                }
                // The end itself is no state between.
                let outside = outside - usize::from(changes > 0 && !taken(&before));
                let ends = steps(&adapter, &from, &transition).pop().map_or_else(|| from.clone(), |(_, registers)| registers);
                for (field, info) in adapter.fields() {
                    prop_assert_eq!(adapter.get(&ends, field), adapter.get(&to, field), "{}", &info.name);
                }
                prop_assert_eq!((passing.changes, passing.outside.len()), (changes, outside), "{}", adapter.name());
            }
        }
    }

    /// No order of the same vertical writes has fewer states outside the limits: tried by brute force.
    #[test]
    fn no_other_order_passes_better(seed in any::<u64>(), on in 0..MONITORS.names().count()) {
        let monitor = Monitor::built_in(MONITORS.names().nth(on).unwrap()).unwrap();
        for adapter in every_class() {
            let from = adapter.start_up(adapter.default_mode());
            let to = scattered(&adapter, &from, seed, &VERTICAL);
            let transition = Transition::on(Some(&monitor), &adapter, &from, &to);
            let mut vertical = transition.stages.iter().filter(|stage| stage.purpose == "vertical registers");
            let cells: Vec<Cell> = vertical.next().map_or(Vec::new(), |stage| stage.cells.iter().map(|cell| cell.cell).collect());
            if cells.len() > 5 {
                continue;
            }
            let badness = |order: &[Cell]| {
                let mut now = from.clone();
                let state = |cell: &Cell| {
                    now.set_cell(*cell, to.cell(*cell));
                    let bad = u32::from(frame_too_short(&adapter.timing(&now)));
                    BAD * bad + u32::from(!takes(&adapter, &monitor, &now))
                };
                order.iter().map(state).sum::<u32>()
            };
            let found = badness(&cells);
            for order in orders(&cells) {
                prop_assert!(found <= badness(&order), "{}", adapter.name());
            }
        }
    }
}

proptest! {
    /// From any start address to any other, as the steps of a table go, in every mode of every class: the signal stays, so that
    /// no monitor sees it, and nothing but the start address is written.
    #[test]
    fn a_step_never_touches_the_signal(from in any::<u32>(), to in any::<u32>()) {
        for adapter in every_class() {
            let field = adapter.start_address();
            let most = adapter.field_info(field).max();
            for mode in &adapter.profile().modes {
                let at = |start: u32| {
                    let mut registers = adapter.start_up(mode);
                    adapter.set(&mut registers, field, u64::from(start & most)).unwrap();
                    registers
                };
                let transition = Transition::new(&adapter, &at(from), &at(to));
                prop_assert!(!transition.changes_signal);
                prop_assert!(transition.stages.iter().all(|stage| stage.moment == BeamMoment::ActiveArea));
            }
        }
    }
}

/// Where nothing changes, lines and frames come at the mode's own published rates: 31.778 us and 14.268 ms on the VGA class
/// (800 dots and 449 lines of 25.175 MHz), 63.695 us and 16.688 ms on the colour-graphics class (912 dots and 262 lines of
/// 14.31818 MHz).
#[test]
fn pulses_come_at_the_published_rates() {
    for (board, line_us, frame_ms) in [("vga", 31.778, 14.268), ("colour-graphics", 63.695, 16.688)] {
        let adapter = Adapter::built_in(board).unwrap();
        let own = adapter.start_up(adapter.default_mode());
        let Pulses { lines, frames } = Pulses::sent(&adapter, &own, &Transition::new(&adapter, &own, &own));
        let (lines, frames) = (lines.unwrap(), frames.unwrap());
        for (found, published) in [(lines, line_us), (frames, frame_ms * 1e3)] {
            assert!((found.shortest_us / published - 1.0).abs() < 1e-4, "{board}: {found:?}");
            assert!((found.longest_us / published - 1.0).abs() < 1e-4, "{board}: {found:?}");
        }
    }
}

/// In vertical retrace of 480 lines the line counter stands at 490; a total of 449 is behind it, so that it runs on to its
/// end, and vertical sync comes after that at 412: one frame of 2048 - 490 + 412 lines (by hand; a counter of twice the
/// register's 1024 is assumed in the profile). No line is cut or drawn out: both modes have 800 dots.
#[test]
fn a_frame_that_is_cut_below_the_beam_runs_on() {
    let adapter = Adapter::built_in("vga").unwrap();
    let mode = |name: &str| adapter.start_up(adapter.mode(name).unwrap());
    let (from, to) = (mode("640x480x16"), mode("640x200x16"));
    let pulses = Pulses::sent(&adapter, &from, &Transition::new(&adapter, &from, &to));
    let (lines, frames) = (pulses.lines.unwrap(), pulses.frames.unwrap());
    let line_us = 800.0 / 25.175;
    assert!((lines.shortest_us - line_us).abs() < 1e-3 && (lines.longest_us - line_us).abs() < 1e-3, "{lines:?}");
    assert!((frames.longest_us / line_us - 1970.0).abs() < 0.5, "{frames:?}");
    assert!((frames.shortest_us / line_us - 449.0).abs() < 0.5, "{frames:?}");
}

/// Every order of some cells.
fn orders(cells: &[Cell]) -> Vec<Vec<Cell>> {
    if cells.is_empty() {
        return vec![Vec::new()];
    }
    let beginning = |at: usize| {
        let mut rest = cells.to_vec();
        let first = rest.remove(at);
        orders(&rest).into_iter().map(move |rest| [vec![first], rest].concat())
    };
    (0..cells.len()).flat_map(beginning).collect()
}

/// Dot clock, polarity, sync switch and width of a character change the signal
/// as much as totals do; colour does not.
#[test]
fn the_caution_is_derived_from_the_signal() {
    let changes = |class: &str, role: Role| {
        let adapter = Adapter::built_in(class).unwrap();
        let from = adapter.start_up(adapter.default_mode());
        let mut to = from.clone();
        let field = adapter.field_with(role).unwrap();
        adapter.set(&mut to, field, u64::from(adapter.get(&from, field) ^ 1)).unwrap();
        Transition::new(&adapter, &from, &to).changes_signal
    };
    for role in
        [Role::ClockSelect, Role::SyncPolarity, Role::SyncEnable, Role::VerticalSyncEnd, Role::HorizontalSyncEnd]
    {
        assert!(changes("vga", role) && changes("ega", role), "{role:?}");
    }
    for role in [Role::Palette, Role::PixelPanning, Role::StartAddress, Role::LineCompare, Role::Overscan] {
        assert!(!changes("vga", role), "{role:?}");
    }
    assert!(changes("colour-graphics", Role::VerticalTotalAdjust));
}

/// Character clocks of the horizontal sync pulse, clock by clock: counted, or to where the low bits of the running counter
/// equal those of start plus width, in the next line where that is so (register documentation of both kinds).
fn pulse_length(timing: &Timing) -> u32 {
    let PulseEnd::LowBits { sync: bits, first_compares_as, .. } = timing.pulse_end else {
        return u32::from(timing.sync_width);
    };
    let end = timing.sync_start.wrapping_add(timing.sync_width) & bits;
    let mut char = u32::from(timing.sync_start);
    let mut length = 0;
    loop {
        char = (char + 1) % timing.chars();
        length += 1;
        let compared = if char == 0 { u32::from(first_compares_as) } else { char };
        if compared & u32::from(bits) == u32::from(end) || length > u32::from(bits) {
            return length;
        }
    }
}
