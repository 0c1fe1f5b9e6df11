//! A moment for the write of the start address at which nothing strikes.

use std::sync::Arc;

use backporch_input::Source;
use backporch_raster::Tap;
use backporch_script::{Cpu, FRAME, Moment, NORMAL_SPEED, Program, RoutineFile, RunError, Step, ValueForm};

use crate::margins::{MarginSweep, Margins, Trial, frame_dots};

/// A moment for the write of the start address that holds in every run.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// Scan lines to let pass after display starts.
    pub lines: u16,
    /// The routine with its write moved there.
    pub routine: RoutineFile,
    /// What a sweep over it found: nothing.
    pub margins: Margins,
}

/// Shares of the active area tried as write moments, in order: parts of sixteen. Some classes take the start address over
/// just before the active area, so its beginning comes last.
const MOMENTS: [u32; 5] = [1, 4, 8, 12, 0];

impl<T: Tap + Clone + Send + Sync> Trial<T> {
    /// Looks for a moment to write the start address at which no hazard
    /// strikes at any phase and speed of the sweep.
    ///
    /// The routine is turned so that it redraws when retrace begins and then
    /// writes the next start address this many lines into the active area; each
    /// candidate is run over the whole sweep. The lines are let pass by a delay
    /// of processor clocks: a polling loop may be longer than the blanking of a
    /// line and lose count. `None` where the routine's write is not a plain step
    /// of each pass, or no moment holds.
    ///
    /// # Errors
    /// Where the routine draws from a picture and there is none.
    pub fn advice(&self, sweep: &MarginSweep, done: &(dyn Fn() + Sync)) -> Result<Option<Advice>, RunError> {
        let adapter = self.board.adapter();
        let timing = adapter.timing(self.board.registers());
        let shown = timing.lines_displayed();
        let start = &adapter.field_info(adapter.start_address()).name;
        let source = Source::built_in("advice", String::new());
        let line_dots = frame_dots(adapter, self.board.registers()) / u64::from(timing.lines()).max(1);
        let cpu = Cpu::new(Arc::clone(&self.model), adapter, self.board.registers(), NORMAL_SPEED);
        for part in MOMENTS {
            let lines = (shown * part / 16) as u16;
            let delay = cpu.base().clocks_to(u64::from(lines) * line_dots);
            let Some(routine) = turned(self.program.file(), start, delay) else { return Ok(None) };
            let Ok(program) = Program::compile(&source, routine.clone(), adapter) else { return Ok(None) };
            let trial = Self { program: Arc::new(program), ..self.clone() };
            let margins = trial.margins(sweep, done)?;
            if margins.is_clean() {
                return Ok(Some(Advice { lines, routine, margins }));
            }
        }
        Ok(None)
    }
}

/// The routine turned: redraw at retrace, then, `delay` processor clocks after display starts, the steps that lead to
/// the next write of the register `start`.
fn turned(file: &RoutineFile, start: &str, delay: u64) -> Option<RoutineFile> {
    let sets_start = |step: &Step| matches!(step, Step::Set { register, .. } if register == start);
    let moves_memory = |step: &&Step| touches_memory(step);
    let set = file.each_frame.iter().position(sets_start)?;
    let work = |step: &&Step| !matches!(step, Step::Wait(_) | Step::Work(_) | Step::Jitter(_));
    let leading: Vec<Step> =
        file.each_frame[..=set].iter().filter(work).filter(|step| !moves_memory(step)).cloned().collect();
    // In the turned routine they run one pass earlier, so they must not count passes.
    if leading.iter().any(names_the_pass) {
        return None;
    }
    let redraws = file.each_frame[..set].iter().filter(work).filter(moves_memory).cloned();
    let rest = file.each_frame[set + 1..].iter().filter(work).cloned();
    let delay = || (delay > 0).then(|| Step::Work(ValueForm::from(i64::try_from(delay).unwrap_or(i64::MAX))));
    // Before the first pass the beam may be anywhere; in a pass it comes from retrace.
    let first = [Step::Wait(Moment::ActiveStart)].into_iter().chain(delay()).chain(leading.clone());
    let once = file.once.iter().cloned().chain(first).collect();
    let write = [Step::Wait(Moment::DisplayStart)].into_iter().chain(delay()).chain(leading);
    let redraw = [Step::Wait(Moment::RetraceStart)].into_iter().chain(redraws).chain(rest);
    Some(RoutineFile { once, each_frame: redraw.chain(write).collect(), ..file.clone() })
}

fn touches_memory(step: &Step) -> bool {
    match step {
        Step::Fill { .. } | Step::Copy { .. } | Step::Bytes { .. } | Step::Column { .. } => true,
        Step::If { then, otherwise, .. } => then.iter().chain(otherwise).any(touches_memory),
        Step::Repeat { steps, .. } => steps.iter().any(touches_memory),
        _ => false,
    }
}

/// Whether a register step depends on the number of the pass.
fn names_the_pass(step: &Step) -> bool {
    match step {
        Step::Set { value, .. } | Step::Port { value, .. } | Step::Put(_, value) => value.names(FRAME),
        Step::Count(_) => false,
        _ => true,
    }
}
