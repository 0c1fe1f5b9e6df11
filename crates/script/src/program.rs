//! A routine made ready to run: steps flattened, names resolved, everything checked.

use std::sync::Arc;

use backporch_adapter::{Adapter, FieldId, PortRole, StatusSignal};
use backporch_input::{Catalogue, InputError, Source, parse, spelling};

use crate::cpu::Width;
use crate::script::{AtEnd, ByteOrder, CopySource, CounterForm, Moment, RoutineFile, Step, StepCondition};
use crate::value::{Expression, FRAME, ValueForm};

/// Built-in routine scripts, as RON texts.
pub const ROUTINES: Catalogue = Catalogue::new(
    "routine",
    &[
        ("scroll-clean", include_str!("../../../assets/routines/scroll-clean.routine.ron")),
        ("scroll-late", include_str!("../../../assets/routines/scroll-late.routine.ron")),
        ("scroll-torn", include_str!("../../../assets/routines/scroll-torn.routine.ron")),
        ("scroll-early-column", include_str!("../../../assets/routines/scroll-early-column.routine.ron")),
    ],
);

/// Lists of steps may nest this deep.
const DEEPEST: usize = 16;
/// A script's loops and moves are cut to this many repetitions.
pub(crate) const MOST_REPEATS: i64 = 1 << 20;
/// Work of one step is cut to this many clocks.
pub(crate) const MOST_WORK: i64 = 1 << 24;

/// One operation of a program.
#[derive(Clone, Debug)]
pub(crate) enum Op {
    WaitBegin(Moment<Expression>),
    Poll { mask: u8, wanted: bool },
    WaitEnd,
    Set { field: FieldId, value: Expression, order: ByteOrder, width: Width, between: u32, unlock: bool },
    Port { port: u16, value: Expression, width: Width },
    Fill { to: Expression, bytes: Expression, value: Expression, width: Width },
    Copy { from: CopySource, at: Expression, plane: Expression, to: Expression, bytes: Expression, width: Width },
    Bytes { to: Expression, bytes: Arc<[u8]> },
    Column(Box<ColumnOp>),
    Palette { first: Expression, colours: Arc<[[u8; 3]]>, rotate: Expression },
    Count(usize),
    Put(usize, Expression),
    Branch { when: StatusTest, otherwise: usize },
    Jump(usize),
    RepeatBegin { times: Expression, end: usize },
    RepeatEnd { begin: usize },
    Work(Expression),
    Jitter(u32),
    PassEnd,
}

#[derive(Clone, Debug)]
pub(crate) struct ColumnOp {
    pub column: Expression,
    pub plane: Expression,
    pub start: Expression,
    pub x: Expression,
    pub bytes: Expression,
    pub rows: Option<Expression>,
    pub pitch: Option<Expression>,
    pub width: Width,
}

#[derive(Clone, Debug)]
pub(crate) enum StatusTest {
    Equal(Expression, Expression),
    Below(Expression, Expression),
    Not(Box<StatusTest>),
}

impl StatusTest {
    pub fn holds(&self, number: &dyn Fn(&Expression) -> i64) -> bool {
        match self {
            Self::Equal(one, two) => number(one) == number(two),
            Self::Below(one, two) => number(one) < number(two),
            Self::Not(other) => !other.holds(number),
        }
    }
}

/// A counter's rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct CounterRule {
    pub from: i64,
    pub to: i64,
    pub start: i64,
    pub step: i64,
    pub at_end: AtEnd,
}

impl CounterRule {
    /// The next value and direction (1 or -1).
    pub fn next(&self, value: i64, direction: i64) -> (i64, i64) {
        let next = value.saturating_add(self.step.saturating_mul(direction));
        let inside = (self.from..=self.to).contains(&next);
        match self.at_end {
            _ if inside => (next, direction),
            AtEnd::Wrap => {
                let span = i128::from(self.to) - i128::from(self.from) + 1;
                let offset = (i128::from(next) - i128::from(self.from)).rem_euclid(span);
                ((i128::from(self.from) + offset) as i64, direction)
            }
            AtEnd::Stop => (next.clamp(self.from, self.to), direction),
            AtEnd::Bounce => {
                let end = if next > self.to { self.to } else { self.from };
                let back = end.saturating_add(end.saturating_sub(next));
                (back.clamp(self.from, self.to), -direction)
            }
        }
    }
}

/// A routine ready to run on boards of one class.
#[derive(Clone, Debug)]
pub struct Program {
    pub(crate) ops: Vec<Op>,
    pub(crate) each_frame: usize,
    pub(crate) counters: Vec<CounterRule>,
    file: RoutineFile,
    needs_picture: bool,
}

impl Program {
    /// Reads a routine and checks it against the class of board.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source, adapter: &Adapter) -> Result<Self, InputError> {
        let file: RoutineFile = parse(source)?;
        Self::compile(source, file, adapter)
    }

    /// Checks a routine that is already parsed, such as one changed by the program itself.
    ///
    /// # Errors
    /// As [`from_source`](Self::from_source); they name `source`.
    pub fn compile(source: &Source, file: RoutineFile, adapter: &Adapter) -> Result<Self, InputError> {
        let mut names = Vec::new();
        let mut counters = Vec::new();
        for (name, form) in &file.counters {
            counters.push(counter(source, name, form)?);
            names.push(name.as_str());
        }
        let mut compiler = Compiler { source, adapter, names, ops: Vec::new(), needs_picture: false };
        compiler.steps(&Path::top("once"), &file.once, 0)?;
        let each_frame = compiler.ops.len();
        compiler.steps(&Path::top("each_frame"), &file.each_frame, 0)?;
        compiler.ops.push(Op::PassEnd);
        if file.poll_extra_clocks > MOST_WORK as u32 {
            return Err(source.fault(&["poll_extra_clocks"], file.poll_extra_clocks, format!("0..={MOST_WORK}")));
        }
        if file.frames_per_pass == 0 {
            return Err(source.fault(&["frames_per_pass"], 0, "1 or more"));
        }
        if file.start_dot > 1 << 30 {
            return Err(source.fault(&["start_dot"], file.start_dot, format!("0..={}", 1 << 30)));
        }
        let Compiler { ops, needs_picture, .. } = compiler;
        Ok(Self { ops, each_frame, counters, file, needs_picture })
    }

    /// Whether it draws from a picture in system memory.
    #[must_use]
    pub fn needs_picture(&self) -> bool {
        self.needs_picture
    }

    /// The routine as written.
    #[must_use]
    pub fn file(&self) -> &RoutineFile {
        &self.file
    }
}

fn counter(source: &Source, name: &str, form: &CounterForm) -> Result<CounterRule, InputError> {
    let CounterForm { from, to, start, step, at_end } = *form;
    if name == FRAME {
        return Err(source.fault(&["counters", name], name, "a name other than frame, the number of the pass"));
    }
    if to < from {
        return Err(source.fault(&["counters", name, "to"], to, format!("at least from, {from}")));
    }
    let start = start.unwrap_or(from);
    if (from..=to).contains(&start) {
        Ok(CounterRule { from, to, start, step, at_end })
    } else {
        Err(source.fault(&["counters", name, "start"], start, format!("{from}..={to}")))
    }
}

/// Where a step stands in the text.
#[derive(Clone)]
struct Path(Vec<String>);

impl Path {
    fn top(list: &str) -> Self {
        Self(vec![list.to_owned()])
    }

    fn then(&self, part: impl ToString) -> Self {
        let mut parts = self.0.clone();
        parts.push(part.to_string());
        Self(parts)
    }

    fn fault(&self, source: &Source, found: impl std::fmt::Display, allowed: impl std::fmt::Display) -> InputError {
        let parts: Vec<&str> = self.0.iter().map(String::as_str).collect();
        source.fault(&parts, found, allowed)
    }
}

struct Compiler<'a> {
    source: &'a Source,
    adapter: &'a Adapter,
    names: Vec<&'a str>,
    ops: Vec<Op>,
    needs_picture: bool,
}

impl Compiler<'_> {
    fn steps(&mut self, path: &Path, steps: &[Step], depth: usize) -> Result<(), InputError> {
        if depth > DEEPEST {
            return Err(path.fault(self.source, "deeper lists", format!("at most {DEEPEST} lists inside one another")));
        }
        for (position, step) in steps.iter().enumerate() {
            self.step(&path.then(position), step, depth)?;
        }
        Ok(())
    }

    fn step(&mut self, path: &Path, step: &Step, depth: usize) -> Result<(), InputError> {
        let op = match step {
            Step::Wait(moment) => return self.wait(path, moment),
            Step::Set { register, value, order, width, between_clocks, unlock } => {
                let between = (*between_clocks).min(MOST_WORK as u32);
                let field = self.register(&path.then("register"), register)?;
                let value = self.value(&path.then("value"), value)?;
                Op::Set { field, value, order: *order, width: *width, between, unlock: *unlock }
            }
            Step::Port { port, value, width } => {
                let number = u16::try_from(port.get());
                let port = number.map_err(|_| path.then("port").fault(self.source, port, "0..=0xFFFF"))?;
                Op::Port { port, value: self.value(&path.then("value"), value)?, width: *width }
            }
            Step::Fill { to, bytes, value, width } => Op::Fill {
                to: self.value(&path.then("to"), to)?,
                bytes: self.value(&path.then("bytes"), bytes)?,
                value: self.value(&path.then("value"), value)?,
                width: *width,
            },
            Step::Copy { from, at, plane, to, bytes, width } => {
                self.needs_picture |= *from == CopySource::Picture;
                Op::Copy {
                    from: *from,
                    at: self.value(&path.then("at"), at)?,
                    plane: self.value(&path.then("plane"), plane)?,
                    to: self.value(&path.then("to"), to)?,
                    bytes: self.value(&path.then("bytes"), bytes)?,
                    width: *width,
                }
            }
            Step::Bytes { to, bytes } => {
                Op::Bytes { to: self.value(&path.then("to"), to)?, bytes: bytes.as_slice().into() }
            }
            Step::Column { column, plane, start, x, bytes, rows, pitch, width } => {
                self.needs_picture = true;
                let optional = |compiler: &Self, name: &str, value: &Option<ValueForm>| {
                    value.as_ref().map(|value| compiler.value(&path.then(name), value)).transpose()
                };
                Op::Column(Box::new(ColumnOp {
                    column: self.value(&path.then("column"), column)?,
                    plane: self.value(&path.then("plane"), plane)?,
                    start: self.value(&path.then("start"), start)?,
                    x: self.value(&path.then("x"), x)?,
                    bytes: self.value(&path.then("bytes"), bytes)?,
                    rows: optional(self, "rows", rows)?,
                    pitch: optional(self, "pitch", pitch)?,
                    width: *width,
                }))
            }
            Step::Palette { first, colours, rotate } => self.palette(path, first, colours, rotate)?,
            Step::Count(name) => Op::Count(self.counter(path, name)?),
            Step::Put(name, value) => Op::Put(self.counter(&path.then(0), name)?, self.value(&path.then(1), value)?),
            Step::If { when, then, otherwise } => return self.branch(path, when, then, otherwise, depth),
            Step::Repeat { times, steps } => {
                let begin = self.ops.len();
                let times = self.value(&path.then("times"), times)?;
                self.ops.push(Op::RepeatBegin { times: times.clone(), end: 0 });
                self.steps(&path.then("steps"), steps, depth + 1)?;
                self.ops.push(Op::RepeatEnd { begin });
                self.ops[begin] = Op::RepeatBegin { times, end: self.ops.len() };
                return Ok(());
            }
            Step::Work(clocks) => Op::Work(self.value(path, clocks)?),
            Step::Jitter(most) => Op::Jitter((*most).min(MOST_WORK as u32)),
        };
        self.ops.push(op);
        Ok(())
    }

    fn palette(
        &self,
        path: &Path,
        first: &ValueForm,
        colours: &[[u8; 3]],
        rotate: &ValueForm,
    ) -> Result<Op, InputError> {
        let dac = [PortRole::DacWriteIndex, PortRole::DacData].map(|role| self.adapter.has_port_for(role));
        if dac.contains(&false) {
            let allowed = format!("a board with a DAC; the colours of {} are set by registers", self.adapter.name());
            return Err(path.fault(self.source, "Palette", allowed));
        }
        if !(1..=256).contains(&colours.len()) {
            return Err(path.then("colours").fault(self.source, colours.len(), "1 to 256 colours"));
        }
        if let Some(level) = colours.iter().flatten().find(|level| **level > 63) {
            return Err(path.then("colours").fault(self.source, level, "levels 0..=63"));
        }
        let (first, rotate) = (self.value(&path.then("first"), first)?, self.value(&path.then("rotate"), rotate)?);
        Ok(Op::Palette { first, colours: colours.into(), rotate })
    }

    fn branch(
        &mut self,
        path: &Path,
        when: &StepCondition,
        then: &[Step],
        otherwise: &[Step],
        depth: usize,
    ) -> Result<(), InputError> {
        let when = self.condition(&path.then("when"), when)?;
        let branch = self.ops.len();
        self.ops.push(Op::Jump(0));
        self.steps(&path.then("then"), then, depth + 1)?;
        let jump = self.ops.len();
        if !otherwise.is_empty() {
            self.ops.push(Op::Jump(0));
        }
        self.ops[branch] = Op::Branch { when, otherwise: self.ops.len() };
        self.steps(&path.then("otherwise"), otherwise, depth + 1)?;
        if !otherwise.is_empty() {
            self.ops[jump] = Op::Jump(self.ops.len());
        }
        Ok(())
    }

    fn condition(&self, path: &Path, condition: &StepCondition) -> Result<StatusTest, InputError> {
        // Conditions nest no deeper than the form's own limit.
        Ok(match condition {
            StepCondition::Equal(one, two) => StatusTest::Equal(self.value(path, one)?, self.value(path, two)?),
            StepCondition::Below(one, two) => StatusTest::Below(self.value(path, one)?, self.value(path, two)?),
            StepCondition::Not(other) => StatusTest::Not(Box::new(self.condition(path, other)?)),
        })
    }

    fn wait(&mut self, path: &Path, moment: &Moment<ValueForm>) -> Result<(), InputError> {
        let moment = moment.with_line(|line| self.line(path, line))?;
        self.ops.push(Op::WaitBegin(moment.clone()));
        match moment {
            Moment::ActiveStart => self.active_start(path)?,
            Moment::RetraceStart => self.edge(path, StatusSignal::VerticalSync, true)?,
            Moment::RetraceEnd => self.edge(path, StatusSignal::VerticalSync, false)?,
            Moment::DisplayStart => self.edge(path, StatusSignal::DisplayDisabled, false)?,
            Moment::DisplayEnd => self.edge(path, StatusSignal::DisplayDisabled, true)?,
            Moment::Line(line) => {
                self.active_start(path)?;
                if line != Expression::from(0) {
                    let begin = self.ops.len();
                    self.ops.push(Op::RepeatBegin { times: line.clone(), end: 0 });
                    self.edge(path, StatusSignal::DisplayDisabled, false)?;
                    self.ops.push(Op::RepeatEnd { begin });
                    self.ops[begin] = Op::RepeatBegin { times: line, end: self.ops.len() };
                }
            }
        }
        self.ops.push(Op::WaitEnd);
        Ok(())
    }

    /// A line; a number has to be one, what counters make of it is known when it is waited for.
    fn line(&self, path: &Path, line: &ValueForm) -> Result<Expression, InputError> {
        let value = self.value(path, line)?;
        let number = value.is_constant().then(|| value.number(0, &[]));
        match number.filter(|number| u16::try_from(*number).is_err()) {
            Some(number) => Err(path.fault(self.source, number, "a line from 0 to 65535")),
            None => Ok(value),
        }
    }

    fn active_start(&mut self, path: &Path) -> Result<(), InputError> {
        self.edge(path, StatusSignal::VerticalSync, false)?;
        self.poll(path, StatusSignal::DisplayDisabled, false)
    }

    /// Polls until the signal changes to `to`.
    fn edge(&mut self, path: &Path, signal: StatusSignal, to: bool) -> Result<(), InputError> {
        self.poll(path, signal, !to)?;
        self.poll(path, signal, to)
    }

    fn poll(&mut self, path: &Path, signal: StatusSignal, wanted: bool) -> Result<(), InputError> {
        let allowed = || format!("a board whose status port shows it; {} has no such bit", self.adapter.name());
        let Some(mask) = self.adapter.status_mask(signal) else {
            return Err(path.fault(self.source, format!("a wait for {}", spelling(&signal)), allowed()));
        };
        self.ops.push(Op::Poll { mask, wanted });
        Ok(())
    }

    fn register(&self, path: &Path, name: &str) -> Result<FieldId, InputError> {
        self.adapter.field(name).ok_or_else(|| {
            let names: Vec<&str> = self.adapter.fields().map(|(_, field)| field.name.as_str()).collect();
            let allowed = format!("a register of {}: {}", self.adapter.name(), names.join(", "));
            path.fault(self.source, name, allowed).with_nearest(name, names.iter().copied())
        })
    }

    fn counter(&self, path: &Path, name: &str) -> Result<usize, InputError> {
        self.names.iter().position(|known| *known == name).ok_or_else(|| self.no_counter(path, name))
    }

    fn no_counter(&self, path: &Path, name: &str) -> InputError {
        let names = [self.names.as_slice(), &[FRAME]].concat();
        path.fault(self.source, name, format!("a counter: {}", names.join(", ")))
            .with_nearest(name, names.iter().copied())
    }

    fn value(&self, path: &Path, value: &ValueForm) -> Result<Expression, InputError> {
        value.resolve(&self.names).map_err(|name| self.no_counter(path, &name))
    }
}
