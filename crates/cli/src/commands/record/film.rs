//! What is recorded: the frames of a run or of a sweep, in order, as they go into the file.

use anyhow::{Result, ensure};
use backporch_adapter::Registers;
use backporch_analysis::{Damage, Over, StepBoards, step_boards};
use backporch_bench::Bench;
use backporch_picture::record::{Caption, Screen};
use backporch_raster::{Frame, Healthy, Picture, QuietFrame, Tint, View};
use image::RgbImage;

use crate::args::RecordArgs;
use crate::commands::sweep::mark;

/// What the board does.
#[derive(Debug)]
pub enum Play<'a> {
    /// It runs.
    Run { frames: u32 },
    /// Registers step through values, each step shown for `hold` frames.
    Sweep { over: &'a [Over], steps: Vec<Vec<u32>>, hold: u32 },
}

/// How a frame is brought into the file.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    scale: u32,
    square: bool,
    caption: bool,
}

/// A board's doings before the lens.
#[derive(Debug)]
pub struct Film<'a> {
    pub bench: &'a Bench,
    pub play: Play<'a>,
    pub look: Look,
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

impl Look {
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
        for size in self.picture_sizes() {
            let (width, height) = screen.size(size);
            (across, down) = (across.max(width), down.max(height));
        }
        ensure!(across > 0 && down > 0, "these registers show nothing: the active area is empty");
        Ok((across, down + caption))
    }

    fn picture_sizes(&self) -> Vec<(u32, u32)> {
        match &self.play {
            // A fault may make the picture another size than the registers say.
            Play::Run { .. } => vec![self.bench.faulty(self.bench.registers()).run_frame().picture_size()],
            Play::Sweep { over, steps, .. } => {
                steps.iter().map(|values| picture_size(self.bench, &registers(self.bench, over, values))).collect()
            }
        }
    }

    fn screen(&self) -> Screen {
        let adapter = self.bench.adapter();
        let usual = adapter.signal(&adapter.start_up(self.bench.mode()));
        let now = adapter.signal(self.bench.registers());
        match (usual, now) {
            (Ok(usual), Ok(now)) if !self.look.square => {
                let size = picture_size(self.bench, self.bench.registers());
                Screen::shaped(self.look.scale, size, Screen::shape(&usual, &now))
            }
            // Without a stable signal there is no screen to be like.
            _ => Screen::square(self.look.scale),
        }
    }

    /// Gives every frame in turn, until one is not taken.
    pub fn shoot(&self, size: (u32, u32), give: &mut dyn FnMut(Shot) -> bool) {
        let lens = Lens { film: self, screen: self.screen(), size };
        match &self.play {
            Play::Run { frames } => {
                let registers = self.bench.registers();
                let boards =
                    StepBoards { healthy: self.bench.healthy(registers), faulty: self.bench.faulty(registers) };
                lens.roll(boards, *frames, &|at| format!("frame {at}"), give);
            }
            Play::Sweep { over, steps, hold } => {
                let mut before = steps.first();
                for (step, values) in steps.iter().enumerate() {
                    let boards = step_boards(self.bench, over, before.unwrap_or(values), values, 1);
                    before = Some(values);
                    let setting = setting(step, over, values);
                    if !lens.roll(boards, *hold, &|_| setting.clone(), give) {
                        return;
                    }
                }
            }
        }
    }
}

fn setting(step: usize, over: &[Over], values: &[u32]) -> String {
    let values = over.iter().zip(values).map(|(over, value)| format!("  {} {value}", over.name()));
    format!("step {step}{}", values.collect::<String>())
}

fn registers(bench: &Bench, over: &[Over], values: &[u32]) -> Registers {
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
    let quiet = QuietFrame::new(bench.adapter(), registers, &Healthy);
    let shown = u32::from(quiet.timing().displayed).min(quiet.timing().chars());
    (shown * quiet.format().pixels_per_char(), quiet.picture_lines())
}

/// Turns frames of boards into frames of the file.
struct Lens<'a> {
    film: &'a Film<'a>,
    screen: Screen,
    size: (u32, u32),
}

impl Lens<'_> {
    /// Runs both boards for so many frames; false where a frame was not taken.
    fn roll(
        &self,
        mut boards: StepBoards,
        frames: u32,
        setting: &dyn Fn(u32) -> String,
        give: &mut dyn FnMut(Shot) -> bool,
    ) -> bool {
        let mut picture = Picture { width: 0, height: 0, rgba: Vec::new() };
        (0..frames).all(|at| {
            let (healthy, faulty) = (boards.healthy.run_frame(), boards.faulty.run_frame());
            let shot = self.shot(&healthy, &faulty, setting(at), &mut picture);
            boards.healthy.recycle(healthy);
            boards.faulty.recycle(faulty);
            give(shot)
        })
    }

    fn shot(&self, healthy: &Frame, faulty: &Frame, setting: String, picture: &mut Picture) -> Shot {
        let damage = Damage::between(healthy, faulty);
        faulty.picture_into(View::Picture, Tint::default(), picture);
        let mut image = self.screen.enlarge(&picture.rgba, picture.width, self.size);
        if self.film.look.caption {
            let caption = Caption { setting: setting.clone(), mark: mark(damage.verdict()), finding: finding(&damage) };
            caption.draw(&mut image);
        }
        let dots: u64 = faulty.lines.iter().map(|line| u64::from(line.dots)).sum();
        let seconds = dots as f64 / self.film.bench.adapter().dot_clock().get();
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
