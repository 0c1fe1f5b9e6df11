//! A routine under the session: what it does is found out on a board of its
//! own and then done to both boards of the pair at the same dots.
//!
//! ```text
//! Runner on its own faulty board ─► accesses with their dots ─► both boards
//!                  └─► frame records ─► Inspector ─► hazards
//! ```
//!
//! The routine waits for the faulty board, as it would in the machine; its own
//! board may be up to one bus access ahead of the pair, so the pair can stop at
//! any character clock.

use std::collections::{BTreeMap, VecDeque};
use std::path::Path;
use std::sync::Arc;

use backporch_bench::Bench;
use backporch_form::{FormError, Source};
use backporch_quirk::QuirkStack;
use backporch_raster::Board;
use backporch_routine::{
    BUILT_IN_CPUS, BUILT_IN_ROUTINES, Cpu, CpuModel, Hazard, HazardKind, Inspector, NORMAL_SPEED, Program, Runner,
    SourcePicture, Surroundings, TraceAccess,
};

use super::routine::HazardCount;

/// The processor of a routine that names none.
const USUAL_CPU: &str = "16bit-8";

/// A routine, its board, and what it did there that the pair has yet to do.
#[derive(Clone, Debug)]
pub(crate) struct Drive {
    runner: Runner<QuirkStack>,
    coming: VecDeque<(u64, TraceAccess)>,
    inspector: Inspector,
    hazards: Hazards,
}

/// Mistakes of timing and order made so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Hazards {
    /// How many, and the newest one, by kind.
    pub by_kind: BTreeMap<HazardKind, HazardCount>,
    /// How many in all.
    pub count: usize,
    /// The one found last.
    pub newest: Option<Hazard>,
}

impl Hazards {
    fn add(&mut self, hazard: Hazard) {
        self.count += 1;
        self.newest = Some(hazard.clone());
        let fresh = || HazardCount { kind: hazard.kind, count: 0, newest: hazard.clone() };
        let kind = self.by_kind.entry(hazard.kind).or_insert_with(fresh);
        kind.count += 1;
        kind.newest = hazard;
    }
}

/// Whether a routine of that name is part of the program.
pub(crate) fn is_built_in(name: &str) -> bool {
    BUILT_IN_ROUTINES.iter().any(|(known, _)| *known == name)
}

impl Drive {
    /// The routine that the bench names, on its faulty board; paths are taken from `folder`.
    ///
    /// # Errors
    /// Where it cannot be read, or does not go with the class of board.
    pub fn of(bench: &Bench, folder: &Path) -> Result<Option<Self>, FormError> {
        let Some(name) = bench.routine() else {
            return Ok(None);
        };
        let source = match BUILT_IN_ROUTINES.iter().find(|(known, _)| *known == name) {
            Some((name, text)) => Source::built_in(*name, *text),
            None => Source::read(&folder.join(name))?,
        };
        let adapter = bench.adapter();
        let program = Program::from_source(&source, adapter)?;
        let cpu = program.file().cpu.as_deref().unwrap_or(USUAL_CPU);
        let model = CpuModel::built_in(cpu).ok_or_else(|| {
            let known: Vec<&str> = BUILT_IN_CPUS.iter().map(|(name, _)| *name).collect();
            source.fault(&["cpu"], cpu, known.join(", "))
        })?;
        let cpu = Cpu::new(Arc::new(model), adapter, NORMAL_SPEED);
        let around = Surroundings {
            cpu: Some(cpu.clone()),
            poll_extra_clocks: program.file().poll_extra_clocks,
            monitor: bench.monitor().cloned(),
            layout: None,
        };
        let board = bench.faulty(bench.registers());
        let mut runner = Runner::new(board, Arc::new(program), cpu, source_picture(bench), bench.seed())
            .map_err(|error| FormError::new(name, error, "a packed picture on the bench"))?;
        runner.board_mut().keep_trace();
        let inspector = Inspector::new(Arc::clone(adapter), around);
        Ok(Some(Self { runner, coming: VecDeque::new(), inspector, hazards: Hazards::default() }))
    }

    /// Title of the routine.
    pub fn title(&self) -> &str {
        &self.runner.program().file().title
    }

    /// The processor it runs on.
    pub fn cpu(&self) -> &str {
        &self.runner.cpu().model().name
    }

    /// Mistakes of timing and order found so far.
    pub fn hazards(&self) -> &Hazards {
        &self.hazards
    }

    /// Dot at which its board's beam stands.
    pub fn now(&self) -> u64 {
        self.runner.board().at().dot
    }

    /// The next access up to a dot that the pair has yet to do.
    pub fn next_until(&mut self, dot: u64) -> Option<(u64, TraceAccess)> {
        if self.coming.is_empty() && self.now() <= dot {
            // One dot further, so that an access at that very dot is known.
            self.runner.run_to(dot + 1);
            self.coming.extend(self.runner.board_mut().take_trace().accesses());
            while let Some(record) = self.runner.board_mut().take() {
                self.inspector.see(record);
            }
            self.inspector.take_found().into_iter().for_each(|hazard| self.hazards.add(hazard));
        }
        self.coming.front().copied().filter(|(at, _)| *at <= dot)
    }

    /// The pair has done the next access.
    pub fn done(&mut self) {
        self.coming.pop_front();
    }

    /// Does something to its board that the routine has no part in.
    pub fn past_the_routine(&mut self, act: impl FnOnce(&mut Board<QuirkStack>)) {
        self.runner.board_mut().past_the_driver(act);
    }
}

/// The bench's picture as bytes the board shows, for boards whose pixels lie packed in their bytes.
fn source_picture(bench: &Bench) -> Option<Arc<SourcePicture>> {
    let picture = bench.picture()?;
    let format = bench.adapter().format(bench.adapter().format_index(bench.registers()));
    let serialise = format.serialise;
    if serialise.is_text() || serialise.takes_planes() {
        return None;
    }
    let (width, height) = (picture.width() as usize, picture.height());
    let per_byte = 8 / usize::from(serialise.pixel_bits()).clamp(1, 8);
    let rows = picture.indices().chunks(width.max(1));
    let data: Vec<u8> =
        rows.flat_map(|row| row.chunks(per_byte).flat_map(|pixels| serialise.bytes_showing(pixels))).collect();
    let row = width.div_ceil(per_byte) as u32;
    SourcePicture::new(row, height, row, data).ok().map(Arc::new)
}
