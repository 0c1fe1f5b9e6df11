//! What each line of the picture shows, with likelihoods.
//!
//! A line is made of stretches: as meant, from another place of memory, of the border's colour, or of something that is
//! nowhere to be found. The best way to cut a line into stretches is found exactly (Viterbi), with a price on each cut.
//! Places of memory worth trying are searched for where stretches remain unexplained, and then tried on every line.

use crate::expected::{Expected, Rgb8};
use crate::light::{Colour, LightTables, in_light};
use crate::view::PreparedCapture;

/// What a stretch of a line shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum StretchContent {
    /// What was meant.
    Meant,
    /// What stands that many pixels further along memory than what was meant; negative for what stands before it. The
    /// content appears that many pixels to the left of its place.
    Memory {
        /// Pixels along memory.
        moved: i64,
    },
    /// The border's colour.
    Border,
    /// Something that stands nowhere in memory.
    Unknown,
}

/// Pixels of a line that show the same kind of thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// First pixel, from the left.
    pub from: usize,
    /// Last pixel.
    pub to: usize,
    /// What they show.
    pub source: StretchContent,
}

/// What is found of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finding {
    /// It shows what was meant.
    AsMeant,
    /// It stands beside its place as a whole.
    Displaced {
        /// Half pixels to the right; negative to the left.
        half_pixels: i32,
    },
    /// All or part of it comes from another place of memory.
    Elsewhere {
        /// Pixels further along memory, as of [`StretchContent::Memory`], of its longest stretch.
        moved: i64,
    },
    /// Every shape is in its place, in other colours.
    WrongColours,
    /// It shows something else, which was not found in memory.
    SomethingElse,
    /// The captures do not allow to tell.
    CouldNotTell,
}

/// Natural logarithms of how much likelier the captures are under the best of each kind than under anything at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Likelihoods {
    /// As meant.
    pub as_meant: f64,
    /// Displaced as a whole.
    pub displaced: f64,
    /// From another place of memory, in all or in part.
    pub elsewhere: f64,
    /// In other colours.
    pub wrong_colours: f64,
    /// Something else, in all or in part.
    pub something_else: f64,
}

/// What was found of one line.
#[derive(Clone, Debug, PartialEq)]
pub struct LineEvidence {
    /// What it shows.
    pub finding: Finding,
    /// How sure that is against the other kinds, 0 to 1.
    pub probability: f64,
    /// The likelihoods behind it.
    pub likelihoods: Likelihoods,
    /// The stretches that are not as meant.
    pub stretches: Vec<Stretch>,
}

impl LineEvidence {
    /// Takes back what was found.
    pub(crate) fn withdraw(&mut self) {
        self.finding = Finding::CouldNotTell;
        self.stretches.clear();
    }

    /// Whether the line shows what was meant; `None` where that could not be judged.
    #[must_use]
    pub fn is_as_meant(&self) -> Option<bool> {
        match self.finding {
            Finding::CouldNotTell => None,
            finding => Some(finding == Finding::AsMeant),
        }
    }
}

/// The least probability with which a kind is named: what the neighbours' light and the fit of light and noise leave open is
/// more than the likelihoods know of.
const SURE: f64 = 0.993;
/// Evidence (natural logarithm) that another kind needs on a line that is as meant beyond doubt but for it.
const AGAINST_CLEAR: f64 = 30.0;
/// Evidence (natural logarithm) by which a line fits worse than its neighbour from which on that one's light explains it.
const WORSE: f64 = 100.0;
/// Evidence (natural logarithm) against anything at all below which a line is not readable.
const READABLE: f64 = 8.0;
/// Evidence a pixel (natural logarithm) from which a line is beyond doubt.
const CLEAR: f64 = 1.0;
/// Places of memory tried at most.
const MOST_PLACES: usize = 12;
/// Lines in which places of memory are searched for, at most.
const MOST_SEARCHED: usize = 24;

/// Prices of cuts (natural logarithms): how unlikely it is beforehand that a line turns to this.
const TO_MEMORY: f32 = 16.0;
const TO_KNOWN_MEMORY: f32 = 10.0;
const TO_BORDER: f32 = 16.0;
const TO_UNKNOWN: f32 = 18.0;
const BACK: f32 = 3.0;
const WHOLE_LINE: f64 = 12.0;
const COLOURS: f64 = 16.0;

/// Reads the lines of a picture from views of it.
pub(crate) fn read(expected: &Expected, views: &mut [PreparedCapture], tables: &LightTables) -> Vec<LineEvidence> {
    let mut reader = Reader::new(expected, tables);
    let lines = reader.pass(views);
    reader.take(&lines);
    views.iter_mut().for_each(|view| view.refit(&reader.current, tables));
    reader.pass(views);
    let mut lines: Vec<LineEvidence> = (0..reader.height).map(|line| reader.evidence(views, line)).collect();
    doubt_neighbours(&mut lines);
    lines
}

/// What is nowhere to be found shines into the lines beside it, nobody knows how: they cannot be told from it.
fn doubt_neighbours(lines: &mut [LineEvidence]) {
    let misfits: Vec<Option<f64>> = lines
        .iter()
        .map(|line| (line.finding == Finding::SomethingElse).then_some(line.likelihoods.as_meant))
        .collect();
    for (at, line) in lines.iter_mut().enumerate() {
        let beside = [at.checked_sub(1), Some(at + 1)].into_iter().flatten();
        let outshone = beside.filter_map(|beside| misfits.get(beside).copied().flatten());
        let is_outshone = misfits[at].is_some_and(|own| outshone.into_iter().any(|that| that < own - WORSE));
        if is_outshone {
            line.withdraw();
        }
    }
}

/// The picture that was shown in light, as far as a first reading tells.
pub(crate) fn shown(expected: &Expected, views: &[PreparedCapture], tables: &LightTables) -> Vec<Colour> {
    let mut reader = Reader::new(expected, tables);
    let lines = reader.pass(views);
    reader.take(&lines);
    reader.current
}

/// Distances along memory by which faults move lines without need of a search: a line up or down.
fn likely(expected: &Expected) -> Vec<i64> {
    let pitch = expected.pitch();
    if pitch == 0 { Vec::new() } else { vec![pitch, -pitch] }
}

/// A distance along memory, and how many lines show it.
struct Displacement {
    moved: i64,
    lines: usize,
    /// How many show it clearly: hints alone make no other likelier.
    clear: usize,
}

/// Evidence (natural logarithm) beyond that for what was meant from which a line clearly shows another place of memory.
const CLEARLY: f64 = 20.0;

struct Reader<'a> {
    width: usize,
    height: usize,
    /// A line of the border's colour.
    border: Vec<Colour>,
    meant: Vec<Colour>,
    /// The picture as far as it is known by now.
    current: Vec<Colour>,
    expected: &'a Expected,
    tables: &'a LightTables,
    places: Vec<Displacement>,
    /// What was worked out of each line under the current picture.
    tracks: Vec<Tracks>,
}

/// The evidence for what a line may show, pixel by pixel.
#[derive(Default)]
struct Tracks {
    meant: Vec<f32>,
    others: Vec<(StretchContent, Vec<f32>)>,
}

/// The best way to cut a line, and what it weighs.
struct Cut {
    log: f64,
    stretches: Vec<Stretch>,
}

/// A line while it is read.
struct Reading {
    as_meant: f64,
    best: Cut,
}

impl<'a> Reader<'a> {
    fn new(expected: &'a Expected, tables: &'a LightTables) -> Self {
        let (width, height) = expected.size();
        let meant = in_light(expected, tables);
        Self {
            width,
            height,
            border: vec![tables.light(expected.border()); width],
            current: meant.clone(),
            meant,
            expected,
            tables,
            places: likely(expected).into_iter().map(|moved| Displacement { moved, lines: 0, clear: 0 }).collect(),
            tracks: Vec::new(),
        }
    }

    /// Reads every line, and searches memory for what is not explained.
    fn pass(&mut self, views: &[PreparedCapture]) -> Vec<Reading> {
        let mut sources = vec![StretchContent::Unknown, StretchContent::Border];
        sources.extend(self.places.iter().map(|place| StretchContent::Memory { moved: place.moved }));
        self.tracks = (0..self.height).map(|line| self.tracks(views, line, &sources)).collect();
        let mut lines: Vec<Reading> = (0..self.height).map(|line| self.reading(line)).collect();
        self.keep_places(&lines);
        self.search(views, &mut lines);
        self.keep_places(&lines);
        lines
    }

    /// Counts the lines that show each place of memory, and forgets those that none shows.
    fn keep_places(&mut self, lines: &[Reading]) {
        self.count_places(lines);
        self.places.retain(|place| place.lines > 0);
        let kept = |source: StretchContent| match source {
            StretchContent::Memory { moved } => self.places.iter().any(|place| place.moved == moved),
            StretchContent::Meant | StretchContent::Border | StretchContent::Unknown => true,
        };
        self.tracks.iter_mut().for_each(|tracks| tracks.others.retain(|(source, _)| kept(*source)));
    }

    fn of<'b>(&'b self, picture: &'b [Colour], line: i64) -> &'b [Colour] {
        match usize::try_from(line) {
            Ok(line) if line < self.height => &picture[line * self.width..(line + 1) * self.width],
            _ => &self.border,
        }
    }

    /// What a line shows if it comes from elsewhere.
    fn content(&self, line: usize, source: StretchContent) -> Vec<Colour> {
        match source {
            StretchContent::Meant | StretchContent::Unknown => self.of(&self.meant, line as i64).to_vec(),
            StretchContent::Border => self.border.clone(),
            StretchContent::Memory { moved } => {
                let colour = |x: usize| self.expected.along_memory(line, x as i64 + moved);
                (0..self.width).map(|x| self.tables.light(colour(x))).collect()
            }
        }
    }

    /// The evidence for content on a line, pixel by pixel, over all views.
    fn logs(
        &self,
        views: &[PreparedCapture],
        line: usize,
        content: &[Colour],
        recoloured: Option<&[[f32; 4]; 3]>,
    ) -> Vec<f32> {
        let mut sum = vec![0.0_f32; self.width];
        for view in views {
            let near = |away: i64| self.of(&self.current, line as i64 + away);
            let logs = view.logs(line, content, near, self.tables, recoloured);
            sum.iter_mut().zip(logs).for_each(|(sum, log)| *sum += log);
        }
        sum
    }

    fn tracks(&self, views: &[PreparedCapture], line: usize, sources: &[StretchContent]) -> Tracks {
        let others = sources.iter().map(|source| (*source, self.track(views, line, *source))).collect();
        Tracks { meant: self.logs(views, line, self.of(&self.meant, line as i64), None), others }
    }

    fn track(&self, views: &[PreparedCapture], line: usize, source: StretchContent) -> Vec<f32> {
        match source {
            StretchContent::Unknown => vec![0.0; self.width],
            source => self.logs_with_neighbours(views, line, source),
        }
    }

    /// The evidence for a line from elsewhere: its neighbours being as known, or from there, too; whichever fits better.
    fn logs_with_neighbours(&self, views: &[PreparedCapture], line: usize, source: StretchContent) -> Vec<f32> {
        let content = self.content(line, source);
        let known = self.logs(views, line, &content, None);
        let StretchContent::Memory { .. } = source else { return known };
        let reach = 3_i64;
        let beside = |away: i64| match usize::try_from(line as i64 + away) {
            Ok(at) if at < self.height => self.content(at, source),
            _ => self.border.clone(),
        };
        let around: Vec<Vec<Colour>> = (-reach..=reach).map(beside).collect();
        let near = |away: i64| around[(away.clamp(-reach, reach) + reach) as usize].as_slice();
        let mut alike = vec![0.0_f32; self.width];
        for view in views {
            let logs = view.logs(line, &content, near, self.tables, None);
            alike.iter_mut().zip(logs).for_each(|(sum, log)| *sum += log);
        }
        if sum(&alike) > sum(&known) { alike } else { known }
    }

    fn reading(&self, line: usize) -> Reading {
        let tracks = &self.tracks[line];
        let others: Vec<&(StretchContent, Vec<f32>)> = tracks.others.iter().collect();
        Reading { as_meant: sum(&tracks.meant), best: self.cut(&tracks.meant, &others) }
    }

    fn price(&self, source: StretchContent) -> f32 {
        match source {
            StretchContent::Meant => BACK,
            StretchContent::Border => TO_BORDER,
            StretchContent::Unknown => TO_UNKNOWN,
            StretchContent::Memory { moved } => {
                let known = self.places.iter().any(|place| place.moved == moved && place.clear > 2);
                if known { TO_KNOWN_MEMORY } else { TO_MEMORY }
            }
        }
    }

    /// The best way to cut a line that leaves what was meant at least once.
    fn cut(&self, meant: &[f32], tracks: &[&(StretchContent, Vec<f32>)]) -> Cut {
        // State 0 has never left what was meant, state 1 has come back to it, the others are the tracks.
        let states = tracks.len() + 2;
        let log = |state: usize, x: usize| if state < 2 { meant[x] } else { tracks[state - 2].1[x] };
        let price = |state: usize| if state < 2 { BACK } else { self.price(tracks[state - 2].0) };
        let mut best: Vec<f32> = (0..states)
            .map(|state| match state {
                0 => log(0, 0),
                1 => f32::NEG_INFINITY,
                state => log(state, 0) - price(state),
            })
            .collect();
        let mut from = vec![0_u8; states * self.width];
        for x in 1..self.width {
            let left = (1..states).fold(1, |most, state| if best[state] > best[most] { state } else { most });
            let mut next = vec![0.0; states];
            for state in 0..states {
                let mut origin = state;
                let mut value = best[state];
                if state > 0 && best[left] - price(state) > value {
                    (origin, value) = (left, best[left] - price(state));
                }
                if state > 1 && best[0] - price(state) > value {
                    (origin, value) = (0, best[0] - price(state));
                }
                from[x * states + state] = origin as u8;
                next[state] = value + log(state, x);
            }
            best = next;
        }
        let Some(last) = (1..states).max_by(|one, other| best[*one].total_cmp(&best[*other])) else {
            return Cut { log: f64::NEG_INFINITY, stretches: Vec::new() };
        };
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut state = last;
        for x in (0..self.width).rev() {
            if state >= 2 {
                let source = tracks[state - 2].0;
                match stretches.last_mut().filter(|stretch| stretch.source == source && stretch.from == x + 1) {
                    Some(stretch) => stretch.from = x,
                    None => stretches.push(Stretch { from: x, to: x, source }),
                }
            }
            state = usize::from(from[x * states + state]);
        }
        stretches.reverse();
        Cut { log: f64::from(best[last]), stretches }
    }

    fn count_places(&mut self, lines: &[Reading]) {
        for place in &mut self.places {
            let here = StretchContent::Memory { moved: place.moved };
            let shows = |reading: &&Reading| reading.best.stretches.iter().any(|one| one.source == here);
            let by = |least: f64| lines.iter().filter(|one| one.best.log > one.as_meant + least).filter(shows).count();
            (place.lines, place.clear) = (by(0.0), by(CLEARLY));
        }
    }

    /// Takes what was read for what was shown.
    fn take(&mut self, lines: &[Reading]) {
        let mut current = self.meant.clone();
        for (line, reading) in lines.iter().enumerate() {
            if reading.best.log <= reading.as_meant + 3.0 {
                continue;
            }
            for stretch in &reading.best.stretches {
                let content = self.content(line, stretch.source);
                let range = stretch.from..=stretch.to;
                current[line * self.width..(line + 1) * self.width][range.clone()].copy_from_slice(&content[range]);
            }
        }
        self.current = current;
    }

    /// Searches memory for what unexplained stretches show, and reads every line anew with what was found.
    fn search(&mut self, views: &[PreparedCapture], lines: &mut [Reading]) {
        let Some(view) = views.first() else { return };
        let strips: Vec<Vec<f32>> =
            self.expected.memory().strips.iter().map(|strip| self.brightness(view, strip)).collect();
        let mut tried = vec![false; lines.len()];
        for _ in 0..MOST_SEARCHED {
            if self.places.len() >= MOST_PLACES {
                return;
            }
            let unexplained = |(line, reading): (usize, &Reading)| {
                let longest = reading.best.stretches.iter().filter(|one| one.source == StretchContent::Unknown);
                let longest = longest.max_by_key(|one| one.to - one.from)?;
                let fits = !tried[line] && reading.best.log > reading.as_meant && longest.to - longest.from >= SHORTEST;
                fits.then_some((longest.to - longest.from, line, *longest))
            };
            let Some((_, line, stretch)) = lines.iter().enumerate().filter_map(unexplained).max_by_key(|found| found.0)
            else {
                return;
            };
            tried[line] = true;
            let Some(moved) = self.find(views, view, &strips, line, stretch) else { continue };
            if self.places.iter().any(|place| place.moved == moved) {
                continue;
            }
            self.places.push(Displacement { moved, lines: 0, clear: 0 });
            let source = StretchContent::Memory { moved };
            for (line, reading) in lines.iter_mut().enumerate() {
                let track = self.track(views, line, source);
                self.tracks[line].others.push((source, track));
                *reading = self.reading(line);
            }
        }
    }

    /// The brightness of a strip of memory as a view would show it without light.
    fn brightness(&self, view: &PreparedCapture, strip: &[Rgb8]) -> Vec<f32> {
        let light: Vec<Colour> = strip.iter().map(|colour| self.tables.light(*colour)).collect();
        view.mapped(&light, self.tables).into_iter().map(|[red, green, blue]| red + green + blue).collect()
    }

    /// The distance along memory at which stands what a stretch shows.
    fn find(
        &self,
        views: &[PreparedCapture],
        view: &PreparedCapture,
        strips: &[Vec<f32>],
        line: usize,
        stretch: Stretch,
    ) -> Option<i64> {
        let (strip, begins) = self.expected.memory().lines[line];
        let strip = &strips[strip];
        let seen = view.unlit(line);
        // The ends belong in part to their neighbours.
        let (from, to) = (stretch.from + 2, stretch.to.saturating_sub(2));
        let wanted: Vec<f32> = seen[from..=to].iter().map(|colour| colour.map_or(0.0, |c| c.iter().sum())).collect();
        let mut around: Vec<f32> = strip.clone();
        around.extend(strip.iter().cycle().take(wanted.len()));
        let mut found: Vec<(f32, usize)> = (0..strip.len())
            .map(|at| {
                let there = &around[at..at + wanted.len()];
                (there.iter().zip(&wanted).map(|(a, b)| (a - b) * (a - b)).sum::<f32>(), at)
            })
            .collect();
        let few = 24.min(found.len() - 1);
        found.select_nth_unstable_by(few, |(one, _), (other, _)| one.total_cmp(other));
        found.truncate(few);
        let length = strip.len() as i64;
        let judged = found.into_iter().map(|(_, at)| {
            let ahead = (at as i64 - (begins + from) as i64).rem_euclid(length);
            let moved = if ahead > length / 2 { ahead - length } else { ahead };
            let logs = self.logs_with_neighbours(views, line, StretchContent::Memory { moved });
            (logs[from..=to].iter().sum::<f32>(), moved)
        });
        let judged: Vec<(f32, i64)> = judged.filter(|(_, moved)| *moved != 0).collect();
        let best = judged.iter().map(|(log, _)| *log).fold(f32::NEG_INFINITY, f32::max);
        // Of what fits alike the nearest.
        let nearest = judged.iter().filter(|(log, _)| *log > best - 1.0).min_by_key(|(_, moved)| moved.unsigned_abs());
        nearest.filter(|(log, _)| *log > TO_MEMORY).map(|(_, moved)| *moved)
    }

    /// What is found of a line in the end.
    fn evidence(&self, views: &[PreparedCapture], line: usize) -> LineEvidence {
        let Tracks { meant, others } = &self.tracks[line];
        let as_meant = sum(meant);
        let is_memory = |source: StretchContent| matches!(source, StretchContent::Memory { .. });
        let (memory, other): (Vec<_>, Vec<_>) = others.iter().partition(|(source, _)| is_memory(*source));
        let elsewhere = self.cut(meant, &memory);
        let something_else = self.cut(meant, &other);
        let mixed = self.cut(meant, &others.iter().collect::<Vec<_>>());
        // What fits as it was meant, beyond all that was tried, need not be tried in other ways.
        let plain = as_meant > CLEAR * self.width as f64 && as_meant > mixed.log;
        let (displaced, half_pixels) = if plain { (f64::NEG_INFINITY, 0) } else { self.displaced(views, line) };
        let recoloured = if plain { None } else { self.recoloured(views, line) };
        let wrong_colours = recoloured.filter(|found| found.is_another).map_or(f64::NEG_INFINITY, |found| found.log);
        let likelihoods = Likelihoods {
            as_meant,
            displaced,
            elsewhere: elsewhere.log,
            wrong_colours,
            something_else: something_else.log,
        };
        // Part from memory and part unknown is from elsewhere where that is most of it.
        let mixed_is_memory = main(&mixed.stretches).is_some_and(|one| is_memory(one.source));
        let best_elsewhere = if mixed_is_memory && mixed.log > elsewhere.log { &mixed } else { &elsewhere };
        let best_else = if !mixed_is_memory && mixed.log > something_else.log { &mixed } else { &something_else };
        let moved = match main(&best_elsewhere.stretches).map(|one| one.source) {
            Some(StretchContent::Memory { moved }) => moved,
            _ => 0,
        };
        let kinds: [(f64, Finding, &[Stretch]); 5] = [
            (as_meant, Finding::AsMeant, &[]),
            (displaced, Finding::Displaced { half_pixels }, &[]),
            (best_elsewhere.log, Finding::Elsewhere { moved }, &best_elsewhere.stretches),
            (wrong_colours, Finding::WrongColours, &[]),
            (best_else.log, Finding::SomethingElse, &best_else.stretches),
        ];
        let most = kinds.iter().map(|(log, ..)| *log).fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = kinds.iter().map(|(log, ..)| (log - most).exp()).sum();
        // Whether it is as meant is judged first; the kinds that are not may be alike.
        let meant_share = (as_meant - most).exp() / sum;
        let best = kinds.iter().max_by(|one, other| one.0.total_cmp(&other.0));
        let (log, finding, stretches) = best.copied().unwrap_or((as_meant, Finding::CouldNotTell, &[]));
        let probability = if finding == Finding::AsMeant { meant_share } else { 1.0 - meant_share };
        // Something else is known by how badly all fits that could be meant.
        let readable = match finding {
            Finding::SomethingElse => -as_meant > READABLE && as_meant < log - READABLE,
            _ => log > READABLE,
        };
        let is_clear = as_meant > CLEAR * self.width as f64;
        let is_slight = finding != Finding::AsMeant && is_clear && log < as_meant + AGAINST_CLEAR;
        // Other colours, but not more so than a camera may make of them.
        let is_tinged = recoloured.is_some_and(|found| !found.is_another && found.log > as_meant);
        let is_doubtful = is_slight || finding == Finding::AsMeant && is_tinged;
        if probability < SURE || !readable || is_doubtful {
            return LineEvidence { finding: Finding::CouldNotTell, probability, likelihoods, stretches: Vec::new() };
        }
        LineEvidence { finding, probability, likelihoods, stretches: stretches.to_vec() }
    }

    /// The best whole-line displacement in half pixels, and its likelihood.
    fn displaced(&self, views: &[PreparedCapture], line: usize) -> (f64, i32) {
        let content = self.of(&self.meant, line as i64);
        let border = self.border[0];
        let shifted = |half_pixels: i32| -> Vec<Colour> {
            let pixel =
                |x: i64| -> Colour { usize::try_from(x).ok().and_then(|x| content.get(x)).copied().unwrap_or(border) };
            (0..self.width as i64)
                .map(|x| {
                    let at = 2 * x - i64::from(half_pixels);
                    let (one, other) = (pixel(at.div_euclid(2)), pixel((at + 1).div_euclid(2)));
                    [0, 1, 2].map(|channel| (one[channel] + other[channel]) / 2.0)
                })
                .collect()
        };
        let log = |half_pixels: i32| -> f64 { sum(&self.logs(views, line, &shifted(half_pixels), None)) - WHOLE_LINE };
        let tried = (-FARTHEST..=FARTHEST).filter(|half_pixels| *half_pixels != 0);
        let best =
            tried.map(|half_pixels| (log(half_pixels), half_pixels)).max_by(|one, other| one.0.total_cmp(&other.0));
        best.unwrap_or((f64::NEG_INFINITY, 0))
    }

    /// A line in the best other colours.
    fn recoloured(&self, views: &[PreparedCapture], line: usize) -> Option<Recoloured> {
        let view = views.first()?;
        let meant = view.mapped(self.of(&self.meant, line as i64), self.tables);
        let colours = recolouring(&meant, &view.unlit(line))?;
        let content = self.of(&self.meant, line as i64);
        let log = sum(&self.logs(views, line, content, Some(&colours))) - COLOURS;
        Some(Recoloured { log, is_another: is_another(&colours, &meant) })
    }
}

/// A line in other colours.
#[derive(Clone, Copy, Debug)]
struct Recoloured {
    /// How likely it makes the captures (natural logarithm), its price taken off.
    log: f64,
    /// Whether the colours are further from those that were meant than a camera puts them.
    is_another: bool,
}

/// Half pixels to either side by which whole lines are tried.
const FARTHEST: i32 = 8;
/// Pixels of the shortest stretch that is searched for in memory.
const SHORTEST: usize = 14;

fn sum(logs: &[f32]) -> f64 {
    logs.iter().map(|log| f64::from(*log)).sum()
}

/// The longest stretch.
pub(crate) fn main(stretches: &[Stretch]) -> Option<&Stretch> {
    stretches.iter().max_by_key(|one| one.to - one.from)
}

/// Whether a change of colours is more than what a camera makes of them: a third of the line's own contrast.
fn is_another(colours: &[[f32; 4]; 3], meant: &[Colour]) -> bool {
    let count = meant.len().max(1) as f32;
    let mean: Colour = std::array::from_fn(|channel| meant.iter().map(|one| one[channel]).sum::<f32>() / count);
    let (mut change, mut contrast) = (0.0_f32, 0.0_f32);
    for colour in meant {
        for channel in 0..3 {
            let [red, green, blue, one] = colours[channel];
            let other = red * colour[0] + green * colour[1] + blue * colour[2] + one;
            change += (other - colour[channel]).powi(2);
            contrast += (colour[channel] - mean[channel]).powi(2);
        }
    }
    change > contrast / 9.0 && change / count > 3.0 * LEAST_CHANGE * LEAST_CHANGE
}

/// Numbers of a channel by which colours must change at least.
const LEAST_CHANGE: f32 = 12.0;

/// The linear change of colours that makes of the meant ones those seen, robustly.
fn recolouring(meant: &[Colour], seen: &[Option<Colour>]) -> Option<[[f32; 4]; 3]> {
    use nalgebra::{Matrix4, Vector4};
    let mut weights = vec![1.0_f64; meant.len()];
    let mut rows = [[0.0_f64; 4]; 3];
    for _ in 0..4 {
        let mut left = Matrix4::<f64>::zeros();
        let mut right = [Vector4::<f64>::zeros(); 3];
        for ((from, to), weight) in meant.iter().zip(seen).zip(&weights) {
            let Some(to) = to else { continue };
            let row = Vector4::new(f64::from(from[0]), f64::from(from[1]), f64::from(from[2]), 100.0);
            left += row * row.transpose() * *weight;
            for channel in 0..3 {
                right[channel] += row * (f64::from(to[channel]) * weight);
            }
        }
        // A little pull to no change, so that even lines do not turn anything into anything.
        let pull = left.diagonal().max() * 1e-3 + 1.0;
        for at in 0..4 {
            left[(at, at)] += pull;
            if at < 3 {
                right[at][at] += pull;
            }
        }
        let solver = left.cholesky()?;
        for channel in 0..3 {
            let found = solver.solve(&right[channel]);
            rows[channel] = [found[0], found[1], found[2], found[3]];
        }
        let misfit = |from: &Colour, to: &Option<Colour>| {
            to.map_or(0.0, |to| {
                (0..3)
                    .map(|channel| {
                        let row = &rows[channel];
                        let value = (0..3).map(|at| row[at] * f64::from(from[at])).sum::<f64>() + 100.0 * row[3];
                        (value - f64::from(to[channel])).powi(2)
                    })
                    .sum::<f64>()
            })
        };
        let sizes: Vec<f64> = meant.iter().zip(seen).map(|(from, to)| misfit(from, to)).collect();
        let mut sorted = sizes.clone();
        let middle = sorted.len() / 2;
        let median = sorted.select_nth_unstable_by(middle, f64::total_cmp).1.max(4.0);
        weights.iter_mut().zip(&sizes).for_each(|(weight, size)| *weight = 1.0 / (1.0 + size / (6.0 * median)).powi(2));
    }
    Some(rows.map(|row| [row[0] as f32, row[1] as f32, row[2] as f32, (100.0 * row[3]) as f32]))
}
