//! A routine at work: its program counter, its clock and the board it drives.
//!
//! Every instruction takes its clocks from the CPU model, and its bus access
//! falls at its end. What a step is made of:
//!
//! | step | instructions |
//! | --- | --- |
//! | a value | constant: `MOV reg, imm`; otherwise one load from memory (arithmetic is taken as done before; say `Work` where it is not) |
//! | wait | `MOV DX`; rounds of `IN`, `TEST`, jump |
//! | `Set`, a byte | `MOV DX`, `MOV AL`, `OUT`, `INC DX`, value, `OUT` |
//! | `Set`, by words | `MOV DX`, `MOV AL`, value, `OUT` of a word |
//! | `Fill`, `Copy` | three values, `REP STOS` or `REP MOVS` |
//! | `Column` | three values; a row: `MOVS` for each byte or word, two `ADD` (three on banked boards), `LOOP` |
//! | `Palette` | `MOV DX`, value, `OUT`, `INC DX`; a level: `LODS`, `OUT`, `LOOP` |
//! | `Count` | load, `ADD`, `CMP`, jump not taken, store |
//! | `If` | load, `CMP`, jump |
//! | `Repeat` | value; a round: `LOOP` |
//! | a pass | `JMP` |

mod moves;

use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::Arc;

use backporch_adapter::{Adapter, PortRole, Registers};
use backporch_processor_timing::BeamClock;
use backporch_raster::{Board, Frame, Plain, Tap};
use thiserror::Error;

use self::moves::{Bytes, ColumnRedraw, Move};
use crate::cpu::{Cpu, Width};
use crate::program::{MOST_REPEATS, MOST_WORK, Op, Program};
use crate::script::{ByteOrder, CopySource, Moment};
use crate::source_picture::SourcePicture;
use crate::trace::PortValue;
use crate::value::Expression;
use crate::watch::{Event, FrameRecord, Passed, Waited, Watched};

/// Why a routine cannot run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum RunError {
    /// It draws from a picture and was given none.
    #[error("found a routine that copies from a picture, allowed only with a picture on the bench")]
    NoPicture,
}

/// A write to come: clocks before it, port, value.
#[derive(Clone, Copy, Debug)]
struct Out {
    clocks: u32,
    port: u16,
    value: PortValue,
}

/// What takes more than one access.
#[derive(Clone, Debug)]
enum Task {
    Outs(VecDeque<Out>, u32),
    Move(Move),
    Redraw(Box<ColumnRedraw>),
}

/// Everything of a routine that changes.
#[derive(Clone, Debug)]
struct State {
    clock: u64,
    beam: BeamClock,
    next: usize,
    task: Option<Task>,
    repeats: Vec<i64>,
    counters: Vec<i64>,
    directions: Vec<i64>,
    pass: u64,
    chance: u64,
    wait: Option<(Moment, u64)>,
    pass_began: u64,
    waited: u64,
}

/// A routine driving a board. Cloning it takes a snapshot of both.
#[derive(Clone, Debug)]
pub struct Runner<T: Tap = Plain> {
    board: Watched<T>,
    program: Arc<Program>,
    cpu: Cpu,
    picture: Option<Arc<SourcePicture>>,
    state: State,
}

impl<T: Tap> Runner<T> {
    /// A routine at its first instruction.
    ///
    /// `seed` decides all that happens by chance.
    ///
    /// # Errors
    /// Where the routine draws from a picture and there is none.
    pub fn new(
        board: Board<T>,
        program: Arc<Program>,
        cpu: Cpu,
        picture: Option<Arc<SourcePicture>>,
        seed: u64,
    ) -> Result<Self, RunError> {
        if program.needs_picture() && picture.is_none() {
            return Err(RunError::NoPicture);
        }
        let cpu = cpu.beside(board.adapter(), board.registers());
        let state = State {
            clock: 0,
            beam: cpu.base().beam_from(program.file().start_dot),
            next: 0,
            task: None,
            repeats: Vec::new(),
            counters: program.counters.iter().map(|counter| counter.start).collect(),
            directions: vec![1; program.counters.len()],
            pass: 0,
            chance: seed,
            wait: None,
            pass_began: 0,
            waited: 0,
        };
        Ok(Self { board: Watched::new(board), program, cpu, picture, state })
    }

    /// The same routine, its first instruction at another dot of frame 0.
    #[must_use]
    pub fn starting_at(mut self, dot: u64) -> Self {
        self.state.beam = self.state.beam.starting_at(dot);
        self
    }

    /// The board under the routine.
    #[must_use]
    pub fn board(&self) -> &Watched<T> {
        &self.board
    }

    /// The same, with a choice of what to keep.
    pub fn board_mut(&mut self) -> &mut Watched<T> {
        &mut self.board
    }

    /// The processor.
    #[must_use]
    pub fn cpu(&self) -> &Cpu {
        &self.cpu
    }

    /// The program.
    #[must_use]
    pub fn program(&self) -> &Arc<Program> {
        &self.program
    }

    /// The wait under way and its first dot.
    #[must_use]
    pub fn waiting(&self) -> Option<(Moment, u64)> {
        let (moment, began) = self.state.wait?;
        Some((moment, self.state.beam.dot_at(began)))
    }

    /// Runs until a frame is whole.
    pub fn next_record(&mut self) -> FrameRecord {
        loop {
            if let Some(record) = self.board.take() {
                return record;
            }
            self.tick();
        }
    }

    /// Runs until the beam is at a dot, and to the end of the bus access under way there.
    ///
    /// What is driven may thus be looked at between two accesses, not only between two frames.
    pub fn run_to(&mut self, dot: u64) {
        while self.board.at().dot < dot {
            self.tick();
        }
    }

    /// Runs until a frame is whole and gives it without what happened.
    pub fn next_frame(&mut self) -> Frame {
        self.next_record().frame
    }

    // ---- time -------------------------------------------------------------

    fn dot(&self) -> u64 {
        self.state.beam.dot_at(self.state.clock)
    }

    /// The board may have been given another dot clock, with which the beam goes on from where it is, or another way of
    /// serving the processor.
    fn follow_board(&mut self) {
        let board = self.board.board();
        let new_clock = self.state.beam.select(board.dot_clock().millihertz(), self.state.clock);
        let (adapter, registers) = (board.adapter(), board.registers());
        if new_clock || adapter.has_bus_cases() && adapter.bus(registers) != self.cpu.board_bus() {
            self.cpu = self.cpu.clone().beside(adapter, registers);
        }
    }

    fn spend(&mut self, clocks: u32) {
        self.state.clock += u64::from(clocks);
    }

    /// Lets time pass that touches nothing.
    fn rest(&mut self, clocks: u32) {
        self.spend(clocks);
        let dot = self.dot();
        self.board.run_to(dot);
    }

    fn number(&self, value: &Expression) -> i64 {
        value.number(self.state.pass, &self.state.counters)
    }

    /// Clocks to bring a value into a register.
    fn operand(&self, value: &Expression) -> u32 {
        if value.is_constant() {
            self.cpu.clocks().mov_reg_imm
        } else {
            self.cpu.clocks().load_accumulator + self.cpu.memory_transfer(Width::Word)
        }
    }

    // ---- steps ----------------------------------------------------------------

    /// Does one operation, or one access of it.
    fn tick(&mut self) {
        match self.state.task.take() {
            Some(Task::Outs(outs, after)) => self.out(outs, after),
            Some(Task::Move(task)) => self.move_once(task),
            Some(Task::Redraw(task)) => self.redraw_once(task),
            None => {
                let program = Arc::clone(&self.program);
                let place = self.state.next;
                self.state.next += 1;
                self.begin(&program, place);
            }
        }
    }

    fn begin(&mut self, program: &Program, place: usize) {
        match &program.ops[place] {
            Op::WaitBegin(moment) => {
                let line =
                    |value: &Expression| Ok::<_, Infallible>(self.number(value).clamp(0, u16::MAX.into()) as u16);
                let Ok(moment) = moment.with_line(line);
                self.state.wait = Some((moment, self.state.clock));
                self.rest(self.cpu.clocks().mov_reg_imm);
            }
            Op::Poll { mask, wanted } => self.poll(*mask, *wanted, place),
            Op::WaitEnd => self.end_wait(),
            Op::Set { field, value, order, width, between, unlock } => {
                let value = (self.number(value), self.operand(value));
                let outs = self.register_writes(*field, value, *order, *width, *between, *unlock);
                self.state.task = Some(Task::Outs(outs, 0));
            }
            Op::Port { port, value, width } => {
                let number = self.number(value);
                let clocks = self.cpu.clocks().mov_reg_imm + self.operand(value) + self.cpu.out(*width);
                let value = match width {
                    Width::Byte => PortValue::Byte(number as u8),
                    Width::Word => PortValue::Word(number as u16),
                };
                self.state.task = Some(Task::Outs([Out { clocks, port: *port, value }].into(), 0));
            }
            Op::Fill { to, bytes, value, width } => {
                let setup = self.operand(to) + self.operand(bytes) + self.operand(value);
                self.spend(setup + self.cpu.clocks().rep_stos.start);
                let same = Bytes::Same(self.number(value) as u8);
                self.begin_move(same, self.number(to), self.number(bytes), *width);
            }
            Op::Copy { from, at, plane, to, bytes, width } => {
                let setup = self.operand(at) + self.operand(to) + self.operand(bytes);
                self.spend(setup + self.cpu.clocks().rep_movs.start);
                let at = self.number(at);
                let origin = match from {
                    CopySource::Picture => Bytes::Picture { from: at, plane: self.number(plane) },
                    CopySource::Memory => Bytes::Memory(at as u32),
                };
                self.begin_move(origin, self.number(to), self.number(bytes), *width);
            }
            Op::Bytes { to, bytes } => {
                let setup = self.operand(to) + 2 * self.cpu.clocks().mov_reg_imm;
                self.spend(setup + self.cpu.clocks().rep_movs.start);
                let count = bytes.len() as i64;
                self.begin_move(Bytes::Listed(Arc::clone(bytes)), self.number(to), count, Width::Byte);
            }
            Op::Column(column) => self.begin_column(column),
            Op::Palette { first, colours, rotate } => self.begin_palette(first, colours, rotate),
            Op::Count(counter) => {
                let clocks = self.cpu.clocks();
                let memory = 2 * self.cpu.memory_transfer(Width::Word);
                let step = clocks.load_accumulator + clocks.store_accumulator + memory;
                let step = step + 2 * clocks.add_reg_imm + clocks.jump_not_taken;
                let rule = program.counters[*counter];
                let (value, direction) = rule.next(self.state.counters[*counter], self.state.directions[*counter]);
                self.state.counters[*counter] = value;
                self.state.directions[*counter] = direction;
                self.rest(step);
            }
            Op::Put(counter, value) => {
                let rule = program.counters[*counter];
                let number = self.number(value).clamp(rule.from, rule.to);
                let clocks = self.operand(value) + self.cpu.clocks().store_accumulator;
                self.state.counters[*counter] = number;
                self.rest(clocks + self.cpu.memory_transfer(Width::Word));
            }
            Op::Branch { when, otherwise } => {
                let clocks = self.cpu.clocks();
                let test = clocks.load_accumulator + self.cpu.memory_transfer(Width::Word) + clocks.add_reg_imm;
                let holds = when.holds(&|value: &Expression| self.number(value));
                let jump = if holds { clocks.jump_not_taken } else { clocks.jump_taken };
                if !holds {
                    self.state.next = *otherwise;
                }
                self.rest(test + jump);
            }
            Op::Jump(to) => {
                self.state.next = *to;
                self.rest(self.cpu.clocks().jump);
            }
            Op::RepeatBegin { times, end } => {
                let clocks = self.operand(times);
                match self.number(times).min(MOST_REPEATS) {
                    ..=0 => self.state.next = *end,
                    times => self.state.repeats.push(times),
                }
                self.rest(clocks);
            }
            Op::RepeatEnd { begin } => self.end_round(*begin),
            Op::Work(clocks) => {
                let clocks = self.number(clocks).clamp(0, MOST_WORK) as u32;
                self.rest(clocks);
            }
            Op::Jitter(most) => {
                let clocks = chance(&mut self.state.chance) % (u64::from(*most) + 1);
                self.rest(clocks as u32);
            }
            Op::PassEnd => self.end_pass(program.each_frame),
        }
    }

    fn end_round(&mut self, begin: usize) {
        let left = self.state.repeats.pop().unwrap_or(1) - 1;
        let clocks = match left {
            0 => self.cpu.clocks().loop_done,
            left => {
                self.state.repeats.push(left);
                self.state.next = begin + 1;
                self.cpu.clocks().loop_taken
            }
        };
        self.rest(clocks);
    }

    fn end_pass(&mut self, each_frame: usize) {
        self.rest(self.cpu.clocks().jump);
        let all = self.state.clock - self.state.pass_began;
        let passed = Passed {
            pass: self.state.pass,
            end: self.board.at(),
            busy_clocks: all - self.state.waited,
            waited_clocks: self.state.waited,
            frames_meant: self.program.file().frames_per_pass,
        };
        self.board.push(Event::Passed(passed));
        self.state.pass += 1;
        self.state.pass_began = self.state.clock;
        self.state.waited = 0;
        self.state.next = each_frame;
    }

    // ---- waiting ------------------------------------------------------------------

    /// One round of a polling loop.
    fn poll(&mut self, mask: u8, wanted: bool, place: usize) {
        self.spend(self.cpu.read_port());
        let dot = self.dot();
        let board = self.board.board();
        let port = board.adapter().port_of(board.registers(), PortRole::Status).unwrap_or_default();
        let status = self.board.read_port(dot, port);
        let clocks = self.cpu.clocks();
        let jump = if (status & mask != 0) == wanted {
            clocks.jump_not_taken
        } else {
            self.state.next = place;
            clocks.jump_taken + self.program.file().poll_extra_clocks
        };
        self.spend(clocks.test_imm + jump);
    }

    fn end_wait(&mut self) {
        if let Some((moment, began)) = self.state.wait.take() {
            self.state.waited += self.state.clock - began;
            let from = self.state.beam.dot_at(began);
            let until = self.board.at();
            self.board.push(Event::Waited(Waited { moment, from, until, round: None }));
        }
    }

    // ---- ports -----------------------------------------------------------------------

    fn out(&mut self, mut outs: VecDeque<Out>, after: u32) {
        if let Some(out) = outs.pop_front() {
            self.spend(out.clocks);
            let dot = self.dot();
            self.board.write_port(dot, out.port, out.value);
            self.follow_board();
        }
        if outs.is_empty() { self.rest(after) } else { self.state.task = Some(Task::Outs(outs, after)) }
    }

    fn register_writes(
        &self,
        field: backporch_adapter::FieldId,
        (value, operand): (i64, u32),
        order: ByteOrder,
        width: Width,
        between: u32,
        unlock: bool,
    ) -> VecDeque<Out> {
        let adapter = self.board.adapter();
        let mut registers = self.board.board().registers().clone();
        if !unlock {
            open(adapter, &mut registers);
        }
        let value = value as u32 & adapter.field_info(field).max();
        let writes = adapter.programming(&registers, field, value);
        let mut groups = grouped(adapter, &registers, &writes);
        if order == ByteOrder::LowFirst && !unlock {
            groups.reverse();
        }
        let clocks = self.cpu.clocks();
        let mut outs = VecDeque::new();
        for (position, group) in groups.into_iter().enumerate() {
            let wait = if position > 0 { between } else { 0 };
            match *group {
                [(index, cell), (data, byte)] if width == Width::Word && data == index.wrapping_add(1) => {
                    let ready = wait + 2 * clocks.mov_reg_imm + operand;
                    let value = PortValue::Word(u16::from_le_bytes([cell, byte]));
                    outs.push_back(Out { clocks: ready + self.cpu.out(Width::Word), port: index, value });
                }
                _ => {
                    for (place, (port, byte)) in group.iter().enumerate() {
                        let ready = match place {
                            0 if group.len() == 1 => wait + clocks.mov_reg_imm + operand,
                            0 => wait + 2 * clocks.mov_reg_imm,
                            _ => clocks.inc_reg + operand,
                        };
                        let clocks = ready + self.cpu.out(Width::Byte);
                        outs.push_back(Out { clocks, port: *port, value: PortValue::Byte(*byte) });
                    }
                }
            }
        }
        outs
    }

    fn begin_palette(&mut self, first: &Expression, colours: &[[u8; 3]], rotate: &Expression) {
        let adapter = self.board.adapter();
        let registers = self.board.board().registers();
        let port = |role| adapter.port_of(registers, role);
        let ports = (port(PortRole::DacWriteIndex), port(PortRole::DacData));
        let (Some(index), Some(data)) = ports else { return };
        let clocks = self.cpu.clocks();
        let out = self.cpu.out(Width::Byte);
        let select = clocks.mov_reg_imm + self.operand(first) + out;
        let level = clocks.lods + self.cpu.memory_transfer(Width::Byte) + out;
        let mut outs: VecDeque<Out> =
            [Out { clocks: select, port: index, value: PortValue::Byte(self.number(first) as u8) }].into();
        let moved = self.number(rotate).rem_euclid(colours.len() as i64) as usize;
        let levels = colours.iter().cycle().skip(moved).take(colours.len()).flatten();
        for (position, value) in levels.enumerate() {
            let before = if position == 0 { clocks.inc_reg } else { clocks.loop_taken };
            outs.push_back(Out { clocks: before + level, port: data, value: PortValue::Byte(*value) });
        }
        self.state.task = Some(Task::Outs(outs, clocks.loop_done));
    }
}

/// Lifts the write protection of registers that are only looked at.
fn open(adapter: &Adapter, registers: &mut Registers) {
    if let Some(protect) = adapter.protect_field() {
        // 0 fits every field.
        let _ = adapter.set(registers, protect, 0);
    }
}

/// Port writes, those of one register together.
fn grouped<'a>(adapter: &Adapter, registers: &Registers, writes: &'a [(u16, u8)]) -> Vec<&'a [(u16, u8)]> {
    let mut groups = Vec::new();
    let mut rest = writes;
    while let Some((port, _)) = rest.first() {
        let pair =
            matches!(adapter.port_role(registers, *port), Some(PortRole::Index(_) | PortRole::AttributeFlipFlop));
        let (group, others) = rest.split_at(if pair { 2.min(rest.len()) } else { 1 });
        groups.push(group);
        rest = others;
    }
    groups
}

/// The next number of a splitmix64 sequence.
pub fn chance(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut mixed = *state;
    mixed = (mixed ^ mixed >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    mixed ^ mixed >> 31
}
