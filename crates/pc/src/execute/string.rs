//! String instructions, one element at a time.

use super::{Done, Execution};
use crate::alu;
use crate::bus::Bus;
use crate::instruction::{Operation, Repeat};
use crate::processor::Fault;
use crate::registers::{Far, Segment, Word, flag};

impl<B: Bus> Execution<'_, B> {
    /// One element; under a repeat prefix the instruction is then left to be
    /// executed again, so that interrupts and the beam come between.
    pub(super) fn string(&mut self) -> Done {
        if self.instruction.repeat == Repeat::No {
            return self.element();
        }
        let count = self.word(Word::Cx);
        if count == 0 {
            return Ok(());
        }
        self.element()?;
        self.set_word(Word::Cx, count - 1);
        if count > 1 && self.goes_on() {
            self.processor.registers.ip = self.start;
            self.processor.repeating = Some(self.instruction.prefixes);
        }
        Ok(())
    }

    fn goes_on(&self) -> bool {
        let equal = self.processor.registers.has(flag::ZERO);
        match self.instruction.operation {
            Operation::CompareString | Operation::Scan => equal == (self.instruction.repeat == Repeat::WhileEqual),
            _ => true,
        }
    }

    fn element(&mut self) -> Done {
        match self.instruction.operation {
            Operation::Move => {
                let value = self.take_source()?;
                self.give_destination(value)?;
            }
            Operation::Load => {
                let value = self.take_source()?;
                self.set_accumulator(value);
            }
            Operation::Store => self.give_destination(self.accumulator())?,
            Operation::CompareString => {
                let (one, two) = (self.take_source()?, self.take_destination()?);
                self.compare(one, two);
            }
            Operation::Scan => {
                let (one, two) = (self.accumulator(), self.take_destination()?);
                self.compare(one, two);
            }
            Operation::InString => {
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

    fn compare(&mut self, one: u16, two: u16) {
        let (_, flags) = alu::subtract(self.instruction.wide, one, two, false);
        self.processor.registers.put_masked(flag::STATUS, flags);
    }

    fn take_source(&mut self) -> Result<u16, Fault> {
        let at = Far::new(self.processor.registers.segment(self.instruction.memory.segment), self.word(Word::Si));
        let value = self.read(at, self.instruction.wide)?;
        self.step_index(Word::Si);
        Ok(value)
    }

    /// The destination lies in the extra segment, whatever the prefixes.
    fn destination(&self) -> Far {
        Far::new(self.processor.registers.segment(Segment::Es), self.word(Word::Di))
    }

    fn take_destination(&mut self) -> Result<u16, Fault> {
        let value = self.read(self.destination(), self.instruction.wide)?;
        self.step_index(Word::Di);
        Ok(value)
    }

    fn give_destination(&mut self, value: u16) -> Done {
        self.write(self.destination(), self.instruction.wide, value)?;
        self.step_index(Word::Di);
        Ok(())
    }

    fn step_index(&mut self, index: Word) {
        let size = if self.instruction.wide { 2u16 } else { 1 };
        let down = self.processor.registers.has(flag::DIRECTION);
        let step = if down { size.wrapping_neg() } else { size };
        self.set_word(index, self.word(index).wrapping_add(step));
    }
}
