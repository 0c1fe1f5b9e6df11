//! The steps of the start address as pictures, so that the one that captures show can be found.

use std::path::Path;

use backporch_adapter::Registers;
use backporch_answer::{MeasuredBoardAnswer, NextStepAnswer, StepFoundAnswer};
use backporch_bench::Bench;
use backporch_input::InputError;
use backporch_measure::{Capture, Expected, ExpectedError, MemoryImage, Rgb8, StepPictures, UndecidedStep, which};
use backporch_quirk::QuirkStack;
use backporch_raster::{DrawnLine, LineReuse, QuietFrame, View};

use super::boards::CandidateBoard;
use super::expected::expected;
use super::looks::{NothingShown, Suspect};

/// Most steps among which one is looked for.
const MOST_STEPS: usize = 1 << 20;

/// Steps of a bench's start address.
pub struct StartSteps<'a> {
    bench: &'a Bench,
    /// Stored values, in order.
    steps: Vec<u32>,
    size: (usize, usize),
    border: Rgb8,
    strips: Vec<Vec<Rgb8>>,
    lines: Lines,
    boards: Vec<CandidateBoard>,
}

/// Where lines begin.
enum Lines {
    /// In memory as it lies: at start address zero, and this many pixels further for each unit.
    Memory { begins: Vec<(usize, usize)>, unit: usize },
    /// In the picture's own rows, which are redrawn as the window moves: the column at start address zero, and this many
    /// pixels further.
    Redrawn { column: usize, unit: usize },
}

impl<'a> StartSteps<'a> {
    /// The steps of a bench's start address, all that show something else or those that are given; `None` where lines are
    /// no windows of anything, so that every step would have to be drawn.
    pub fn new(bench: &'a Bench, given: Option<Vec<u32>>, suspects: &[Suspect]) -> Option<Self> {
        let drawn = |start: u32| {
            let registers = at_start(bench, start);
            expected(bench, &registers).ok().map(|expected| (registers, expected))
        };
        let (registers, zero) = drawn(0)?;
        let (size, border) = (zero.size(), zero.border());
        let moves = bench.picture_place(&at_start(bench, 1)).map(|place| place.start)
            != bench.picture_place(&registers).map(|place| place.start);
        let (strips, lines) = if moves { redrawn(bench, &registers, size)? } else { laid(bench, &registers)? };
        let max = bench.adapter().field_info(bench.adapter().start_address()).max();
        let steps =
            given.unwrap_or_else(|| (0..=turn(&strips, &lines).map_or(max, |turn| max.min(turn - 1))).collect());
        let boards = CandidateBoard::all(bench, suspects);
        let steps = Self { bench, steps, size, border, strips, lines, boards };
        // What the windows show must be what is drawn.
        let shows = |start: u32| {
            drawn(start).is_some_and(|(_, drawn)| {
                drawn.size() == size
                    && (0..size.1).step_by(7).all(|line| {
                        let (strip, at) = steps.begins_at(start, line);
                        let around = steps.strips[strip].iter().cycle().skip(at).take(size.0);
                        around.eq(drawn.line(line))
                    })
            })
        };
        let fits = steps.steps.len() <= MOST_STEPS && shows(0) && shows(1) && shows(max / 3);
        fits.then_some(steps)
    }

    fn begins_at(&self, start: u32, line: usize) -> (usize, usize) {
        match &self.lines {
            Lines::Memory { begins, unit } => {
                let (strip, at) = begins[line];
                (strip, (at + start as usize * unit) % self.strips[strip].len())
            }
            Lines::Redrawn { column, unit } => (line, (column + start as usize * unit) % self.strips[line].len()),
        }
    }

    /// The step that a capture shows, and how it was found.
    pub fn find(&self, capture: &Capture, file: &Path) -> anyhow::Result<(u32, StepFoundAnswer)> {
        let named = |at: usize| self.steps.get(at).copied().unwrap_or_default();
        let decided = which(self, capture).map_err(|error| {
            let refused = self.refused(&error, file);
            match error {
                UndecidedStep::None(_) => anyhow::Error::from(NothingShown(refused)),
                _ => refused.into(),
            }
        })?;
        let next =
            decided.next.map(|next| NextStepAnswer { step: named(next.step), fit: next.fit, margin: next.margin });
        let found = StepFoundAnswer {
            among: self.steps.len() as u64,
            board: self.board(decided.board),
            fit: decided.fit,
            next,
        };
        Ok((named(decided.step), found))
    }

    fn board(&self, at: usize) -> MeasuredBoardAnswer {
        self.boards.get(at).map_or(MeasuredBoardAnswer::Plain, |board| board.name.clone())
    }

    /// Whether nearly all that a board shows at a step is this picture, and the plain one shows another there; judged by a
    /// few lines.
    fn shows_instead(&self, board: &BoardLines, step: u32, picture: &[Rgb8], drawn: &mut DrawnLine) -> bool {
        let (width, height) = self.size;
        let (mut alike, mut plain) = (0, 0);
        for (at, line) in SAMPLED.map(|share| (share * height as f64) as usize).into_iter().enumerate() {
            if alike + SAMPLED.len() - at < ENOUGH {
                return false;
            }
            let Some(meant) = picture.get(line * width..(line + 1) * width) else { return false };
            let nearly = |same: usize| same as f64 >= NEARLY * width as f64;
            board.draw(step, line, drawn);
            let colours = drawn.values.iter().map(|value| board.colours[usize::from(*value) % board.colours.len()]);
            alike += usize::from(nearly(colours.zip(meant).filter(|(one, other)| one == *other).count()));
            let (strip, from) = self.begins_at(step, line);
            let here = self.strips[strip].iter().cycle().skip(from).zip(meant);
            plain += usize::from(nearly(here.filter(|(one, other)| one == other).count()));
        }
        alike >= ENOUGH && plain < ENOUGH
    }

    fn refused(&self, error: &UndecidedStep, file: &Path) -> InputError {
        let named = |at: usize| self.steps.get(at).copied().unwrap_or_default();
        let pair = |best: usize, other: usize| {
            let (one, other) = (named(best).min(named(other)), named(best).max(named(other)));
            format!("steps {one} and {other}")
        };
        let found = match error {
            UndecidedStep::Same { steps } => {
                let steps: Vec<String> = steps.iter().map(|at| named(*at).to_string()).collect();
                format!("a picture that steps {} show alike", steps.join(", "))
            }
            UndecidedStep::Alike { best, other } => format!("a picture that {} fit alike", pair(*best, other.step)),
            UndecidedStep::LookAlike { best, other } => {
                let read =
                    |(step, board): (usize, usize)| format!("step {} on {}", named(step), self.board(board).words());
                format!("a picture of {}, or of {}, which look the same", read(*best), read(*other))
            }
            UndecidedStep::Edges { best, other } => {
                format!("{error}: {} fit alike", pair(*best, other.step))
            }
            error => error.to_string(),
        };
        let allowed = "a capture of one step that can be recognised; --at says which it is, --steps among which";
        InputError::new(file.display().to_string(), found, allowed)
    }
}

impl StepPictures for StartSteps<'_> {
    fn count(&self) -> usize {
        self.steps.len()
    }

    fn size(&self) -> (usize, usize) {
        self.size
    }

    fn strips(&self) -> &[Vec<Rgb8>] {
        &self.strips
    }

    fn begins(&self, step: usize, line: usize) -> (usize, usize) {
        self.begins_at(self.steps[step], line)
    }

    fn expected(&self, step: usize) -> Result<Expected, ExpectedError> {
        let lines: Vec<(usize, usize)> = (0..self.size.1).map(|line| self.begins(step, line)).collect();
        let window = |(strip, at): &(usize, usize)| self.strips[*strip].iter().cycle().skip(*at).take(self.size.0);
        let pixels = lines.iter().flat_map(window).copied().collect();
        // Where lines are looked for in memory, the picture alone is enough here.
        Expected::new(self.size, pixels, self.border, None)
    }

    fn others(&self, step: usize) -> Vec<Vec<Rgb8>> {
        let registers = at_start(self.bench, self.steps[step]);
        let boards = self.boards.iter().filter(|board| board.tap.is_some());
        let frames = boards.map(|board| board.frame(self.bench, &registers));
        let pixels = |frame: backporch_raster::Frame| {
            frame.picture(View::Picture).rgba.iter().map(|[red, green, blue, _]| [*red, *green, *blue]).collect()
        };
        frames.map(pixels).collect()
    }

    fn lookalikes(&self, picture: &[Rgb8]) -> Vec<usize> {
        // Where the picture is redrawn, memory is another one at every step.
        let redrawn = matches!(self.lines, Lines::Redrawn { .. });
        if redrawn && self.steps.len() > MOST_REDRAWN {
            return Vec::new();
        }
        let faults = self.boards.iter().filter(|board| {
            matches!(board.name, MeasuredBoardAnswer::UnderQuirks | MeasuredBoardAnswer::UnderSuspect(_))
        });
        let mut found = Vec::new();
        let mut drawn = DrawnLine::default();
        for tap in faults.filter_map(|board| board.tap.as_ref()) {
            let mut board = BoardLines::new(self.bench, tap, at_start(self.bench, 0));
            for (at, step) in self.steps.iter().enumerate() {
                if redrawn {
                    board = BoardLines::new(self.bench, tap, at_start(self.bench, *step));
                }
                if self.shows_instead(&board, *step, picture, &mut drawn) {
                    found.push(at);
                }
            }
        }
        found.sort_unstable();
        found.dedup();
        found.truncate(MOST_ALIKE);
        found
    }
}

/// Where lines are compared: shares of the picture's height. All but one of them must be alike.
const SAMPLED: [f64; 6] = [0.53, 0.21, 0.77, 0.36, 0.91, 0.06];
const ENOUGH: usize = SAMPLED.len() - 1;
/// Share of a line's pixels that are the same where lines are nearly alike.
const NEARLY: f64 = 0.9;
/// Most steps of a picture that is redrawn among which another that looks alike is looked for.
const MOST_REDRAWN: usize = 4096;
/// Steps that look alike on another board that are compared, at most.
const MOST_ALIKE: usize = 16;

/// A board's lines, drawn one by one.
struct BoardLines<'a> {
    quiet: QuietFrame,
    tap: &'a QuirkStack,
    memory: Vec<u8>,
    colours: Vec<Rgb8>,
}

impl<'a> BoardLines<'a> {
    fn new(bench: &Bench, tap: &'a QuirkStack, registers: Registers) -> Self {
        let colours = bench.adapter().palette(&registers).colours;
        Self {
            quiet: QuietFrame::new(bench.adapter(), &registers, tap),
            tap,
            memory: bench.memory(&registers).into_owned(),
            colours: colours.iter().map(|[red, green, blue, _]| [*red, *green, *blue]).collect(),
        }
    }

    fn draw(&self, start: u32, line: usize, drawn: &mut DrawnLine) {
        let start = self.quiet.at(start).latched(self.tap, 0);
        let line = self.quiet.line(0, start, line as u32);
        self.quiet.draw_line(self.tap, &line, &self.tap.line_effects(&line), &self.memory, drawn);
    }
}

fn at_start(bench: &Bench, start: u32) -> Registers {
    let mut registers = bench.registers().clone();
    // What does not fit the register is not among the steps.
    let _ = bench.adapter().set(&mut registers, bench.adapter().start_address(), u64::from(start));
    registers
}

/// Memory as it lies.
fn laid(bench: &Bench, registers: &Registers) -> Option<(Vec<Vec<Rgb8>>, Lines)> {
    let MemoryImage { strips, lines } = super::expected::laid_memory(bench, registers)?;
    let MemoryImage { lines: next, .. } = super::expected::laid_memory(bench, &at_start(bench, 1))?;
    let (&(strip, from), &(_, to)) = (lines.first()?, next.first()?);
    let length = strips.get(strip)?.len();
    let unit = (to + length - from) % length;
    Some((strips, Lines::Memory { begins: lines, unit }))
}

/// The rows of a picture that is redrawn as the window moves.
fn redrawn(bench: &Bench, registers: &Registers, (_, height): (usize, usize)) -> Option<(Vec<Vec<Rgb8>>, Lines)> {
    let picture = bench.picture()?;
    let width = picture.width() as usize;
    if (picture.height() as usize) < height || width == 0 {
        return None;
    }
    let colours = bench.adapter().palette(registers).colours;
    let colour = |value: &u8| {
        let [red, green, blue, _] = colours[usize::from(*value) % colours.len()];
        [red, green, blue]
    };
    let strips = picture.indices().chunks(width).take(height).map(|row| row.iter().map(colour).collect()).collect();
    let column = bench.picture_place(registers)?.column as usize;
    let next = bench.picture_place(&at_start(bench, 1))?.column as usize;
    Some((strips, Lines::Redrawn { column, unit: (next + width - column) % width }))
}

/// Start addresses after which memory comes again, where it lies still.
fn turn(strips: &[Vec<Rgb8>], lines: &Lines) -> Option<u32> {
    let Lines::Memory { unit, .. } = lines else { return None };
    let longest = strips.iter().map(Vec::len).max()?;
    u32::try_from(longest.checked_div(*unit)?).ok().filter(|turn| *turn > 0)
}
