//! A session's looks made ready for the program: modes, port writes, memory, canvases, each kept once.

use backporch_adapter::{Adapter, Mode, Registers};
use backporch_analysis::WriteMoment;
use backporch_evidence::{SessionLook, TestSession};
use backporch_raster::{Plain, QuietFrame};
use backporch_workaround::transition::{BeamMoment, Stage, Transition};

use super::SessionError;
use super::canvas::{CardCanvas, PixelAccess};
use super::image::{Pass, Window};

/// One look.
#[derive(Clone, Debug)]
pub(super) struct PreparedLook {
    /// Number of the mode that firmware sets.
    pub mode: u8,
    /// Looks of one group differ in nothing but the start address.
    pub group: u8,
    /// Every write from the mode's start-up values on.
    pub all: Vec<Stage>,
    /// The writes of the start address alone.
    pub start: Vec<Stage>,
    /// Positions of its image and its canvas.
    pub image: usize,
    pub canvas: usize,
    /// Window offset of the first pixel.
    pub origin: u16,
}

/// All of them.
#[derive(Clone, Debug)]
pub(super) struct Prepared {
    pub looks: Vec<PreparedLook>,
    pub images: Vec<Vec<Pass>>,
    pub canvases: Vec<CardCanvas>,
    /// Whether a write on the way changes the signal, or modes of different signals follow each other.
    pub changes_signal: bool,
}

impl Prepared {
    pub fn new(session: &TestSession) -> Result<Self, SessionError> {
        let mut prepared = Self { looks: Vec::new(), images: Vec::new(), canvases: Vec::new(), changes_signal: false };
        let mut groups: Vec<(u8, Registers, usize)> = Vec::new();
        let mut memories: Vec<(Vec<u8>, usize, Registers)> = Vec::new();
        for (at, look) in session.looks().iter().enumerate() {
            prepared.add(at, look, &mut groups, &mut memories)?;
        }
        Ok(prepared)
    }

    fn add(
        &mut self,
        at: usize,
        SessionLook { experiment, step }: &SessionLook,
        groups: &mut Vec<(u8, Registers, usize)>,
        memories: &mut Vec<(Vec<u8>, usize, Registers)>,
    ) -> Result<(), SessionError> {
        let bench = &experiment.bench;
        let adapter = bench.adapter();
        let registers = experiment.registers(*step);
        let unfit = |why| SessionError::Look { look: at + 1, why };
        let mode =
            nearest_mode(adapter, bench.mode(), &registers).ok_or(SessionError::Mode(bench.mode().name.clone()))?;
        let number = mode.firmware.as_ref().map_or(0, backporch_adapter::FirmwareMode::number);
        let start_up = adapter.start_up(mode);
        let transition = Transition::on(bench.monitor(), adapter, &start_up, &registers);
        self.changes_signal |= transition.changes_signal;
        self.changes_signal |= groups.first().is_some_and(|(_, first, _)| adapter.changes_signal(first, &registers));
        let in_retrace = experiment.conditions.moment == WriteMoment::Retrace;
        let placed = |stages: Vec<Stage>| -> Vec<Stage> {
            let moved = |stage: Stage| match stage.moment {
                BeamMoment::ActiveArea if in_retrace => Stage { moment: BeamMoment::Retrace, ..stage },
                BeamMoment::Anytime | BeamMoment::Retrace | BeamMoment::ActiveArea => stage,
            };
            stages.into_iter().map(moved).collect()
        };
        let start = placed(Transition::new(adapter, &registers, &registers).stages);

        let window = Window::of(adapter, &registers).ok_or(unfit("no memory is mapped for the processor"))?;
        let quiet = QuietFrame::new(adapter, &registers, &Plain);
        let setup = experiment.setup(*step);
        let (canvas, origin) = CardCanvas::of(&quiet, &window, setup.size())
            .ok_or(unfit("its pixels lie in no order that a program can draw in"))?;
        let memory = bench.memory(&registers).into_owned();
        let mut still = registers.clone();
        // Zero fits every register.
        let _ = adapter.set(&mut still, adapter.start_address(), 0);
        let same_memory = memories.iter().find(|(known, _, of)| *known == memory && *of == still);
        let image = match same_memory {
            Some((_, image, _)) => *image,
            None => {
                let blank = (canvas.kind != PixelAccess::Text).then_some(0);
                let passes = window.passes(adapter, &registers, &memory, blank);
                if !shows(&quiet, &window, adapter, &memory) {
                    return Err(unfit("its memory cannot be filled through the processor's window"));
                }
                let known = self.images.iter().position(|known| *known == passes);
                let image = known.unwrap_or(self.images.len());
                if known.is_none() {
                    self.images.push(passes);
                }
                memories.push((memory, image, still.clone()));
                image
            }
        };
        let group = groups.iter().position(|known| *known == (number, still.clone(), image));
        let group = group.unwrap_or_else(|| {
            groups.push((number, still, image));
            groups.len() - 1
        });
        let known = self.canvases.iter().position(|known| *known == canvas);
        let position = known.unwrap_or(self.canvases.len());
        if known.is_none() {
            self.canvases.push(canvas);
        }
        let all = placed(transition.stages);
        self.looks.push(PreparedLook { mode: number, group: group as u8, all, start, image, canvas: position, origin });
        Ok(())
    }

    /// Pixels and lines that a mark counts, look by look.
    pub fn cells(&self) -> Vec<(u32, u32)> {
        self.looks.iter().map(|look| self.canvases[look.canvas].cell).collect()
    }
}

/// The mode that firmware sets from which the fewest registers have to be changed; the bench's own where it is one.
fn nearest_mode<'a>(adapter: &'a Adapter, own: &'a Mode, registers: &Registers) -> Option<&'a Mode> {
    let differing = |mode: &Mode| {
        let start = adapter.start_up(mode);
        let changed =
            adapter.fields().filter(|(field, _)| adapter.get(&start, *field) != adapter.get(registers, *field));
        changed.count()
    };
    let modes = std::iter::once(own).chain(&adapter.profile().modes);
    modes.filter(|mode| mode.firmware.is_some()).min_by_key(|mode| differing(mode))
}

/// Whether everything the frame shows of memory can be written through the window.
fn shows(quiet: &QuietFrame, window: &Window, adapter: &Adapter, memory: &[u8]) -> bool {
    let text = quiet.format().serialise.is_text();
    (0..quiet.picture_lines()).all(|index| {
        let line = quiet.line(0, quiet.start(), index);
        let written = |offset: &u32| !text || offset % line.char_bytes.max(2) < 2;
        (0..line.bytes).filter(written).all(|offset| {
            let address = line.memory(line.plain_address(offset)) % adapter.memory().bytes.max(1);
            window.reached(address).is_some() || memory.get(address as usize) == Some(&0)
        })
    })
}
