use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Guard, PulseEnd};
use backporch_signal::{Limit, Monitor, Signal};
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
