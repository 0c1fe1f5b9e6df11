//! Running: instruction by instruction, with devices, services and stops in between.

use backporch_raster::Tap;

use super::{Machine, Over};
use crate::listing;
use crate::processor::StepResult;
use crate::registers::{Far, flag};
use crate::services::{MOUSE_INTERRUPT, Served};
use crate::stops::Stop;
use crate::trouble::{Report, Trouble};

impl<T: Tap> Machine<T> {
    /// Runs until something stops it. A whole frame always does.
    ///
    /// A program that has ended stays so: it stops again the same way.
    pub fn run(&mut self) -> Stop {
        loop {
            if let Some(over) = &self.over {
                return over.stop();
            }
            // What came together with a whole frame is reported before anything else happens.
            if self.hardware.attention
                && let Some(stop) = self.look()
            {
                return stop;
            }
            if let Some(stop) = self.run_on() {
                return stop;
            }
        }
    }

    /// Executes one instruction (one repetition of a string) or one service.
    ///
    /// `None`: done, and nothing stops the program.
    pub fn step(&mut self) -> Option<Stop> {
        if self.over.is_some() {
            return Some(self.run());
        }
        if self.hardware.is_due()
            && let Some(stop) = self.attend()
        {
            return Some(stop);
        }
        self.advance()
    }

    #[inline]
    fn run_on(&mut self) -> Option<Stop> {
        loop {
            if self.hardware.is_due()
                && let Some(stop) = self.attend()
            {
                return Some(stop);
            }
            if self.watches()
                && let Some(stop) = self.break_before()
            {
                return Some(stop);
            }
            if let Some(stop) = self.advance() {
                return Some(stop);
            }
        }
    }

    fn advance(&mut self) -> Option<Stop> {
        self.began = self.hardware.clocks();
        if self.hardware.controller.asks() && self.processor.takes_interrupts() {
            let vector = self.hardware.controller.acknowledge();
            let step = self.processor.interrupt(&mut self.hardware, vector);
            return Trouble::of(step).and_then(|trouble| self.fail(trouble));
        }
        if self.processor.is_halted() {
            return self.sleep();
        }
        let at = self.processor.registers.next();
        self.hardware.at = at;
        let step = self.processor.step(&mut self.hardware);
        if let Some((by, overrun)) = self.processor.overran() {
            self.trail.add(at);
            return self.fail_at(by, Trouble::StackOverrun(overrun));
        }
        match step {
            StepResult::Done => self.trail.add(at),
            StepResult::Service(number) => {
                let stop = self.call(number);
                if stop.is_some() {
                    return stop;
                }
            }
            _ => {
                self.trail.add(at);
                if let Some(trouble) = Trouble::of(step) {
                    return self.fail(trouble);
                }
            }
        }
        if self.hardware.attention { self.look() } else { None }
    }

    /// Devices, frames and the deadline.
    #[cold]
    fn attend(&mut self) -> Option<Stop> {
        let deadline = self.deadline.clocks(&self.hardware);
        self.hardware.attend(self.next_of_mouse().map_or(deadline, |next| next.min(deadline)));
        if self.hardware.clocks() >= deadline {
            return Some(Stop::TimeOver);
        }
        if self.system.mouse.is_some() && self.processor.takes_interrupts() && self.mouse_calls() {
            let step = self.processor.interrupt(&mut self.hardware, MOUSE_INTERRUPT);
            if let Some(trouble) = Trouble::of(step) {
                return self.fail(trouble);
            }
        }
        if self.next_of_mouse().is_some_and(|next| next <= self.hardware.clocks()) {
            self.hardware.reconsider();
        }
        if self.hardware.attention { self.look() } else { None }
    }

    #[cold]
    fn look(&mut self) -> Option<Stop> {
        self.hardware.attention = false;
        if let Some(trouble) = self.hardware.trouble.take() {
            return self.fail(trouble);
        }
        let port = self.hardware.port_hit.take();
        match self.hardware.take_frame() {
            Some(frame) => {
                // The port is reported next time.
                self.hardware.port_hit = port;
                self.hardware.attention = port.is_some();
                Some(Stop::Frame(Box::new(frame)))
            }
            None => port.map(Stop::Port),
        }
    }

    #[inline]
    fn watches(&self) -> bool {
        !self.breakpoints.addresses.is_empty() || self.breakpoints.scan_line.is_some()
    }

    #[cold]
    fn break_before(&mut self) -> Option<Stop> {
        if let Some(line) = self.breakpoints.scan_line {
            let here = self.hardware.beam_line();
            let before = std::mem::replace(&mut self.line_seen, here);
            let came = if before <= here { before < line && line <= here } else { line <= here || line > before };
            if before != here && came {
                return Some(Stop::ScanLine(line));
            }
        }
        let at = self.processor.registers.next();
        // The address stopped at is passed when the run goes on.
        let passing = self.passing.take() == Some(at);
        if !passing && self.breakpoints.addresses.contains(&at) {
            self.passing = Some(at);
            return Some(Stop::Address(at));
        }
        None
    }

    fn sleep(&mut self) -> Option<Stop> {
        if self.processor.registers.has(flag::INTERRUPT) {
            self.processor.wait_until(self.hardware.sleep());
            None
        } else {
            self.fail(Trouble::Asleep)
        }
    }

    fn call(&mut self, number: u16) -> Option<Stop> {
        let from = self.processor.registers.next();
        // What a service does to the board, the instruction that called it has done.
        self.hardware.at = self.trail.last();
        self.hardware.firmware_at_work = !self.does_as_told(number);
        let served = self.serve(number);
        self.hardware.firmware_at_work = false;
        // Ticks and keys come in between; only the services that wait can end the wait.
        if matches!(number, 0x16 | 0x21) {
            self.waits_for_key = matches!(served, Ok(Served::WaitForKey));
        }
        match served {
            Ok(end @ (Served::Exit(code) | Served::Stays(code))) => {
                let stays = matches!(end, Served::Stays(_));
                match self.back_to_parent(code, stays) {
                    Ok(true) => return None,
                    Ok(false) => {}
                    Err(trouble) => return self.fail(trouble),
                }
                if let Err(trouble) = self.close_all() {
                    return self.fail(trouble);
                }
                self.over = Some(Over::Exit(code));
                Some(Stop::Exit(code))
            }
            Ok(Served::WaitForKey) if !self.live && !self.hardware.keyboard.has_more() => Some(Stop::WaitsForKey),
            Ok(_) => None,
            Err(trouble) => {
                if trouble == Trouble::Nowhere {
                    self.trail.add(from);
                }
                self.fail(trouble)
            }
        }
    }

    #[cold]
    fn fail(&mut self, trouble: Trouble) -> Option<Stop> {
        self.fail_at(self.trail.last(), trouble)
    }

    /// The program cannot go on, because of an instruction that need not be the last one.
    fn fail_at(&mut self, at: Far, trouble: Trouble) -> Option<Stop> {
        let line = |at| listing::line(at, |address| self.hardware.peek(address)).to_string();
        let report = Box::new(Report {
            trouble,
            at,
            registers: self.processor.registers,
            last: self.trail.places().map(line).collect(),
        });
        self.over = Some(Over::Trouble(report.clone()));
        Some(Stop::Trouble(report))
    }
}
