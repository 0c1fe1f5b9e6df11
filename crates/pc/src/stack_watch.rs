//! What a program's stack destroys.
//!
//! A program may put its stack wherever it likes within its own memory, and may fill memory by pushes. A stack has
//! overrun where a push reaches memory of another owner or comes round the end of its segment, and where it has gone over
//! what the program had put there and the program then executes that, or reads it as data.
//!
//! ```text
//! loaded, written, executed ─► held bytes ─┐
//! pushes ────────────────────► stack ──────┴─► destroyed bytes ─► executed or read: an overrun
//! ```
//!
//! Only a stack that something was called on, and that began over bytes that held nothing, destroys: any other one is a
//! program's way to fill or to read a table.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::Range;

use crate::hardware::MEMORY;
use crate::registers::Far;

/// A stack moves less than this by pushes and local variables; more is a new place, in bytes (assumed).
const GROWTH: u16 = 0x1000;

/// Bytes below its top that hold nothing where something is to be a stack (assumed).
const LEAST: u32 = 32;

/// Bytes after which what fills a stack in a program file is alike: a word like *STACK* and spaces, or one value (assumed).
const FILL: u32 = 8;

/// Destroyed bytes that are remembered.
const MOST_DESTROYED: usize = 1 << 16;

/// What a stack has destroyed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overrun {
    /// It came round the end of its segment.
    Round,
    /// Memory of another program, or of the system.
    Another {
        /// Its 20-bit address.
        address: u32,
    },
    /// An instruction, which was then executed.
    Code {
        /// The instruction.
        executed: Far,
    },
    /// A byte that was then read as data.
    Data {
        /// Its 20-bit address.
        address: u32,
        /// The instruction that read it.
        read: Far,
    },
}

impl fmt::Display for Overrun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Round => write!(f, "it came round the end of its segment"),
            Self::Another { address } => {
                write!(f, "it reached {address:05X}h, which belongs to another program or to the system")
            }
            Self::Code { executed } => write!(f, "it destroyed the program at {executed}, which was then executed"),
            Self::Data { address, read } => {
                write!(f, "it destroyed {address:05X}h, which was then read as data by {read}")
            }
        }
    }
}

/// A bit for each byte of system memory.
#[derive(Clone, Debug)]
struct Marks(Box<[u64]>);

impl Marks {
    fn none() -> Self {
        Self(vec![0; MEMORY as usize / 64].into_boxed_slice())
    }

    #[inline]
    fn has(&self, address: u32) -> bool {
        self.0.get(address as usize / 64).is_some_and(|marks| marks >> (address % 64) & 1 != 0)
    }

    fn clear(&mut self, place: Range<u32>) {
        let (first, last) = (place.start.div_ceil(64) * 64, place.end / 64 * 64);
        let edges = (place.start..first.min(place.end)).chain(last.max(place.start)..place.end);
        edges.for_each(|address| self.put(address, false));
        if let Some(marks) = self.0.get_mut(first as usize / 64..(last as usize / 64).max(first as usize / 64)) {
            marks.fill(0);
        }
    }

    #[inline]
    fn put(&mut self, address: u32, on: bool) {
        if let Some(marks) = self.0.get_mut(address as usize / 64) {
            *marks = *marks & !(1 << (address % 64)) | u64::from(on) << (address % 64);
        }
    }
}

/// A stack in use.
#[derive(Clone, Copy, Debug)]
pub struct StackInUse {
    segment: u16,
    /// One past its highest offset.
    top: u32,
    /// Offset of the last push.
    pushed: u16,
    /// Whether something was called on it.
    serves: bool,
    /// Whether the bytes right below its top held nothing.
    clear: bool,
}

impl StackInUse {
    /// Whether a push from an offset to a lower one belongs to it.
    fn goes_on(&self, segment: u16, from: u32, to: u16) -> bool {
        let grows = to >= self.pushed || self.pushed - to < GROWTH;
        segment == self.segment && from <= self.top && grows
    }

    fn comes_round(&self, segment: u16, old: u16, to: u16) -> bool {
        // A pointer set to 0 means the segment's end.
        let was_set = old == 0 && self.pushed > 1;
        segment == self.segment && to > self.pushed && self.pushed.wrapping_sub(to) < GROWTH && !was_set
    }
}

/// A block of memory and the program it belongs to, by the segment of what precedes that; `None` where it is free.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnedBlock {
    /// 20-bit addresses.
    pub addresses: Range<u32>,
    /// The owner.
    pub owner: Option<u16>,
}

/// A byte that a stack went over.
#[derive(Clone, Copy, Debug)]
struct Destroyed {
    /// The instruction that pushed last.
    by: Far,
    /// Whether it was loaded with the program or executed, so that it can be no passing value on a stack.
    firm: bool,
}

/// Where the stack pointer stands.
#[derive(Clone, Copy, Debug)]
pub struct StackPlace {
    /// Stack segment.
    pub segment: u16,
    /// Stack pointer.
    pub offset: u16,
}

impl StackPlace {
    fn linear(self) -> u32 {
        Far::new(self.segment, self.offset).linear()
    }
}

/// Watches a program's stack.
#[derive(Clone, Debug)]
pub struct StackWatch {
    /// Bytes that were loaded, other than 0, or written otherwise than on the stack.
    held: Marks,
    /// Bytes that were loaded, other than 0, or executed otherwise than on the stack.
    firm: Marks,
    destroyed: BTreeMap<u32, Destroyed>,
    blocks: Vec<OwnedBlock>,
    program: u16,
    /// Addresses known to be no other owner's.
    own: Range<u32>,
    stack: StackInUse,
    /// The stack before.
    former: StackInUse,
    /// Where the stack was when an interrupt came, until something is called above, or on another stack.
    interrupted: Option<StackPlace>,
    found: Option<(Far, Overrun)>,
}

impl StackWatch {
    /// Nothing is held anywhere, and no stack was used.
    #[must_use]
    pub fn new() -> Self {
        let stack = StackInUse { segment: 0, top: 0, pushed: 0, serves: false, clear: false };
        Self {
            held: Marks::none(),
            firm: Marks::none(),
            destroyed: BTreeMap::new(),
            blocks: Vec::new(),
            program: 0,
            own: 0..0,
            stack,
            former: stack,
            interrupted: None,
            found: None,
        }
    }

    /// Memory is handed out like this, and this program runs.
    pub fn set_owners(&mut self, blocks: Vec<OwnedBlock>, program: u16) {
        (self.blocks, self.program, self.own) = (blocks, program, 0..0);
    }

    /// A program begins in a place of memory, with its stack there: nothing is held in it.
    pub fn begin(&mut self, place: Range<u32>, stack: StackPlace) {
        self.held.clear(place.clone());
        self.firm.clear(place);
        self.destroyed.clear();
        self.interrupted = None;
        // The stack that is given is one to call on.
        self.stack = StackInUse { serves: true, ..self.new_stack(stack.segment, end(stack.offset)) };
        self.former = self.stack;
    }

    /// The stack in use, to come back to it.
    #[must_use]
    pub fn stack(&self) -> StackInUse {
        self.stack
    }

    /// A program goes on where it was, on its own stack.
    pub fn go_back(&mut self, stack: StackInUse) {
        (self.stack, self.former, self.interrupted) = (stack, stack, None);
        self.destroyed.clear();
    }

    /// Bytes were loaded from an address on.
    pub fn load(&mut self, from: u32, bytes: &[u8]) {
        for (address, byte) in (from..).zip(bytes) {
            self.held.put(address, *byte != 0);
            self.firm.put(address, *byte != 0);
            self.destroyed.remove(&address);
        }
    }

    /// What fills a loaded stack below its top is nothing that is held; `byte` tells what memory has.
    pub fn spare(&mut self, stack: StackPlace, byte: impl Fn(u32) -> u8) {
        let bottom = Far::new(stack.segment, 0).linear();
        let top = bottom + end(stack.offset);
        let is_fill = |address: &u32| address + FILL >= top || byte(*address) == byte(address + FILL);
        for address in (bottom..top).rev().take_while(is_fill) {
            self.held.put(address, false);
            self.firm.put(address, false);
        }
        self.stack.clear = self.is_clear(stack.segment, end(stack.offset));
    }

    /// The overrun that was found, with the instruction that pushed.
    #[inline]
    #[must_use]
    pub fn found(&self) -> Option<(Far, Overrun)> {
        self.found
    }

    // ---- what the processor does -------------------------------------------------------

    /// An instruction pushes some bytes; `place` is where the stack pointer was.
    #[inline]
    pub fn push(&mut self, by: Far, place: StackPlace, bytes: u16) {
        let to = place.offset.wrapping_sub(bytes);
        let from = end(place.offset);
        if self.stack.comes_round(place.segment, place.offset, to) {
            self.find(by, Overrun::Round);
        }
        if !self.stack.goes_on(place.segment, from, to) {
            self.change_stack(place, to);
        }
        self.stack.pushed = to;
        let address = Far::new(place.segment, to).linear();
        if !self.own.contains(&address) {
            self.look_for_owner(by, address);
        }
        if self.stack.serves && self.stack.clear {
            (address..address + u32::from(bytes)).for_each(|address| self.go_over(by, address));
        }
    }

    #[inline]
    fn go_over(&mut self, by: Far, address: u32) {
        let firm = self.firm.has(address);
        if (firm || self.held.has(address)) && self.destroyed.len() < MOST_DESTROYED {
            self.destroyed.insert(address, Destroyed { by, firm });
        }
    }

    /// Something is called.
    #[inline]
    pub fn call(&mut self, place: StackPlace) {
        let within = |outer: StackPlace| outer.segment == place.segment && place.offset < outer.offset;
        if self.interrupted.is_some_and(within) {
            return;
        }
        self.interrupted = None;
        if self.stack.segment == place.segment {
            self.stack.serves = true;
        }
    }

    /// An interrupt comes from outside.
    pub fn interrupt(&mut self, place: StackPlace) {
        self.interrupted.get_or_insert(place);
    }

    /// A byte is written.
    #[inline]
    pub fn write(&mut self, place: StackPlace, address: u32) {
        if address >= MEMORY || self.held.has(address) && self.destroyed.is_empty() || self.is_live(place, address) {
            return;
        }
        self.held.put(address, true);
        self.destroyed.remove(&address);
    }

    /// Bytes from an address on are read as data.
    #[inline]
    pub fn read(&mut self, by: Far, place: StackPlace, address: u32, bytes: u16) {
        if !self.destroyed.is_empty() {
            let addresses = address..address + u32::from(bytes);
            if let Some((address, lost)) = self.lost(place, addresses) {
                self.find(lost.by, Overrun::Data { address, read: by });
            }
        }
    }

    /// Whether anything executed has to be looked at.
    #[inline]
    #[must_use]
    pub fn has_destroyed(&self) -> bool {
        !self.destroyed.is_empty()
    }

    /// An instruction at these addresses is executed.
    pub fn execute(&mut self, at: Far, place: StackPlace, addresses: impl IntoIterator<Item = u32>) {
        if let Some((_, lost)) = self.lost(place, addresses) {
            self.find(lost.by, Overrun::Code { executed: at });
        }
    }

    /// An instruction of this length in bytes is executed for the first time, or anew.
    pub fn decode(&mut self, place: StackPlace, address: u32, length: u8) {
        for address in address..address + u32::from(length) {
            if !self.is_live(place, address) {
                self.firm.put(address, true);
            }
        }
    }

    // ---- inside ----------------------------------------------------------------------------

    /// The first of these bytes that is not what the program had put there.
    fn lost(&self, place: StackPlace, addresses: impl IntoIterator<Item = u32>) -> Option<(u32, Destroyed)> {
        let destroyed = |address: u32| self.destroyed.get(&address).map(|lost| (address, *lost));
        let is_lost = |(address, lost): &(u32, Destroyed)| lost.firm || !self.is_live(place, *address);
        addresses.into_iter().filter_map(destroyed).find(is_lost)
    }

    /// Whether an address lies on the stack as it stands.
    #[inline]
    fn is_live(&self, place: StackPlace, address: u32) -> bool {
        let low = place.linear();
        let known = u32::from(place.segment) * 16 + self.stack.top;
        let high = if place.segment == self.stack.segment { known } else { low };
        (low..high.max(low + 4)).contains(&address)
    }

    #[cold]
    fn change_stack(&mut self, place: StackPlace, to: u16) {
        let from = end(place.offset);
        let before = self.stack;
        let comes_back = self.former.goes_on(place.segment, from, to);
        self.stack = if comes_back { self.former } else { self.new_stack(place.segment, from) };
        self.former = before;
        self.interrupted = None;
    }

    fn new_stack(&self, segment: u16, top: u32) -> StackInUse {
        StackInUse { segment, top, pushed: (top - 1) as u16, serves: false, clear: self.is_clear(segment, top) }
    }

    fn is_clear(&self, segment: u16, top: u32) -> bool {
        let base = u32::from(segment) * 16;
        (top.saturating_sub(LEAST)..top).all(|offset| !self.held.has(base + offset))
    }

    fn owner(&self, address: u32) -> Option<&OwnedBlock> {
        self.blocks.iter().find(|block| block.addresses.contains(&address))
    }

    /// A program may use its own memory, what is free, and the board's; what it left to stay may use its own.
    #[cold]
    fn look_for_owner(&mut self, by: Far, address: u32) {
        if address >= MEMORY {
            return;
        }
        let Some(block) = self.owner(address) else {
            return self.find(by, Overrun::Another { address });
        };
        match block.owner {
            Some(owner) if owner != self.program => {
                let is_its_own = self.owner(by.linear()).is_some_and(|code| code.owner == Some(owner));
                if !is_its_own {
                    self.find(by, Overrun::Another { address });
                }
            }
            _ => self.own = block.addresses.clone(),
        }
    }

    #[cold]
    fn find(&mut self, by: Far, overrun: Overrun) {
        self.found.get_or_insert((by, overrun));
    }
}

/// One past the last offset of a stack that begins at a pointer.
fn end(offset: u16) -> u32 {
    if offset == 0 { 0x1_0000 } else { u32::from(offset) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BY: Far = Far { segment: 0x1000, offset: 0x100 };

    fn at(offset: u16) -> StackPlace {
        StackPlace { segment: 0x1000, offset }
    }

    fn watch() -> StackWatch {
        let mut watch = StackWatch::new();
        let block = OwnedBlock { addresses: 0x1_0000..0x2_0000, owner: Some(0x1000) };
        let other = OwnedBlock { addresses: 0x2_0000..0x3_0000, owner: Some(0x2000) };
        watch.set_owners(vec![block, other], 0x1000);
        watch.begin(0x1_0000..0x2_0000, at(0xFFFE));
        watch.load(0x1_0400, &[7; 16]);
        watch
    }

    fn pushes(watch: &mut StackWatch, from: u16, to: u16) {
        for offset in (to + 2..=from).rev().step_by(2) {
            watch.push(BY, at(offset), 2);
        }
    }

    #[test]
    fn what_a_stack_went_over_is_found_when_it_is_looked_at() {
        for called in [false, true] {
            let mut watch = watch();
            watch.push(BY, at(0x800), 2);
            if called {
                watch.call(at(0x7FE));
            }
            pushes(&mut watch, 0x7FE, 0x408);
            watch.read(BY, at(0x800), 0x1_0404, 2);
            assert_eq!(watch.found(), None, "the lower half is whole");
            watch.read(BY, at(0x800), 0x1_0408, 2);
            let overrun = Overrun::Data { address: 0x1_0408, read: BY };
            assert_eq!(watch.found(), called.then_some((BY, overrun)), "memory may be filled by pushes");
        }
    }

    #[test]
    fn what_is_written_anew_is_whole_again() {
        let mut watch = watch();
        watch.push(BY, at(0x800), 2);
        watch.call(at(0x7FE));
        pushes(&mut watch, 0x7FE, 0x400);
        (0x1_0400..0x1_0410).for_each(|address| watch.write(at(0x800), address));
        watch.read(BY, at(0x800), 0x1_0400, 16);
        watch.execute(BY, at(0x800), 0x1_0400..0x1_0410);
        assert_eq!(watch.found(), None);
    }

    #[test]
    fn memory_of_another_owner_is_not_for_pushes() {
        let mut watch = watch();
        let place = StackPlace { segment: 0x2000, offset: 0x10 };
        let resident = Far { segment: 0x2000, offset: 0x200 };
        watch.push(resident, place, 2);
        assert_eq!(watch.found(), None, "its own owner's instruction pushed");
        watch.push(BY, place, 2);
        assert_eq!(watch.found(), Some((BY, Overrun::Another { address: 0x2_000E })));
    }

    #[test]
    fn the_end_of_a_segment_is_come_round() {
        let mut watch = watch();
        pushes(&mut watch, 0x800, 0);
        watch.push(BY, at(0), 2);
        assert_eq!(watch.found(), Some((BY, Overrun::Round)));
        let mut watch = self::watch();
        watch.push(BY, at(0x800), 2);
        watch.push(BY, at(0), 2);
        assert_eq!(watch.found(), None, "a pointer that was set");
    }
}
