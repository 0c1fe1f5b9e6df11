//! The bus unit of the 8086 and 8088: bus cycles and the instruction queue,
//! clock by clock in effect but reckoned from event to event.
//!
//! The execution unit takes bytes from the queue and asks for the bus; between
//! these moments the bus unit fetches ahead. Its rules, inferred from the open
//! data set of single-step tests of an 8086, captured from hardware, 2025:
//!
//! * A bus cycle is T1 to T4. What comes next is decided in T3: a waiting
//!   transfer first, else a fetch where the queue has room for one.
//! * Where T3 found nothing to do, the bus is idle; a fetch is then decided on
//!   two clocks after T4 at the earliest (one, where the queue was thrown
//!   away), once there is room, and begins two clocks later. A transfer asked for while the bus is idle begins two
//!   clocks later, one more where it is asked for in T4.
//! * A fetch that was decided on but has not begun gives way to a transfer,
//!   which then begins two clocks after the fetch would have.
//! * A byte can be taken in the clock after the T4 that brought it.
//!
//! Clocks are counted from the start of the processor.

use backporch_processor_timing::Model;

use crate::bus::{Bus, BusCycle, CycleKind};
use crate::registers::Far;

/// Clocks of a bus cycle without wait states (The 8086 Family User's Manual).
const CYCLE: u64 = 4;

/// The queue and the bus.
#[derive(Clone, Debug)]
pub struct BusUnit {
    /// Bytes the queue holds.
    capacity: u8,
    /// Most bytes it may hold for a fetch to begin.
    room_for_fetch: u8,
    /// Whether the bus moves words.
    wide: bool,
    /// Bytes that can be taken.
    queue: u8,
    /// Bytes that the last cycle brings at its end.
    arriving: u8,
    /// Where the next byte is fetched.
    next: Far,
    /// T4 of the last cycle that has begun.
    last: u64,
    /// Whether what follows the last cycle has been decided.
    decided: bool,
    /// T1 of a fetch decided on.
    fetch: Option<u64>,
    /// First clock in which an idle bus decides on a fetch.
    idle_from: u64,
    suspended: bool,
    /// Clock of the next thing that happens by itself.
    event: u64,
}

impl BusUnit {
    /// An empty queue at an address (The 8086 Family User's Manual: the 8086
    /// queues 6 bytes and fetches words, the 8088 4 bytes, byte by byte).
    pub fn new(model: Model) -> Self {
        let wide = model != Model::P8088;
        let (capacity, fetched) = if wide { (6, 2) } else { (4, 1) };
        Self {
            capacity,
            room_for_fetch: capacity - fetched,
            wide,
            queue: 0,
            arriving: 0,
            next: Far::default(),
            last: 0,
            decided: true,
            fetch: None,
            idle_from: 0,
            suspended: false,
            event: 0,
        }
    }

    /// Where the next byte will be fetched.
    #[inline]
    pub fn next(&self) -> Far {
        self.next
    }

    /// Whether the next byte to be taken is the one at an address.
    #[inline]
    pub fn is_at(&self, at: Far) -> bool {
        let held = u16::from(self.queue + self.arriving);
        self.next.segment == at.segment && self.next.offset.wrapping_sub(held) == at.offset
    }

    /// The queue as it is after `bytes` bytes before `next` were fetched and the bus has been idle for long.
    pub fn set(&mut self, next: Far, bytes: u8, now: u64) {
        self.queue = bytes.min(self.capacity);
        (self.arriving, self.next, self.fetch, self.decided) = (0, next, None, true);
        (self.last, self.idle_from, self.suspended) = (now.saturating_sub(CYCLE), now, false);
        self.schedule();
    }

    /// When the next thing happens: a fetch begins, or is decided on.
    #[inline]
    fn schedule(&mut self) {
        self.event = match self.fetch {
            Some(start) => start,
            None if !self.decided => self.last - 1,
            None if self.has_room() => self.idle_from,
            None => u64::MAX,
        };
    }

    #[inline]
    fn has_room(&self) -> bool {
        !self.suspended && self.queue + self.arriving <= self.room_for_fetch
    }

    fn arrive(&mut self) {
        self.queue += self.arriving;
        self.arriving = 0;
    }

    /// Lets everything happen that is decided up to a clock.
    #[inline]
    fn advance<B: Bus>(&mut self, bus: &mut B, clock: u64) {
        while self.event <= clock {
            if let Some(start) = self.fetch {
                self.begin_fetch(bus, start);
            } else if !self.decided {
                self.decided = true;
                if self.has_room() {
                    self.fetch = Some(self.last + 1);
                }
            } else {
                self.fetch = Some(self.idle_from + 2);
            }
            self.schedule();
        }
    }

    fn begin_fetch<B: Bus>(&mut self, bus: &mut B, start: u64) {
        self.arrive();
        let odd = self.next.linear() & 1 != 0;
        let bytes = if self.wide && !odd { 2 } else { 1 };
        let cycle = BusCycle { kind: CycleKind::Fetch, address: self.next.linear(), wide: bytes == 2, start };
        let waits = u64::from(bus.cycle(cycle));
        (self.arriving, self.fetch, self.decided) = (bytes, None, false);
        self.next = self.next.plus(u16::from(bytes));
        self.last = start + CYCLE - 1 + waits;
        self.idle_from = self.last + 2;
    }

    /// Takes a byte at a clock or as soon as there is one; gives the clock.
    #[inline]
    pub fn take<B: Bus>(&mut self, bus: &mut B, clock: u64) -> u64 {
        self.advance(bus, clock);
        let clock = if self.queue > 0 { clock } else { self.wait_for_byte(bus, clock) };
        let full = !self.has_room();
        self.queue -= 1;
        if full {
            self.idle_from = self.idle_from.max(clock + 1);
            self.schedule();
        }
        clock
    }

    fn wait_for_byte<B: Bus>(&mut self, bus: &mut B, mut clock: u64) -> u64 {
        while self.arriving == 0 {
            // A queue without a byte has room, so a fetch is always on its way.
            clock = clock.max(self.fetch.unwrap_or(self.idle_from));
            self.advance(bus, clock);
        }
        clock = clock.max(self.last + 1);
        self.advance(bus, clock);
        if self.queue == 0 {
            self.arrive();
            self.schedule();
        }
        clock
    }

    /// A bus cycle of the execution unit, asked for at a clock; gives its T1 and T4.
    pub fn transfer<B: Bus>(&mut self, bus: &mut B, clock: u64, mut cycle: BusCycle) -> (u64, u64) {
        self.advance(bus, clock.saturating_sub(1));
        let start = match self.fetch.take() {
            Some(fetch) => fetch + 2,
            None if clock < self.last => (self.last + 1).max(clock + 2),
            None if clock == self.last => clock + 3,
            None => clock + 2,
        };
        cycle.start = start;
        self.run(bus, cycle)
    }

    /// The second cycle of a word that takes two.
    pub fn transfer_on<B: Bus>(&mut self, bus: &mut B, mut cycle: BusCycle) -> (u64, u64) {
        cycle.start = self.last + 1;
        self.run(bus, cycle)
    }

    fn run<B: Bus>(&mut self, bus: &mut B, cycle: BusCycle) -> (u64, u64) {
        self.arrive();
        let waits = u64::from(bus.cycle(cycle));
        self.last = cycle.start + CYCLE - 1 + waits;
        self.idle_from = self.last + 2;
        self.decided = false;
        self.schedule();
        (cycle.start, self.last)
    }

    /// Fetches no more; gives the clock at which the bus is free.
    pub fn suspend<B: Bus>(&mut self, bus: &mut B, clock: u64) -> u64 {
        self.advance(bus, clock);
        self.fetch = None;
        self.suspended = true;
        self.schedule();
        clock.max(self.last)
    }

    /// Throws the queue away and fetches from an address on.
    pub fn flush<B: Bus>(&mut self, bus: &mut B, clock: u64, next: Far) {
        self.advance(bus, clock);
        (self.queue, self.arriving, self.fetch, self.suspended) = (0, 0, None, false);
        self.decided = true;
        self.idle_from = clock.max(self.last) + 1;
        self.next = next;
        self.schedule();
    }
}
