//! A sweep on the page: frames to leaf through, the damage map, the verdict table.

use std::collections::HashMap;

use backporch_analysis::{StepBoards, Sweep, SweepAxis, SweepStep, Verdict, line_damage, step_boards};
use backporch_bench::Bench;
use backporch_picture::mark::Mark;
use backporch_picture::record::ScreenShape;
use backporch_picture::write::WriteError;
use backporch_raster::{Picture, View};
use rayon::prelude::*;
use serde::Serialize;

use super::embed::EmbeddedPicture;
use super::heat;
use super::strip::VerdictStrip;
use super::words;

/// Steps whose frames are on the page at most; of longer sweeps it has every n-th.
const MOST_FRAMES: usize = 128;

/// Base64 characters of all frames at most: the page stays well below 3 MB.
const MOST_FRAME_BYTES: usize = 2_200_000;

/// Rows of the verdict table at most.
const MOST_ROWS: usize = 1024;

/// A sweep as the page shows it.
#[derive(Clone, Debug)]
pub struct SweepPart {
    pub(super) names: Vec<String>,
    pub(super) finding: String,
    pub(super) glance: Vec<(String, String)>,
    pub(super) steps: usize,
    pub(super) every: usize,
    pub(super) rows: Vec<StepRow>,
    pub(super) map: EmbeddedPicture,
    pub(super) widest: u32,
    pub(super) lines: usize,
    pub(super) strip: VerdictStrip,
    pub(super) player: Player,
    pub(super) shape: f64,
}

/// A row of the verdict table.
#[derive(Clone, Debug)]
pub(super) struct StepRow {
    pub(super) values: Vec<u32>,
    pub(super) mark: Mark,
    pub(super) damaged: u32,
    pub(super) visible: u32,
    pub(super) lines: String,
    pub(super) pixels: String,
    /// Place of its frame among those on the page.
    pub(super) frame: Option<usize>,
}

/// What the script needs.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Player {
    /// Pictures in base64, each once.
    pub(super) pictures: Vec<String>,
    pub(super) steps: Vec<PlayerStep>,
    /// The step shown at first.
    pub(super) first: usize,
    /// Colours of what differs.
    pub(super) lit: [u8; 3],
}

/// A step whose frames are on the page.
#[derive(Clone, Debug, Serialize)]
pub(super) struct PlayerStep {
    /// Number of the step in the sweep.
    pub(super) step: usize,
    pub(super) setting: String,
    pub(super) verdict: &'static str,
    pub(super) says: String,
    /// Plain frame among the pictures.
    pub(super) plain: usize,
    /// Pixels of the faulty frame that differ, or the whole of it where its size differs.
    pub(super) faulty: Option<usize>,
    /// Whether `faulty` is the whole frame.
    pub(super) whole: bool,
}

/// Frames of one step, encoded.
struct Shown {
    plain: EmbeddedPicture,
    faulty: Option<EmbeddedPicture>,
    whole: bool,
}

/// What is kept of a step once its frames are gone.
struct Kept {
    /// Damaged pixels of each line.
    extents: Vec<u32>,
    shown: Option<Shown>,
}

impl SweepPart {
    /// Draws every step of a sweep once more; `done` is called after each, from any thread.
    ///
    /// # Errors
    /// Where a frame has no pixels.
    pub fn new(
        bench: &Bench,
        over: &[SweepAxis],
        sweep: &Sweep,
        hold: u32,
        done: &(dyn Fn() + Sync),
    ) -> Result<Self, WriteError> {
        let every = sweep.steps.len().div_ceil(MOST_FRAMES).max(1);
        let film = Film { bench, over, sweep, hold };
        let kept: Result<Vec<Kept>, WriteError> = (0..sweep.steps.len())
            .into_par_iter()
            .map(|at| {
                let kept = film.step(at, at % every == 0);
                done();
                kept
            })
            .collect();
        let mut kept = kept?;
        let every = thin(&mut kept, every);
        let marks = sweep.steps.iter().map(|step| words::mark(step.verdict));
        let columns: Vec<(Mark, Vec<u32>)> =
            marks.clone().zip(kept.iter_mut().map(|kept| std::mem::take(&mut kept.extents))).collect();
        let lines = columns.iter().map(|(_, lines)| lines.len()).max().unwrap_or(0);
        Ok(Self {
            names: sweep.names.clone(),
            finding: words::finding(sweep),
            glance: glance(sweep),
            steps: sweep.steps.len(),
            every,
            rows: sweep
                .steps
                .iter()
                .enumerate()
                .take(MOST_ROWS)
                .map(|(at, step)| StepRow::new(step, at, every))
                .collect(),
            map: heat::draw(&columns)?,
            widest: heat::widest(&columns),
            lines,
            strip: VerdictStrip::new(marks),
            player: Player::new(sweep, kept),
            shape: shape(bench),
        })
    }

    pub(super) fn finding(&self) -> String {
        self.finding.clone()
    }

    /// Frames on the page.
    pub(super) fn frames(&self) -> usize {
        self.player.steps.len()
    }

    /// The step shown at first, with its frames.
    pub(super) fn still(&self) -> Option<Still> {
        let step = self.player.steps.get(self.player.first)?;
        let address = |picture: usize| format!("data:image/png;base64,{}", self.player.pictures[picture]);
        Some(Still {
            setting: step.setting.clone(),
            says: step.says.clone(),
            plain: address(step.plain),
            faulty: step.faulty.map(address),
        })
    }
}

/// One step for readers without the script.
pub(super) struct Still {
    pub(super) setting: String,
    pub(super) says: String,
    pub(super) plain: String,
    pub(super) faulty: Option<String>,
}

/// Width over height of the picture on a screen.
fn shape(bench: &Bench) -> f64 {
    let adapter = bench.adapter();
    match (adapter.signal(&adapter.start_up(bench.mode())), adapter.signal(bench.registers())) {
        (Ok(usual), Ok(now)) => ScreenShape::shape(&usual, &now),
        _ => 4.0 / 3.0,
    }
}

/// The sweep in a few numbers.
fn glance(sweep: &Sweep) -> Vec<(String, String)> {
    let count = |verdict: Verdict| sweep.steps.iter().filter(|step| step.verdict == verdict).count();
    let mut glance = vec![
        (count(Verdict::Clean).to_string(), "clean".to_string()),
        (count(Verdict::EdgeDamaged).to_string(), "edge-damaged".to_string()),
        (count(Verdict::Broken).to_string(), "broken".to_string()),
    ];
    if let Some(period) = sweep.repeats_every {
        glance.push((period.to_string(), "steps to a period".to_string()));
    }
    glance
}

/// Leaves out every other step until the frames fit the page; gives the new distance of steps that have frames.
fn thin(kept: &mut [Kept], mut every: usize) -> usize {
    let size = |kept: &[Kept]| -> usize { kept.iter().filter_map(|kept| kept.shown.as_ref()).map(Shown::bytes).sum() };
    while size(kept) > MOST_FRAME_BYTES && kept.len() > every {
        every *= 2;
        for (at, kept) in kept.iter_mut().enumerate() {
            if at % every != 0 {
                kept.shown = None;
            }
        }
    }
    every
}

impl Shown {
    fn bytes(&self) -> usize {
        self.plain.base64().len() + self.faulty.as_ref().map_or(0, |faulty| faulty.base64().len())
    }

    fn new(plain: &Picture, faulty: &Picture) -> Result<Self, WriteError> {
        let image = |picture: &Picture| {
            if picture.rgba.is_empty() {
                EmbeddedPicture::of(&[[0, 0, 0, 255]], 1)
            } else {
                EmbeddedPicture::of(&picture.rgba, picture.width)
            }
        };
        let whole = (plain.width, plain.height) != (faulty.width, faulty.height);
        let faulty = if whole {
            Some(image(faulty)?)
        } else if plain.rgba == faulty.rgba {
            None
        } else {
            let pairs = plain.rgba.iter().zip(&faulty.rgba);
            let patch: Vec<[u8; 4]> = pairs.map(|(one, other)| if one == other { [0; 4] } else { *other }).collect();
            Some(EmbeddedPicture::of(&patch, faulty.width)?)
        };
        Ok(Self { plain: image(plain)?, faulty, whole })
    }
}

/// Draws steps.
struct Film<'a> {
    bench: &'a Bench,
    over: &'a [SweepAxis],
    sweep: &'a Sweep,
    hold: u32,
}

impl Film<'_> {
    fn step(&self, at: usize, shown: bool) -> Result<Kept, WriteError> {
        let steps = &self.sweep.steps;
        let before = &steps[at.saturating_sub(1)];
        let StepBoards { healthy: mut plain, mut faulty } =
            step_boards(self.bench, self.over, &before.values, &steps[at].values, self.hold);
        let (right, wrong) = (plain.run_frame(), faulty.run_frame());
        let extents = line_damage(&right, &wrong).iter().map(|pixels| heat::extent(pixels.as_ref())).collect();
        let shown =
            if shown { Some(Shown::new(&right.picture(View::Picture), &wrong.picture(View::Picture))?) } else { None };
        Ok(Kept { extents, shown })
    }
}

impl Player {
    fn new(sweep: &Sweep, kept: Vec<Kept>) -> Self {
        let mut album = Album::default();
        let mut steps = Vec::new();
        for (at, kept) in kept.into_iter().enumerate() {
            let (Some(Shown { plain, faulty, whole }), Some(step)) = (kept.shown, sweep.steps.get(at)) else {
                continue;
            };
            steps.push(PlayerStep {
                step: at,
                setting: setting(&sweep.names, step),
                verdict: step.verdict.word(),
                says: says(step),
                plain: album.place(plain),
                faulty: faulty.map(|image| album.place(image)),
                whole,
            });
        }
        let worst = |(_, step): &(usize, &PlayerStep)| {
            let damage = &sweep.steps[step.step].damage;
            (sweep.steps[step.step].verdict, damage.visible_lines(), std::cmp::Reverse(step.step))
        };
        let first = steps.iter().enumerate().max_by_key(worst).map_or(0, |(place, _)| place);
        Self { pictures: album.pictures, steps, first, lit: Mark::Broken.colour() }
    }
}

/// Pictures, each once.
#[derive(Default)]
struct Album {
    places: HashMap<EmbeddedPicture, usize>,
    pictures: Vec<String>,
}

impl Album {
    fn place(&mut self, image: EmbeddedPicture) -> usize {
        if let Some(place) = self.places.get(&image) {
            return *place;
        }
        self.pictures.push(image.base64().to_string());
        self.places.insert(image, self.pictures.len() - 1);
        self.pictures.len() - 1
    }
}

fn setting(names: &[String], step: &SweepStep) -> String {
    let values: Vec<String> = names.iter().zip(&step.values).map(|(name, value)| format!("{name} {value}")).collect();
    values.join(", ")
}

/// What is wrong with a step, in a line.
fn says(step: &SweepStep) -> String {
    let damage = &step.damage;
    if step.verdict == Verdict::Clean {
        return format!("all {} as on the plain board", words::count(damage.damaged.len(), "line"));
    }
    let count = damage.damaged_lines().max(damage.visible_lines());
    let lines = words::lines(step);
    let pixels = words::pixels(step);
    format!("{count} of {} lines ({lines}), pixels {pixels}", damage.damaged.len())
}

impl StepRow {
    fn new(step: &SweepStep, at: usize, every: usize) -> Self {
        Self {
            values: step.values.clone(),
            mark: words::mark(step.verdict),
            damaged: step.damage.damaged_lines(),
            visible: step.damage.visible_lines(),
            lines: words::lines(step),
            pixels: words::pixels(step),
            frame: at.is_multiple_of(every).then_some(at / every),
        }
    }
}
