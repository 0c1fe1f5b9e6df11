//! A bench's routine on several boards: who shows otherwise than it wants, and whose fault that is.
//!
//! ```text
//! the routine on the plain board ─► its own mistakes of timing, or of another kind ─► timing, code
//! on one built as its class      ─► shown otherwise than the plain one             ─► class
//! on the board as it is          ─► shown otherwise than as built                  ─► adapter
//! ```

use backporch_analysis::FrameSignature;
use backporch_analysis::compare::{
    Blame, ClassBehaviour, Comparison, Contender, Difference, Entry, behaviours_that_show, lacks,
};
use backporch_bench::Bench;
use backporch_hazards::{Hazard, HazardKind};
use backporch_input::InputError;
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Frame, Tap};
use backporch_signal::Monitor;
use rayon::prelude::*;

use crate::driver::{Driver, Start};
use crate::watching::Keep;

/// Frames more than are shown that have to be known before the last one is judged.
const AHEAD: u64 = 2;

/// Runs every contender under its bench's routine for this many frames and says whose fault the differences are. A class on
/// which the routine cannot run at all lacks what it asks for.
///
/// `done` is called after every contender, from any thread.
///
/// # Errors
/// Where the first contender's routine cannot be read, or a program does not fit into memory.
pub fn compare_driven(
    contenders: &[Contender],
    frames: u32,
    done: &(dyn Fn() + Sync),
) -> Result<Comparison, InputError> {
    let first = contenders.first().map(|contender| Driver::of(&contender.bench)).transpose()?;
    if first.flatten().is_none() {
        let allowed = "one with a routine (routine: in the bench, or --routine)";
        let name = contenders.first().map_or("", |contender| contender.bench.name());
        return Err(InputError::new(name, "a bench without a routine", allowed));
    }
    let entry = |contender: &Contender| {
        let (own, bench) = (&contenders[0].bench, &contender.bench);
        let elsewhere = own.adapter().name() != bench.adapter().name();
        let lacks = if elsewhere { lacks(own, bench) } else { Vec::new() };
        let entry = match Driver::of(&contender.bench) {
            Ok(Some(driver)) => {
                UnderRoutine { driver: &driver, bench: &contender.bench, frames }.entry(contender, lacks)
            }
            Ok(None) => Ok(cannot_run(contender, lacks, "has no routine")),
            Err(error) => Ok(cannot_run(contender, lacks, &error.to_string())),
        };
        done();
        entry
    };
    Ok(Comparison::of(contenders.par_iter().map(entry).collect::<Result<_, _>>()?))
}

/// What a kind of mistake lies in: in time, or in what is done whatever the moment.
#[must_use]
pub fn blame_of(kind: HazardKind) -> Blame {
    if kind.is_of_timing() { Blame::Timing } else { Blame::Code }
}

/// A board on which the routine does not run.
fn cannot_run(contender: &Contender, mut lacks: Vec<String>, why: &str) -> Entry {
    lacks.push(format!("cannot run the routine: {why}"));
    Entry { lacks, blame: Blame::Class, ..blameless(contender) }
}

fn blameless(contender: &Contender) -> Entry {
    Entry {
        contender: contender.clone(),
        signatures: Vec::new(),
        first: None,
        moments: Vec::new(),
        lacks: Vec::new(),
        class: Vec::new(),
        beyond_design: None,
        mistake: None,
        blame: Blame::None,
    }
}

/// One bench under its routine.
#[derive(Clone, Copy)]
struct UnderRoutine<'a> {
    driver: &'a Driver,
    bench: &'a Bench,
    frames: u32,
}

impl UnderRoutine<'_> {
    fn entry(self, contender: &Contender, lacks: Vec<String>) -> Result<Entry, InputError> {
        let bench = self.bench;
        let registers = bench.registers();
        let mut first = None;
        let mut signatures = Vec::new();
        self.beside(bench.plain(registers), bench.faulty(registers), |number, meant, shown| {
            let signature = between(&meant, &shown);
            if first.is_none() && !signature.is_clean() {
                first = Some(Difference { frame: number, signature: signature.clone(), meant, shown });
            }
            signatures.push(signature);
        })?;
        let lacking = !lacks.is_empty();
        let entry = Entry { signatures, first, lacks, ..blameless(contender) };
        // What a routine does on a class that it was not made for is no mistake of its own.
        if lacking {
            return Ok(Entry { blame: Blame::Class, ..entry });
        }
        if let Some((blame, mistake)) = self.mistake()? {
            return Ok(Entry { mistake: Some(mistake), blame, ..entry });
        }
        if entry.signatures.iter().all(FrameSignature::is_clean) {
            return Ok(entry);
        }
        let mut beyond_design = None;
        if !bench.quirks().is_empty() {
            self.beside(bench.by_design(registers), bench.faulty(registers), |_, built, shown| {
                beyond_design = beyond_design.max(between(&built, &shown).nature);
            })?;
        }
        let class = self.class()?;
        let blame = if beyond_design.is_some() { Blame::Adapter } else { Blame::Class };
        Ok(Entry { class, beyond_design, blame, ..entry })
    }

    /// The first thing that the routine does wrong on the plain board.
    fn mistake(self) -> Result<Option<(Blame, String)>, InputError> {
        let mut inspector = self.driver.inspector(self.bench);
        let run = (Start::default(), u64::from(self.frames) + AHEAD, Keep::default());
        let board = self.bench.plain(self.bench.registers());
        let watch = self.driver.watch(self.bench, board, run, &mut |record| inspector.see(record))?;
        let hazards = inspector.finish(watch.waiting);
        // A write near the take-over shows nothing yet, and a monitor that refuses the mode at rest says nothing of the
        // routine.
        let refused = self.is_refused_at_rest();
        let counts = |hazard: &&Hazard| match hazard.kind {
            HazardKind::NearLatch => false,
            HazardKind::Sync => !refused,
            _ => true,
        };
        let shown = hazards.iter().filter(|hazard| hazard.frame < u64::from(self.frames));
        // Kinds stand in order: a start address torn or late comes before the columns that are wrong with it.
        let mistake = shown.filter(counts).min_by_key(|hazard| (hazard.kind, hazard.frame));
        Ok(mistake.map(|hazard| {
            let blame = blame_of(hazard.kind);
            (blame, format!("{} in frame {}, line {}: {}", hazard.kind.name(), hazard.frame, hazard.line, hazard.what))
        }))
    }

    fn is_refused_at_rest(self) -> bool {
        let refuses = |monitor: &Monitor| {
            self.bench.adapter().signal(self.bench.registers()).map_or(true, |signal| !monitor.judge(&signal).accepts())
        };
        self.bench.monitor().is_some_and(refuses)
    }

    /// What the class does by design that the frames show.
    fn class(self) -> Result<Vec<ClassBehaviour>, InputError> {
        let registers = self.bench.registers();
        let bad = |tap: QuirkStack| {
            let mut pixels = 0;
            let run = self.beside(self.bench.plain(registers), self.bench.under(registers, tap), |_, meant, shown| {
                pixels += u64::from(between(&meant, &shown).pixels);
            });
            run.map_or(0, |()| pixels)
        };
        Ok(behaviours_that_show(self.bench.layers(), &bad).into_iter().map(Into::into).collect())
    }

    /// Two boards under the routine side by side, frame by frame.
    fn beside<T: Tap, U: Tap>(
        self,
        one: Board<T>,
        other: Board<U>,
        mut see: impl FnMut(u32, Frame, Frame),
    ) -> Result<(), InputError> {
        let mut one = self.driver.start(self.bench, one, Start::default())?;
        let mut other = self.driver.start(self.bench, other, Start::default())?;
        for number in 0..self.frames {
            see(number, one.next_frame(), other.next_frame());
        }
        Ok(())
    }
}

fn between(right: &Frame, shown: &Frame) -> FrameSignature {
    FrameSignature::between(right.picture_size(), right, shown)
}
