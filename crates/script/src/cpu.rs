//! CPU models: how many clocks the instructions of a routine take, as data.
//!
//! A model (RON, one a file) holds a clock, a bus and a table of published
//! instruction clocks. [`Cpu`] is a model that meets one board: it adds the
//! wait states of ports and of that board's memory, and the second bus cycle
//! of a word that does not fit the bus.

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::{Adapter, Basis, Fact, LinePlace, MemoryBus, Registers};
use backporch_input::{Catalogue, InputError, Source, Version1, parse};
use backporch_processor_timing::table::{self, Class, Published, Shape};
use backporch_processor_timing::{BeamClock, Model, Operation, ProcessorClock, USUAL_REFRESH_BEATS};
use serde::{Deserialize, Serialize};

use crate::time::Timebase;

/// Built-in processor models, as RON texts.
pub const PROCESSORS: Catalogue = Catalogue::new(
    "cpu",
    &[
        ("8bit-4.77", include_str!("../../../assets/cpus/8bit-4.77.ron")),
        ("16bit-8", include_str!("../../../assets/cpus/16bit-8.ron")),
        ("186-8", include_str!("../../../assets/cpus/186-8.ron")),
        ("286-8", include_str!("../../../assets/cpus/286-8.ron")),
        ("386-16", include_str!("../../../assets/cpus/386-16.ron")),
    ],
);

/// The processor's bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BusModel {
    /// Width in bits, 8 or 16.
    pub bits: u8,
    /// Clocks of a bus cycle without wait states.
    pub cycle: u32,
    /// Wait states of system memory, in clocks.
    pub memory_wait: u32,
    /// Wait states of a port, in clocks.
    pub port_wait: u32,
}

/// A repeated string instruction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repeated {
    /// Clocks before the first repetition.
    pub start: u32,
    /// Clocks of each repetition.
    pub each: u32,
}

/// Instruction clocks without wait states, byte operands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InstructionClocks {
    /// Where the table comes from.
    pub basis: Basis,
    /// `OUT DX, accumulator`.
    pub out_dx: u32,
    /// `IN accumulator, DX`.
    pub in_dx: u32,
    /// `MOV register, immediate`.
    pub mov_reg_imm: u32,
    /// `MOV accumulator, memory`.
    pub load_accumulator: u32,
    /// `MOV memory, accumulator`.
    pub store_accumulator: u32,
    /// `ADD`, `XOR` or `CMP register, immediate`.
    pub add_reg_imm: u32,
    /// `INC` of a 16-bit register.
    pub inc_reg: u32,
    /// `TEST accumulator, immediate`.
    pub test_imm: u32,
    /// `JMP` back to the main loop.
    pub jump: u32,
    /// Conditional jump, taken.
    pub jump_taken: u32,
    /// Conditional jump, not taken.
    pub jump_not_taken: u32,
    /// `LOOP`, taken.
    pub loop_taken: u32,
    /// `LOOP`, not taken.
    pub loop_done: u32,
    /// `MOVS`, once.
    pub movs: u32,
    /// `REP MOVS`.
    pub rep_movs: Repeated,
    /// `REP STOS`.
    pub rep_stos: Repeated,
    /// `LODS`, once.
    pub lods: u32,
}

/// Bytes of the instruction at a column loop's or a polling loop's start: one without operands or `IN AL, DX`.
const SHORT_TARGET: u32 = 1;

/// Bytes of the instruction at the main loop's start, `MOV register, immediate`, and its components, which an 80386 counts.
const LONG_TARGET: u32 = 3;
const LONG_COMPONENTS: u32 = 2;

impl InstructionClocks {
    /// The entries of the published table that a script's instructions need.
    #[must_use]
    pub fn published(model: Model) -> Self {
        let figure = |class, shape| table::row_of(class, shape).map_or(Published::None, |row| row.figure(model));
        let flat = |class, shape| match figure(class, shape) {
            Published::Flat(clocks) | Published::ByWidth(clocks, _) => u32::from(clocks),
            _ => 0,
        };
        let clocks = |operation, shape| flat(Class::Only(operation), shape);
        let branch = |operation| match figure(Class::Only(operation), Shape::Plain) {
            Published::Branch(taken, not) => (u32::from(taken), u32::from(not)),
            Published::BranchTarget(taken, not) => (u32::from(taken) + SHORT_TARGET, u32::from(not)),
            _ => (0, 0),
        };
        let repeated = |operation| match figure(Class::RepeatedString(operation), Shape::Plain) {
            Published::Repeated(start, each) => Repeated { start: u32::from(start), each: u32::from(each) },
            _ => Repeated { start: 0, each: 0 },
        };
        let jump = match figure(Class::Only(Operation::JmpNear), Shape::Plain) {
            Published::Jump(clocks) if model.is_from(Model::P80386) => u32::from(clocks) + LONG_COMPONENTS,
            Published::Jump(clocks) => u32::from(clocks) + LONG_TARGET,
            Published::Flat(clocks) => u32::from(clocks),
            _ => 0,
        };
        let ((jump_taken, jump_not_taken), (loop_taken, loop_done)) = (branch(Operation::Jcc), branch(Operation::Loop));
        Self {
            basis: Basis::Published(table::source(model).to_string()),
            out_dx: clocks(Operation::Out, Shape::Port),
            in_dx: clocks(Operation::In, Shape::Port),
            mov_reg_imm: clocks(Operation::Mov, Shape::RegisterImmediate),
            load_accumulator: clocks(Operation::Mov, Shape::AccumulatorMemory),
            store_accumulator: clocks(Operation::Mov, Shape::MemoryAccumulator),
            add_reg_imm: flat(Class::Arithmetic, Shape::RegisterImmediate),
            inc_reg: flat(Class::Step, Shape::Register),
            test_imm: clocks(Operation::Test, Shape::AccumulatorImmediate),
            jump,
            jump_taken,
            jump_not_taken,
            loop_taken,
            loop_done,
            movs: clocks(Operation::Movs, Shape::Plain),
            rep_movs: repeated(Operation::Movs),
            rep_stos: repeated(Operation::Stos),
            lods: clocks(Operation::Lods, Shape::Plain),
        }
    }

    /// Every entry with its name in the file.
    fn entries(&self) -> [(&'static str, u32); 19] {
        [
            ("out_dx", self.out_dx),
            ("in_dx", self.in_dx),
            ("mov_reg_imm", self.mov_reg_imm),
            ("load_accumulator", self.load_accumulator),
            ("store_accumulator", self.store_accumulator),
            ("add_reg_imm", self.add_reg_imm),
            ("inc_reg", self.inc_reg),
            ("test_imm", self.test_imm),
            ("jump", self.jump),
            ("jump_taken", self.jump_taken),
            ("jump_not_taken", self.jump_not_taken),
            ("loop_taken", self.loop_taken),
            ("loop_done", self.loop_done),
            ("movs", self.movs),
            ("rep_movs", self.rep_movs.start),
            ("rep_movs", self.rep_movs.each),
            ("rep_stos", self.rep_stos.start),
            ("rep_stos", self.rep_stos.each),
            ("lods", self.lods),
        ]
    }
}

/// Where a model's instruction clocks come from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClockTable {
    /// The published table of a processor the PC has, by its part number.
    Published(Model),
    /// A table of the file's own.
    Listed(InstructionClocks),
}

impl ClockTable {
    fn clocks(&self) -> InstructionClocks {
        match self {
            Self::Published(model) => InstructionClocks::published(*model),
            Self::Listed(clocks) => clocks.clone(),
        }
    }
}

/// A CPU model: the file form `cpu` (RON, one model a file).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CpuModel {
    /// Version of the file form.
    pub version: Version1,
    /// Name used on the command line and in routines.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// What is known of the class, and how well.
    pub facts: Vec<Fact>,
    /// Clock rate.
    pub clock: ProcessorClock,
    /// Bus.
    pub bus: BusModel,
    /// Beats of the timer from one memory refresh to the next, 0 for memory that is not refreshed: for programs.
    #[serde(default = "usual_refresh")]
    pub refresh_beats: u8,
    /// Instruction clocks.
    pub clocks: ClockTable,
}

fn usual_refresh() -> u8 {
    USUAL_REFRESH_BEATS
}

impl CpuModel {
    /// Reads a model and checks that every instruction takes time.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Self, InputError> {
        let model: Self = parse(source)?;
        if !matches!(model.bus.bits, 8 | 16) {
            return Err(source.fault(&["bus", "bits"], model.bus.bits, "8 or 16"));
        }
        if !(1..=16).contains(&model.bus.cycle) {
            return Err(source.fault(&["bus", "cycle"], model.bus.cycle, "1..=16 clocks"));
        }
        for (field, wait) in [("memory_wait", model.bus.memory_wait), ("port_wait", model.bus.port_wait)] {
            if wait > 1000 {
                return Err(source.fault(&["bus", field], wait, "0..=1000 clocks"));
            }
        }
        match model.clocks.clocks().entries().into_iter().find(|(_, clocks)| !(1..=1000).contains(clocks)) {
            Some((field, clocks)) => Err(source.fault(&["clocks", field], clocks, "1..=1000 clocks")),
            None => Ok(model),
        }
    }

    /// The built-in model of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        Self::from_source(&PROCESSORS.source(name)?).ok()
    }

    /// The model of that name: built in, or else the file of that path, from `folder`. A part number stands for the built-in
    /// model of that processor.
    ///
    /// # Errors
    /// A name that is none of these; otherwise as [`from_source`](Self::from_source).
    pub fn open(name: &str, folder: &Path) -> Result<Self, InputError> {
        if let Some(processor) = Model::named(name) {
            let table = ClockTable::Published(processor);
            let built_in = PROCESSORS.names().filter_map(Self::built_in).find(|model| model.clocks == table);
            if let Some(model) = built_in {
                return Ok(model);
            }
        }
        Self::from_source(&PROCESSORS.open(name, folder)?)
    }
}

/// Bytes moved at a time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Width {
    /// One byte.
    #[default]
    Byte,
    /// Two bytes, the lower one first.
    Word,
}

impl Width {
    /// Number of bytes.
    #[must_use]
    pub fn bytes(self) -> u32 {
        match self {
            Self::Byte => 1,
            Self::Word => 2,
        }
    }
}

/// A CPU model that drives one board, at some speed.
#[derive(Clone, Debug)]
pub struct Cpu {
    model: Arc<CpuModel>,
    clocks: InstructionClocks,
    base: Timebase,
    board: MemoryBus,
    board_wait: u32,
    /// Dots of the board's lines.
    line_dots: u32,
}

impl Cpu {
    /// The model on a board with these registers, at `permille` thousandths of its speed.
    ///
    /// The board's memory takes its time whatever the processor's speed, so
    /// its wait states are counted anew.
    #[must_use]
    pub fn new(model: Arc<CpuModel>, adapter: &Adapter, registers: &Registers, permille: u32) -> Self {
        let clock = model.clock.at_speed(permille);
        let clocks = model.clocks.clocks();
        let base = Timebase::new(adapter.dot_clock_of(registers), clock);
        Self { base, model, clocks, board: MemoryBus::default(), board_wait: 0, line_dots: 0 }
            .beside(adapter, registers)
    }

    /// The same processor beside a board whose registers now hold this.
    #[must_use]
    pub fn beside(self, adapter: &Adapter, registers: &Registers) -> Self {
        let clock = self.base.clock();
        let board = adapter.bus(registers);
        // Nanoseconds times millihertz over 10^12 are clocks.
        let access = u128::from(board.access_ns) * u128::from(clock.crystal_millihertz());
        let clocks = access.div_ceil(1_000_000_000_000 * u128::from(clock.divider()));
        let board_wait = (clocks as u32).saturating_sub(self.model.bus.cycle);
        let line_dots = adapter.timing(registers).chars() * u32::from(adapter.shown(registers).char_dots);
        let base = self.base.at_dot_clock(adapter.dot_clock_of(registers));
        Self { base, board, board_wait, line_dots, ..self }
    }

    /// The model.
    #[must_use]
    pub fn model(&self) -> &CpuModel {
        &self.model
    }

    /// Clocks and dots on one scale.
    #[must_use]
    pub fn base(&self) -> &Timebase {
        &self.base
    }

    /// The table of instruction clocks.
    #[must_use]
    pub fn clocks(&self) -> &InstructionClocks {
        &self.clocks
    }

    /// What an access to the board's memory costs.
    #[must_use]
    pub fn board_bus(&self) -> MemoryBus {
        self.board
    }

    /// Wait states of a bus cycle to the memory of a board without slots, in clocks.
    #[must_use]
    pub fn board_wait(&self) -> u32 {
        self.board_wait
    }

    /// Clocks added to a transfer to or from the board's memory that ends a cycle after `start` but for waiting, the beam
    /// being where `beam` says, on lines as `line` says.
    #[must_use]
    pub fn board_transfer_at(
        &self,
        width: Width,
        address: u32,
        beam: &BeamClock,
        line: impl Fn() -> LinePlace,
        start: u64,
    ) -> u32 {
        let Some(slots) = self.board.slots else {
            return self.board_transfer(width, address);
        };
        let wait = |start| beam.wait_for(start, |command| slots.served_at(command, &line));
        let first = wait(start);
        if !self.is_split(width, self.board.bits, address % 2 == 1) {
            return first;
        }
        let second = start + u64::from(self.model.bus.cycle + first);
        first + self.model.bus.cycle + wait(second)
    }

    /// Clocks of one of many equal transfers of `clocks` each to the board's memory, on average: where the board has slots,
    /// each finds the place that the ones before have left it at.
    fn sustained(&self, clocks: u32, width: Width, address: u32) -> f64 {
        /// Transfers until they have settled, and those counted: many lines of a slow processor.
        const SETTLING: u64 = 64;
        const TRANSFERS: u64 = 3 * 1024;
        if self.board.slots.is_none() {
            return f64::from(clocks + self.board_transfer(width, address));
        }
        let (beam, line) = (self.base.beam_from(0), LinePlace { began: 0, dots: self.line_dots });
        let transfer = |clock: u64, _: u64| {
            let done = clock + u64::from(clocks);
            let start = done - u64::from(self.model.bus.cycle);
            done + u64::from(self.board_transfer_at(width, address, &beam, || line, start))
        };
        let settled = (0..SETTLING).fold(0, transfer);
        let end = (0..TRANSFERS).fold(settled, transfer);
        (end - settled) as f64 / TRANSFERS as f64
    }

    /// Whether a transfer takes two bus cycles.
    fn is_split(&self, width: Width, target_bits: u8, odd: bool) -> bool {
        width == Width::Word && (odd || self.model.bus.bits.min(target_bits) == 8)
    }

    /// Clocks that waiting and second bus cycles add to one transfer.
    fn added(&self, width: Width, target_bits: u8, wait: u32, odd: bool) -> u32 {
        let cycles = if self.is_split(width, target_bits, odd) { 2 } else { 1 };
        (cycles - 1) * self.model.bus.cycle + cycles * wait
    }

    /// Clocks added to a transfer to or from the memory of a board without slots.
    #[must_use]
    fn board_transfer(&self, width: Width, address: u32) -> u32 {
        self.added(width, self.board.bits, self.board_wait, address % 2 == 1)
    }

    /// Clocks added to a transfer to or from system memory, at an even address.
    #[must_use]
    pub fn memory_transfer(&self, width: Width) -> u32 {
        self.added(width, 16, self.model.bus.memory_wait, false)
    }

    /// Clocks of an `OUT`. Ports of boards are 8 bits wide.
    #[must_use]
    pub fn out(&self, width: Width) -> u32 {
        self.clocks().out_dx + self.added(width, 8, self.model.bus.port_wait, false)
    }

    /// Clocks of an `IN` of a byte.
    #[must_use]
    pub fn read_port(&self) -> u32 {
        self.clocks().in_dx + self.model.bus.port_wait
    }

    /// Clocks of one round of a polling loop: `IN`, `TEST`, jump back.
    #[must_use]
    pub fn poll_round(&self) -> u32 {
        self.read_port() + self.clocks().test_imm + self.clocks().jump_taken
    }

    /// Clocks of one repetition of `REP MOVS` from system memory to the board, on average.
    #[must_use]
    pub fn copy_each(&self, width: Width, address: u32) -> f64 {
        self.sustained(self.clocks().rep_movs.each + self.memory_transfer(width), width, address)
    }

    /// Clocks of one repetition of `REP STOS` to the board, on average.
    #[must_use]
    pub fn fill_each(&self, width: Width, address: u32) -> f64 {
        self.sustained(self.clocks().rep_stos.each, width, address)
    }
}

#[cfg(test)]
mod tests {
    use backporch_processor_timing::NORMAL_SPEED;

    use super::*;

    fn cpu(model: &str, adapter: &str) -> Cpu {
        let model = Arc::new(CpuModel::built_in(model).unwrap());
        let adapter = Adapter::built_in(adapter).unwrap();
        Cpu::new(model, &adapter, &adapter.start_up(adapter.default_mode()), NORMAL_SPEED)
    }

    /// iAPX 286 Programmer's Reference: jumps 7 + m, loops 8 + m, and what else a script runs.
    #[test]
    fn the_published_table_gives_a_scripts_instructions() {
        let clocks = InstructionClocks::published(Model::P80286);
        let values: Vec<u32> = clocks.entries().iter().map(|(_, clocks)| *clocks).collect();
        assert_eq!(values, [3, 5, 2, 5, 3, 3, 2, 3, 10, 8, 3, 9, 4, 5, 5, 4, 4, 3, 5]);
        // 80386 Programmer's Reference Manual: jumps 7 + m, loops 11 + m, ports of real mode.
        let clocks = InstructionClocks::published(Model::P80386);
        let values: Vec<u32> = clocks.entries().iter().map(|(_, clocks)| *clocks).collect();
        assert_eq!(values, [11, 13, 2, 4, 2, 2, 2, 2, 9, 8, 3, 12, 11, 7, 5, 4, 5, 5, 5]);
        let clocks = InstructionClocks::published(Model::P8088);
        let values: Vec<u32> = clocks.entries().iter().map(|(_, clocks)| *clocks).collect();
        assert_eq!(values, [8, 8, 4, 10, 10, 4, 2, 4, 15, 16, 4, 17, 5, 18, 9, 17, 9, 10, 12]);
    }

    #[test]
    fn every_built_in_model_holds_together() {
        for (name, text) in PROCESSORS.entries() {
            let model = CpuModel::from_source(&Source::built_in(*name, *text)).unwrap();
            assert_eq!(model.name, *name);
        }
    }

    /// The 8086 Family User's Manual: OUT DX 8 clocks, 4 more a word on an
    /// 8-bit bus; REP MOVSB 9 + 17 a byte, REP MOVSW 9 + 25 a word there.
    /// One wait state a port cycle and none of memory are this model's.
    #[test]
    fn published_clocks_add_up() {
        let mut cpu = cpu("8bit-4.77", "monochrome");
        assert_eq!(cpu.out(Width::Byte), 8 + 1);
        assert_eq!(cpu.out(Width::Word), 8 + 4 + 2);
        assert_eq!(cpu.poll_round(), 8 + 1 + 4 + 16);
        cpu.board_wait = 0;
        assert_eq!(cpu.copy_each(Width::Byte, 0), 17.0);
        assert_eq!(cpu.copy_each(Width::Word, 0), 25.0);
        assert_eq!(cpu.fill_each(Width::Word, 0), 14.0);
    }

    /// 800 ns at 4.772727 MHz are 3.8 clocks, which a cycle of 4 covers; at 8 MHz they are 6.4, so a cycle of 4 waits 3
    /// and one of 2 waits 5.
    #[test]
    fn board_memory_takes_its_time_at_any_speed() {
        assert_eq!(cpu("8bit-4.77", "monochrome").board_wait(), 0);
        assert_eq!(cpu("16bit-8", "monochrome").board_wait(), 3);
        assert_eq!(cpu("286-8", "monochrome").board_wait(), 5);
    }

    /// A word to an 8-bit board takes two cycles, each with its own waiting:
    /// 17 + 4 + 2 × 3 (The 8086 Family User's Manual; waiting as above).
    #[test]
    fn words_split_on_a_narrow_board() {
        let cpu = cpu("16bit-8", "monochrome");
        assert_eq!(cpu.copy_each(Width::Word, 0), 17.0 + 4.0 + 6.0);
        assert_eq!(cpu.copy_each(Width::Byte, 0), 17.0 + 3.0);
    }

    /// 3 to 8 waits, 3 once and 4 to 8 three times each over the sixteen phases (hardware note *The CGA wait states*, 2012);
    /// a fill comes to about 16 clocks a byte.
    #[test]
    fn a_board_with_slots_serves_the_processor_in_them() {
        let cpu = cpu("8bit-4.77", "colour-graphics");
        let wait = |phase| {
            let beam = cpu.base().beam_from(phase);
            cpu.board_transfer_at(Width::Byte, 0, &beam, LinePlace::default, 100)
        };
        let mut waits: Vec<u32> = (0..16).map(wait).collect();
        waits.sort_unstable();
        assert_eq!(waits, [3, 4, 4, 4, 5, 5, 5, 6, 6, 6, 7, 7, 7, 8, 8, 8]);
        assert_eq!(cpu.fill_each(Width::Byte, 0), 16.0);
    }

    #[test]
    fn a_model_that_takes_no_time_is_refused() {
        let listed = "Listed((basis: Assumed, out_dx: 11, in_dx: 13, mov_reg_imm: 2, load_accumulator: 4, \
                      store_accumulator: 2, add_reg_imm: 2, inc_reg: 2, test_imm: 2, jump: 0, jump_taken: 8, \
                      jump_not_taken: 3, loop_taken: 12, loop_done: 11, movs: 7, rep_movs: (start: 5, each: 4), \
                      rep_stos: (start: 5, each: 5), lods: 5))";
        let text = PROCESSORS.entries()[0].1.replace("Published(\"8088\")", listed);
        let text = text.replace(&format!("basis: {listed}"), "basis: CommonPractice");
        let error = CpuModel::from_source(&Source::built_in("x", text)).unwrap_err();
        assert_eq!((error.field(), error.allowed()), (Some("clocks.jump"), "1..=1000 clocks"));
        let text = PROCESSORS.entries()[0].1.replace("Published(\"8088\")", "Published(\"8085\")");
        let error = CpuModel::from_source(&Source::built_in("x", text)).unwrap_err();
        assert!(error.to_string().contains("8088, 8086, 80186, 80286, 80386"), "{error}");
        let text = PROCESSORS.entries()[0].1.replace("divide: 3", "divide: 0");
        let error = CpuModel::from_source(&Source::built_in("x", text)).unwrap_err();
        assert!(error.allowed().contains("1 to 100 MHz"), "{error}");
    }
}
