//! String instructions, one element at a time.

use super::{Done, Execution};
use crate::alu;
use crate::bus::Bus;
use crate::instruction::{Operation, RepeatPrefix};
use crate::processor::Fault;
use crate::registers::{SegmentRegister, Word, flag};

/// Clocks before the first repetition, and where there is none.
const FIRST_REPEATED: u32 = 7;
const NOTHING_REPEATED: u32 = 5;

/// Clocks of the execution unit around the transfers of one element.
#[derive(Clone, Copy, Debug)]
struct Pace {
    before: u32,
    between: u32,
    /// After the only element.
    after: u32,
    /// To the next element.
    again: u32,
    /// After the last element repeated.
    last: u32,
}

impl Pace {
    fn of(operation: Operation) -> Self {
        let pace = |before, between, after, again, last| Self { before, between, after, again, last };
        match operation {
            Operation::Movs => pace(2, 2, 3, 6, 4),
            Operation::Cmps => pace(3, 3, 4, 9, 5),
            Operation::Scas => pace(4, 0, 4, 10, 5),
            Operation::Lods => pace(2, 0, 3, 8, 6),
            _ => pace(2, 2, 3, 6, 4),
        }
    }
}

impl<B: Bus> Execution<'_, B> {
    /// One element; under a repeat prefix the instruction is then left to be
    /// executed again, so that interrupts and the beam come between.
    pub(super) fn string(&mut self) -> Done {
        let pace = Pace::of(self.instruction.operation);
        if self.instruction.repeat == RepeatPrefix::No {
            self.work(pace.before);
            self.element(pace)?;
            self.work(pace.after);
            return Ok(());
        }
        let count = self.index(Word::Cx);
        if count == 0 {
            self.work(NOTHING_REPEATED);
            return Ok(());
        }
        if self.first {
            self.work(pace.before + FIRST_REPEATED);
        }
        self.element(pace)?;
        self.set_index(Word::Cx, count - 1);
        if count > 1 && self.goes_on() {
            self.work(pace.again);
            self.processor.registers.ip = self.start;
            self.processor.repeating = Some(self.instruction.prefixes);
        } else {
            let compares = matches!(self.instruction.operation, Operation::Cmps | Operation::Scas);
            self.work(pace.last + u32::from(compares && count == 1));
        }
        Ok(())
    }

    fn goes_on(&self) -> bool {
        let equal = self.processor.registers.has(flag::ZERO);
        match self.instruction.operation {
            Operation::Cmps | Operation::Scas => equal == (self.instruction.repeat == RepeatPrefix::WhileEqual),
            _ => true,
        }
    }

    fn element(&mut self, pace: Pace) -> Done {
        match self.instruction.operation {
            Operation::Movs => {
                let value = self.take_source()?;
                self.work(pace.between);
                self.give_destination(value)?;
            }
            Operation::Lods => {
                let value = self.take_source()?;
                self.set_accumulator(value);
            }
            Operation::Stos => self.give_destination(self.accumulator())?,
            Operation::Cmps => {
                let one = self.take_source()?;
                self.work(pace.between);
                let two = self.take_destination()?;
                self.compare(one, two);
            }
            Operation::Scas => {
                let (one, two) = (self.accumulator(), self.take_destination()?);
                self.compare(one, two);
            }
            Operation::Ins => {
                let value = self.input(self.word(Word::Dx));
                self.give_destination(value)?;
            }
            _ => {
                let value = self.take_source()?;
                self.output(self.word(Word::Dx), value);
            }
        }
        Ok(())
    }

    fn compare(&mut self, one: u32, two: u32) {
        let (_, flags) = alu::subtract(self.instruction.size, one, two, false);
        self.processor.registers.put_masked(flag::STATUS, flags);
    }

    fn take_source(&mut self) -> Result<u32, Fault> {
        let segment = self.instruction.memory.segment;
        let at = self.at(segment, self.index(Word::Si))?;
        let value = self.read(segment, at, self.instruction.size)?;
        self.step_index(Word::Si);
        Ok(value)
    }

    /// The destination lies in the extra segment, whatever the prefixes.
    fn take_destination(&mut self) -> Result<u32, Fault> {
        let at = self.at(SegmentRegister::Es, self.index(Word::Di))?;
        let value = self.read(SegmentRegister::Es, at, self.instruction.size)?;
        self.step_index(Word::Di);
        Ok(value)
    }

    fn give_destination(&mut self, value: u32) -> Done {
        let at = self.at(SegmentRegister::Es, self.index(Word::Di))?;
        self.write(SegmentRegister::Es, at, self.instruction.size, value)?;
        self.step_index(Word::Di);
        Ok(())
    }

    fn step_index(&mut self, index: Word) {
        let bytes = u32::from(self.instruction.size.bytes());
        let down = self.processor.registers.has(flag::DIRECTION);
        let step = if down { bytes.wrapping_neg() } else { bytes };
        self.set_index(index, self.index(index).wrapping_add(step));
    }
}
