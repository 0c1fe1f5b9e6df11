//! What one access of the processor to video memory costs, and where that depends on registers and on the beam.

use serde::{Deserialize, Serialize};

/// What one access of the processor to video memory costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MemoryBus {
    /// Bits that reach memory in one bus cycle, 8 or 16.
    pub bits: u8,
    /// Nanoseconds the board keeps the bus for one cycle; a processor whose
    /// own cycle is shorter waits. Not for boards with slots.
    #[serde(default, skip_serializing_if = "is_none_at_all")]
    pub access_ns: u32,
    /// Slots of the board's own in which it serves the processor, where they are known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slots: Option<AccessSlots>,
}

fn is_none_at_all(access_ns: &u32) -> bool {
    *access_ns == 0
}

impl Default for MemoryBus {
    /// Eight bits, no waiting.
    fn default() -> Self {
        Self { bits: 8, access_ns: 0, slots: None }
    }
}

/// When a board serves an access of the processor: in the first of its slots
/// after some time; the processor goes on at its next clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AccessSlots {
    /// Dots from the command to the earliest slot, 0 to 255.
    pub lead: u8,
    /// Dots in which slots come again, 1 to 255.
    pub every: u8,
    /// Slots in that many dots, spread evenly, 1 to `every`.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub count: u8,
    /// Part of each line in which the board is busy with its own memory.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub busy: Option<BusySpan>,
}

fn one() -> u8 {
    1
}

fn is_one(count: &u8) -> bool {
    *count == 1
}

/// Part of each line in which a board is busy with its own memory: an access that would be served then is served at its
/// end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BusySpan {
    /// First dot, counted from the first dot shown, 0 to 65535.
    pub from: u16,
    /// Dot at which it is over.
    pub to: u16,
    /// Dots from a command that an access takes there at most; at least the lead.
    pub most: u8,
}

/// What an access costs while registers hold certain values.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BusCase {
    /// Registers and the values they must hold.
    pub when: Vec<(String, u32)>,
    /// As of the board's usual [bus](MemoryBus).
    #[serde(default, skip_serializing_if = "is_none_at_all")]
    pub access_ns: u32,
    /// As of the board's usual [bus](MemoryBus).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slots: Option<AccessSlots>,
}

impl BusCase {
    /// The bus while the case holds.
    #[must_use]
    pub fn bus(&self, usual: MemoryBus) -> MemoryBus {
        MemoryBus { bits: usual.bits, access_ns: self.access_ns, slots: self.slots }
    }
}

/// Where a line lies in time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LinePlace {
    /// Dot at which some line begins.
    pub began: u64,
    /// Dots of a line; 0 where it is not known.
    pub dots: u32,
}

impl AccessSlots {
    /// One slot each `every` dots, `lead` dots after the command at the earliest; nothing else keeps the board busy.
    #[must_use]
    pub const fn new(lead: u8, every: u8) -> Self {
        Self { lead, every, count: 1, busy: None }
    }

    /// The dot at which an access is served whose command comes at a dot. The line is only asked for where the board is busy
    /// in a part of it.
    #[inline]
    #[must_use]
    pub fn served_at(&self, command: u64, line: impl FnOnce() -> LinePlace) -> u64 {
        let slot = self.slot_from(command + u64::from(self.lead));
        let Some(busy) = self.busy else { return slot };
        match line() {
            LinePlace { dots: 0, .. } => slot,
            line => busy.pass(command, slot, line),
        }
    }

    /// The first slot at a dot or after it.
    #[inline]
    fn slot_from(&self, dot: u64) -> u64 {
        let (every, count) = (u64::from(self.every.max(1)), u64::from(self.count.max(1)));
        if count == 1 {
            return dot.next_multiple_of(every);
        }
        // Slot n lies at the first dot by which n / count periods have passed.
        let slot = dot.checked_sub(1).map_or(0, |before| before * count / every + 1);
        (slot * every).div_ceil(count)
    }
}

impl BusySpan {
    /// When an access is served that would be served at `slot`.
    fn pass(self, command: u64, slot: u64, line: LinePlace) -> u64 {
        let dots = u64::from(line.dots);
        let across = (slot % dots + dots - line.began % dots) % dots;
        if !(u64::from(self.from)..u64::from(self.to)).contains(&across) {
            return slot;
        }
        let over = slot + u64::from(self.to) - across;
        over.min((command + u64::from(self.most)).max(slot))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A character of eight dots, then the next boundary of sixteen (hardware note *The CGA wait states*, 2012).
    #[test]
    fn one_slot_in_sixteen_dots() {
        let slots = AccessSlots::new(8, 16);
        let served = |command| slots.served_at(command, LinePlace::default);
        assert_eq!([0, 8, 9, 24, 25].map(served), [16, 16, 32, 32, 48]);
    }

    /// Three of five memory cycles in 32 dots: never more than a third of the period apart, three in each.
    #[test]
    fn slots_of_a_count_are_spread_evenly() {
        let slots = AccessSlots { count: 3, ..AccessSlots::new(0, 32) };
        let served = |command| slots.served_at(command, LinePlace::default);
        let mut all: Vec<u64> = (0..320).map(served).collect();
        assert!((0..320).zip(&all).all(|(dot, slot)| (dot..dot + 11).contains(slot)));
        all.dedup();
        assert_eq!(all[..5], [0, 11, 22, 32, 43]);
        assert_eq!(all.len(), 31, "thirty of ten periods, and the one that ends them");
    }

    /// Ready 10 dots after the command, up to 33 where it meets the burst at the line's end, dots 758 to 785 (reverse-engineered
    /// schematic of display controller gate array 72X8300).
    #[test]
    fn a_busy_board_serves_at_the_end_of_its_burst() {
        let busy = Some(BusySpan { from: 758, to: 785, most: 33 });
        let slots = AccessSlots { busy, ..AccessSlots::new(10, 1) };
        let line = LinePlace { began: 1600 + 7, dots: 800 };
        let waits = |dot: u64| slots.served_at(7 + dot, || line) - 7 - dot;
        assert_eq!([0, 747, 748, 752, 760, 774, 775, 799].map(waits), [10, 10, 33, 33, 25, 11, 10, 10]);
        assert_eq!((0..800).map(waits).max(), Some(33));
        // Before the line that is known, too.
        assert_eq!(slots.served_at(7 + 760, || line), 7 + 785);
    }
}
