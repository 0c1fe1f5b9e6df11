//! What is recorded: the frames of a run or of a sweep, in order, as they go into the file.

use anyhow::{Result, ensure};
use backporch_adapter::Registers;
use backporch_analysis::{Damage, StepBoards, SweepAxis, step_boards};
use backporch_bench::Bench;
use backporch_drive::{Driven, Driver, Start};
use backporch_picture::record::{Caption, ScreenShape};
use backporch_quirk::QuirkStack;
use backporch_raster::{Frame, Picture, Plain, QuietFrame, Tint, View};
use image::RgbImage;

use super::RecordArgs;
use crate::commands::sweep::mark;

/// What the board does.
#[derive(Debug)]
pub enum Play<'a> {
    /// It runs.
    Run { frames: u32 },
    /// Registers step through values, each step shown for `hold` frames.
    Sweep { over: &'a [SweepAxis], steps: Vec<Vec<u32>>, hold: u32 },
}

/// How a frame is brought into the file.
#[derive(Clone, Copy, Debug)]
pub struct Projection {
    scale: u32,
    square: bool,
    caption: bool,
}

/// What is filmed, and how.
#[derive(Debug)]
pub struct Film<'a> {
    pub bench: &'a Bench,
    /// What drives the board in a run; a sweep sets the registers itself.
    pub driver: Option<Driver>,
    pub play: Play<'a>,
    pub look: Projection,
}

/// A frame as it goes into the file.
#[derive(Debug)]
pub struct Shot {
    pub image: RgbImage,
    /// How long the board takes for it.
    pub seconds: f64,
    /// What was set.
    pub setting: String,
    pub damage: Damage,
}

impl Projection {
    pub fn new(args: &RecordArgs) -> Self {
        Self { scale: args.scale, square: args.square, caption: args.caption }
    }
}

impl Film<'_> {
    /// Number of frames.
    pub fn frames(&self) -> u32 {
        match &self.play {
            Play::Run { frames } => *frames,
            Play::Sweep { steps, hold, .. } => steps.len() as u32 * hold,
        }
    }

    /// Pixels across and down of every frame: room for the largest picture, and for the caption.
    pub fn size(&self) -> Result<(u32, u32)> {
        let (screen, caption) = (self.screen(), if self.look.caption { Caption::HEIGHT } else { 0 });
        let (mut across, mut down) = (0, 0);
        for size in self.picture_sizes()? {
            let (width, height) = screen.size(size);
            (across, down) = (across.max(width), down.max(height));
        }
        ensure!(across > 0 && down > 0, "these registers show nothing: the active area is empty");
        Ok((across, down + caption))
    }

    fn picture_sizes(&self) -> Result<Vec<(u32, u32)>> {
        Ok(match &self.play {
            // A fault may make the picture another size than the registers say, and a routine change it.
            Play::Run { frames } => {
                let mut driven = self.pair()?.faulty;
                let looked_at = if self.driver.is_some() { *frames } else { 1 };
                let mut size = |_| {
                    let frame = driven.next_frame();
                    let size = frame.picture_size();
                    driven.recycle(frame);
                    size
                };
                (0..looked_at).map(&mut size).collect()
            }
            Play::Sweep { over, steps, .. } => {
                steps.iter().map(|values| picture_size(self.bench, &registers(self.bench, over, values))).collect()
            }
        })
    }

    /// Both boards of a run, under what drives them.
    fn pair(&self) -> Result<Pair> {
        let registers = self.bench.registers();
        let (plain, faulty) = (self.bench.plain(registers), self.bench.faulty(registers));
        Ok(match &self.driver {
            None => StepBoards { healthy: plain, faulty }.into(),
            Some(driver) => Pair {
                plain: driver.start(self.bench, plain, Start::default())?,
                faulty: driver.start(self.bench, faulty, Start::default())?,
            },
        })
    }

    fn screen(&self) -> ScreenShape {
        let adapter = self.bench.adapter();
        let usual = adapter.signal(&adapter.start_up(self.bench.mode()));
        let now = adapter.signal(self.bench.registers());
        match (usual, now) {
            (Ok(usual), Ok(now)) if !self.look.square => {
                let size = picture_size(self.bench, self.bench.registers());
                ScreenShape::shaped(self.look.scale, size, ScreenShape::shape(&usual, &now))
            }
            // Without a stable signal there is no screen to be like.
            _ => ScreenShape::square(self.look.scale),
        }
    }

    /// Gives every frame in turn, until one is not taken.
    ///
    /// # Errors
    /// Where a program cannot be started.
    pub fn shoot(&self, size: (u32, u32), give: &mut dyn FnMut(Shot) -> bool) -> Result<()> {
        let lens = Lens { film: self, screen: self.screen(), size };
        match &self.play {
            Play::Run { frames } => {
                lens.roll(self.pair()?, *frames, &|at| format!("frame {at}"), give);
            }
            Play::Sweep { over, steps, hold } => {
                let mut before = steps.first();
                for (step, values) in steps.iter().enumerate() {
                    let boards = step_boards(self.bench, over, before.unwrap_or(values), values, 1);
                    before = Some(values);
                    let setting = setting(step, over, values);
                    if !lens.roll(boards.into(), *hold, &|_| setting.clone(), give) {
                        break;
                    }
                }
            }
        }
        Ok(())
    }
}

/// The board that is right and the one on the bench, side by side.
struct Pair {
    plain: Driven<Plain>,
    faulty: Driven<QuirkStack>,
}

impl From<StepBoards> for Pair {
    fn from(StepBoards { healthy: plain, faulty }: StepBoards) -> Self {
        Self { plain: Driven::Alone(Box::new(plain)), faulty: Driven::Alone(Box::new(faulty)) }
    }
}

fn setting(step: usize, over: &[SweepAxis], values: &[u32]) -> String {
    let values = over.iter().zip(values).map(|(over, value)| format!("  {} {value}", over.name()));
    format!("step {step}{}", values.collect::<String>())
}

fn registers(bench: &Bench, over: &[SweepAxis], values: &[u32]) -> Registers {
    let mut registers = bench.registers().clone();
    for (over, value) in over.iter().zip(values) {
        if let Some(field) = bench.adapter().field(over.name()) {
            // Every value was checked when the range was made.
            let _ = bench.adapter().set(&mut registers, field, u64::from(*value));
        }
    }
    registers
}

/// Pixels and lines that these registers show.
fn picture_size(bench: &Bench, registers: &Registers) -> (u32, u32) {
    let quiet = QuietFrame::new(bench.adapter(), registers, &Plain);
    let shown = u32::from(quiet.timing().displayed).min(quiet.timing().chars());
    (shown * quiet.format().pixels_per_char(), quiet.picture_lines())
}

/// Turns frames of boards into frames of the file.
struct Lens<'a> {
    film: &'a Film<'a>,
    screen: ScreenShape,
    size: (u32, u32),
}

impl Lens<'_> {
    /// Runs both boards for a number of frames; false where a frame was not taken.
    fn roll(
        &self,
        mut boards: Pair,
        frames: u32,
        setting: &dyn Fn(u32) -> String,
        give: &mut dyn FnMut(Shot) -> bool,
    ) -> bool {
        let mut picture = Picture { width: 0, height: 0, rgba: Vec::new() };
        (0..frames).all(|at| {
            let (plain, faulty) = (boards.plain.next_frame(), boards.faulty.next_frame());
            let shot = self.shot(&plain, &faulty, setting(at), &mut picture);
            boards.plain.recycle(plain);
            boards.faulty.recycle(faulty);
            give(shot)
        })
    }

    fn shot(&self, plain: &Frame, faulty: &Frame, setting: String, picture: &mut Picture) -> Shot {
        let damage = Damage::between(plain, faulty);
        faulty.picture_into(View::Picture, Tint::default(), picture);
        let mut image = self.screen.enlarge(&picture.rgba, picture.width, self.size);
        if self.film.look.caption {
            let caption = Caption { setting: setting.clone(), mark: mark(damage.verdict()), finding: finding(&damage) };
            caption.draw(&mut image);
        }
        let dots: u64 = faulty.lines.iter().map(|line| u64::from(line.dots)).sum();
        let seconds = dots as f64 / self.film.bench.dot_clock().get();
        Shot { image, seconds, setting, damage }
    }
}

/// The damage in a few words.
fn finding(damage: &Damage) -> String {
    match &damage.x {
        None => format!("{} lines", damage.damaged.len()),
        Some(x) => format!(
            "{} of {} lines, pixels {} to {}",
            damage.damaged_lines().max(damage.visible_lines()),
            damage.damaged.len(),
            x.start(),
            x.end()
        ),
    }
}
