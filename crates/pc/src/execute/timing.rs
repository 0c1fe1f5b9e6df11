//! The execution unit's time: waiting, taking bytes from the queue, asking for
//! the bus.
//!
//! On the 8086 and 8088 an instruction is a sequence of such steps, each placed
//! where the open data set of single-step tests of an 8086, captured from
//! hardware, 2025, shows it. The steps that are not visible there follow from
//! the published clocks (The 8086 Family User's Manual). Without sequences
//! none of this takes time.

use super::Execution;
use crate::bus::{Bus, BusCycle, CycleKind};
use crate::instruction::BaseRegister;
use crate::registers::Far;
use backporch_processor_timing::Model;

/// Clocks from the fetch of a jump's target to its first byte under the decoder, which a jump's published clocks hold.
const TO_TARGET: u64 = 4;

impl<B: Bus> Execution<'_, B> {
    /// Lets the execution unit work for some clocks.
    #[inline]
    pub(super) fn work(&mut self, clocks: u32) {
        if self.processor.sequenced {
            self.processor.clock += u64::from(clocks);
        }
    }

    /// Takes instruction bytes from the queue.
    #[inline]
    pub(super) fn take(&mut self, bytes: u8) {
        if self.processor.sequenced {
            for _ in 0..bytes {
                let clock = self.processor.unit.take(self.bus, self.processor.clock);
                self.processor.clock = clock + 1;
            }
        }
    }

    /// Takes an immediate operand; a byte costs one clock more than its taking.
    #[inline]
    pub(super) fn take_immediate(&mut self) {
        let bytes = self.instruction.immediate_bytes;
        self.take(bytes);
        if bytes == 1 {
            self.work(1);
        }
    }

    /// Takes prefixes, opcode and second byte. Prefixes and opcodes without a
    /// second byte take two clocks.
    #[inline]
    pub(super) fn take_opcode(&mut self) {
        if !self.processor.sequenced {
            return;
        }
        for _ in 0..self.instruction.prefixes {
            self.take(1);
            self.work(1);
        }
        self.take(1);
        if self.instruction.modrm {
            self.take(1);
            if self.instruction.has_memory() {
                self.reckon_address();
            }
        } else {
            self.work(1);
        }
    }

    /// The effective address, its displacement taken on the way: one clock
    /// less than published (The 8086 Family User's Manual, table 2-20), as the
    /// first goes by while the second byte is taken.
    fn reckon_address(&mut self) {
        let memory = self.instruction.memory;
        let before = match memory.base {
            BaseRegister::None | BaseRegister::Double { .. } => 1,
            BaseRegister::Si | BaseRegister::Di | BaseRegister::Bp | BaseRegister::Bx => 3,
            BaseRegister::BxSi | BaseRegister::BpDi => 5,
            BaseRegister::BxDi | BaseRegister::BpSi => 6,
        };
        self.work(before);
        match (memory.base, memory.displacement_bytes) {
            (_, 0) => self.work(1),
            (_, 1) => {
                self.take(1);
                self.work(4);
            }
            (BaseRegister::None, _) => {
                self.take(2);
                self.work(2);
            }
            (_, bytes) => {
                self.take(bytes);
                self.work(3);
            }
        }
    }

    /// Bus cycles of a transfer: to the T4 of a read, the T3 of a write.
    pub(super) fn transfer(&mut self, kind: CycleKind, at: Far, wide: bool) {
        let address = at.linear();
        let split = wide && (self.processor.model == Model::P8088 || address & 1 != 0);
        let cycle = BusCycle { kind, address, wide: wide && !split, start: 0 };
        let (_, mut end) = self.processor.unit.transfer(self.bus, self.processor.clock, cycle);
        if split {
            let next = at.plus(1).linear();
            (_, end) = self.processor.unit.transfer_on(self.bus, BusCycle { address: next, ..cycle });
        }
        self.processor.clock = match kind {
            CycleKind::Write | CycleKind::Output => end - 1,
            _ => end,
        };
        self.processor.meet(self.bus);
    }

    /// Stops fetching, and waits for the bus.
    pub(super) fn suspend(&mut self) {
        if self.processor.sequenced {
            self.processor.clock = self.processor.unit.suspend(self.bus, self.processor.clock);
        }
    }

    /// Goes on at an address: the queue is thrown away. The published clocks of the 80286 go on to the decoding of the
    /// target's first byte.
    pub(super) fn flush(&mut self) {
        self.processor.fetched.clear();
        if !self.processor.sequenced && !self.processor.published {
            let next = self.processor.registers.next();
            self.processor.clock = self.processor.clock.saturating_sub(TO_TARGET);
            self.processor.pipeline.flush(self.processor.clock, next);
            // What the instruction still writes comes behind the first fetch.
            self.processor.read_at = self.processor.read_at.max(self.processor.clock + 1);
        }
        if self.processor.sequenced {
            let next = self.processor.registers.next();
            self.processor.unit.flush(self.bus, self.processor.clock, next);
            self.processor.clock += 1;
        }
    }
}
