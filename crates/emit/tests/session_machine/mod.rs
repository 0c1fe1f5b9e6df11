//! A session's program on the machine, and a person before it who has keys and eyes.

#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use backporch_adapter::Rgba;
use backporch_bench::Bench;
use backporch_emit::SessionProgram;
use backporch_evidence::SessionLook;
use backporch_pc::{Folder, Key, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_picture::card::LABEL;
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Frame, ScanLine, Segment, SegmentKind, View};

/// The machine with the program loaded, on a board that has never shown the mode; `folder` is where it writes.
pub fn machine(bench: &Bench, tap: QuirkStack, program: &SessionProgram, folder: Option<&Path>) -> Machine<QuirkStack> {
    let adapter = bench.adapter();
    let registers = adapter.start_up(adapter.default_mode());
    let board = Board::new(Arc::clone(adapter), registers, tap);
    let mut setup = MachineSetup::new(Model::P80286, ProcessorClock::new(12_000_000, 1).unwrap());
    setup.folder = folder.map(|folder| Folder::new(folder, true).unwrap());
    let image = ProgramImage::parse(program.code.bytes()).unwrap();
    let mut machine = Machine::new(board, &image, &adapter.default_mode().name, setup).unwrap();
    machine.set_live(true);
    machine
}

/// What a person sees of a frame.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// Columns and lines of pixels that are not as meant.
    pub wrong: Vec<(u32, u32)>,
    pub width: u32,
    /// Every pixel value is as meant, its colour is not.
    pub colours: bool,
    /// It is the picture of another start address.
    pub elsewhere: bool,
    pub no_picture: bool,
    /// Lines end before they should, and black follows.
    pub narrower: bool,
    pub flickers: bool,
    /// Single dots are wrong in any one frame.
    pub specks: bool,
    /// By how many columns and lines what is wrong stands beside its place, where all of it does so alike: where a place
    /// of the card belongs, and where it stands.
    pub moved: Option<[(u32, u32); 2]>,
    /// How colours are wrong, as a position in the words for it.
    pub tinge: usize,
}

pub struct Person {
    machine: Machine<QuirkStack>,
}

/// Frames that a person watches a look for: most of a second.
const WATCHED: u32 = 50;
/// Frames of them that are gone through pixel by pixel.
const OTHERS: usize = 4;

/// Dots of a short while: a fraction of a frame.
const WHILE: u64 = 40_000;
/// This many whiles without an end are a program that hangs.
const PATIENCE: u32 = 20_000;

impl Person {
    pub fn new(machine: Machine<QuirkStack>) -> Self {
        let mut person = Self { machine };
        person.waits();
        person
    }

    /// Runs until the program waits for a key, or is over.
    fn waits(&mut self) {
        for _ in 0..PATIENCE {
            let dot = self.machine.dot();
            let stop = self.machine.run_to(dot + WHILE);
            if let Some(Stop::Trouble(report)) = stop {
                panic!("{report}");
            }
            if self.machine.waits_for_key() || self.machine.is_over() {
                return;
            }
        }
        panic!("the program neither waits nor ends: {:?}", self.machine.recent(8));
    }

    pub fn press(&mut self, name: &str) {
        let key = Key::named(name).unwrap();
        self.machine.key(key, true, 0);
        // Until the keyboard's interrupt has been served.
        for down in [true, false] {
            let dot = self.machine.dot();
            let _ = self.machine.run_to(dot + WHILE);
            if down {
                self.machine.key(key, false, 0);
            }
        }
        self.waits();
    }

    pub fn press_all(&mut self, names: &[&str]) {
        names.iter().for_each(|name| self.press(name));
    }

    pub fn memory(&self) -> Vec<u8> {
        self.machine.board().memory().to_vec()
    }

    pub fn printed(&self) -> String {
        self.machine.printed()
    }

    /// Presses a key; whether the program printed something then.
    pub fn press_and_read(&mut self, name: &str) -> bool {
        let before = self.printed().len();
        self.press(name);
        self.printed().len() > before
    }

    pub fn runs_to_its_end(&mut self) {
        assert!(matches!(self.machine.ended(), Some(Stop::Exit(0))), "{:?}", self.machine.ended());
        // The one class without a text mode of its own has it from elsewhere in the machine.
        let has_text = self.machine.board().adapter().firmware_text_mode().is_some();
        assert!(!has_text || self.machine.asked().is_empty(), "{:?}", self.machine.asked());
    }

    fn frame(&mut self) -> Frame {
        loop {
            match self.machine.run() {
                Stop::Frame(frame) => return *frame,
                Stop::Trouble(report) => panic!("{report}"),
                stop if self.machine.is_over() => panic!("{stop:?}, printed: {}", self.printed()),
                _ => {}
            }
        }
    }

    /// A whole frame, as it comes once nothing changes.
    fn settled(&mut self) -> Frame {
        self.frame();
        self.frame();
        self.frame()
    }

    /// What a look means to show: the card on a plain board; or the same at another start address.
    fn meant(&self, look: &SessionLook, start: Option<u32>) -> Frame {
        let (experiment, bench) = (&look.experiment, &look.experiment.bench);
        let adapter = bench.adapter();
        let registers = experiment.registers(look.step);
        let memory = bench.memory(&registers);
        let mut shown = registers.clone();
        if let Some(start) = start {
            adapter.set(&mut shown, adapter.start_address(), u64::from(start)).unwrap();
        }
        let mut plain = Board::plain(Arc::clone(adapter), shown);
        plain.load(&memory);
        plain.run_frame();
        plain.run_frame()
    }

    /// Where the board shows other values than the card of a look, below the label: some columns and lines of them.
    pub fn off(&mut self, look: &SessionLook) -> Vec<(u32, u32)> {
        let frame = self.settled();
        let meant = self.meant(look, None);
        let (width, height) = meant.picture_size();
        assert_eq!(frame.picture_size(), (width, height));
        // A row of the highest characters.
        let all = (16..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        all.filter(|(x, y)| frame.value_at(*x, *y) != meant.value_at(*x, *y)).take(5).collect()
    }

    /// Looks for a while.
    pub fn looks(&mut self, look: &SessionLook) -> Seen {
        let meant = self.meant(look, None);
        let mut frames = vec![self.settled()];
        let first = frames[0].picture(View::Picture);
        // Of those that look otherwise some tell as much as all.
        for _ in 1..WATCHED {
            let frame = self.frame();
            let is_another = frame.picture(View::Picture) != first || frame.shift != frames[0].shift;
            if is_another && frames.len() < OTHERS {
                frames.push(frame);
            }
        }
        let flickers = frames.len() > 1;
        let mut wrong: Vec<(u32, u32)> = frames.iter().flat_map(|frame| differing(frame, &meant)).collect();
        wrong.sort_unstable();
        wrong.dedup();
        let frame = &frames[0];
        let colours = !wrong.is_empty() && only_colours(frame, &meant);
        let start = frame.picture_lines().next().and_then(|line| line.fetch.as_ref()).map(|line| line.start);
        let content_elsewhere =
            !wrong.is_empty() && start.is_some_and(|start| differing(frame, &self.meant(look, Some(start))).is_empty());
        // The whole picture stands beside its place on the tube.
        let shifted = frames.iter().any(|frame| frame.shift != meant.shift);
        let elsewhere = content_elsewhere || shifted || beside(frame, &meant);
        let no_picture = frame.unstable;
        let of_frame = differing(frame, &meant);
        let specks = are_specks(&of_frame);
        // No number can be read on single dots.
        let moved = if colours || specks { None } else { moved(&of_frame, frame, &meant) };
        let tinge = if colours { tinge(frame, &meant) } else { 0 };
        let width = meant.picture_size().0;
        let narrower = frame.picture_size().0 < width;
        Seen { wrong, width, colours, elsewhere, no_picture, narrower, flickers, specks, moved, tinge }
    }

    /// Sends the marker to a column and a line, from where it is.
    pub fn goes_to(&mut self, at: &mut (u32, u32), to: (u32, u32)) {
        for (now, then, far, [less, more, much_less, much_more]) in [
            (at.0, to.0, 20, ["left", "right", "home", "end"]),
            (at.1, to.1, 10, ["up", "down", "page-up", "page-down"]),
        ] {
            let (apart, one, many) =
                if then < now { (now - then, less, much_less) } else { (then - now, more, much_more) };
            (0..apart / far).for_each(|_| self.press(many));
            (0..apart % far).for_each(|_| self.press(one));
        }
        *at = to;
    }

    /// Says of the look what is seen, and goes on.
    pub fn answers(&mut self, look: &SessionLook) {
        let seen = self.looks(look);
        let height = self.meant(look, None).picture_size().1;
        let answer = match &seen {
            _ if seen.no_picture => "7",
            _ if seen.elsewhere => "5",
            _ if seen.wrong.is_empty() => "1",
            _ if seen.colours => "4",
            _ => "3",
        };
        if answer != "3" {
            self.press(answer);
            (0..seen.tinge).for_each(|_| self.press("c"));
        } else {
            let (xs, ys): (Vec<u32>, Vec<u32>) = seen.wrong.iter().copied().unzip();
            let mut lines = ys.clone();
            lines.sort_unstable();
            lines.dedup();
            let (left, right) = (*xs.iter().min().unwrap(), *xs.iter().max().unwrap());
            self.press(if seen.specks {
                "6"
            } else if left >= seen.width.div_ceil(2) {
                "2"
            } else {
                "3"
            });
            // The first arrow shows the marker in the middle.
            self.press("up");
            let mut at = (seen.width / 2, height / 2);
            self.goes_to(&mut at, (left, lines[0]));
            self.press_all(&["t", "l"]);
            if let Some(second) = lines.get(1) {
                self.goes_to(&mut at, (left, *second));
                self.press("s");
            }
            self.goes_to(&mut at, (right, *lines.last().unwrap()));
            self.press_all(&["b", "r"]);
            if is_regular(&lines, height) {
                self.press("e");
            }
            if let Some([from, to]) = seen.moved {
                self.goes_to(&mut at, from);
                self.press("f");
                self.goes_to(&mut at, to);
                self.press("g");
            }
        }
        if seen.narrower && !seen.wrong.is_empty() && !seen.no_picture {
            self.press("n");
        }
        if seen.flickers && answer != "1" {
            self.press("8");
        }
    }
}

/// Colours of a frame's pixels, column and line first; those under the label are left out.
fn pixels(frame: &Frame) -> impl Iterator<Item = ((u32, u32), Rgba)> {
    let picture = frame.picture(View::Picture);
    let (width, height) = frame.picture_size();
    let (across, down) = ((picture.width / width.max(1)).max(1), (picture.height / height.max(1)).max(1));
    let places = (0..height).flat_map(move |y| (0..width).map(move |x| (x, y)));
    places.filter(|(x, y)| *x >= LABEL.0 || *y >= LABEL.1).filter_map(move |(x, y)| {
        let at = y * down * picture.width + x * across;
        Some(((x, y), *picture.rgba.get(at as usize)?))
    })
}

/// Whether a picture of the same size stands beside its place on the tube: sync comes at another moment.
fn beside(frame: &Frame, meant: &Frame) -> bool {
    let (Some(line), Some(plain)) = (frame.picture_lines().next(), meant.picture_lines().next()) else {
        return false;
    };
    let of = |frame: &Frame, line: &ScanLine, sync: bool| -> Vec<(u32, u32)> {
        let wanted = |one: &&Segment| match one.kind {
            SegmentKind::Sync => sync,
            SegmentKind::Active { .. } => !sync,
            SegmentKind::Border | SegmentKind::Blank => false,
        };
        frame.segments_of(line).iter().filter(wanted).map(|one| (one.dot, one.dots)).collect()
    };
    of(frame, line, false) == of(meant, plain, false) && of(frame, line, true) != of(meant, plain, true)
}

/// Columns and lines of the pixels that differ in colour; what is not shown differs.
fn differing(frame: &Frame, meant: &Frame) -> Vec<(u32, u32)> {
    let shown: BTreeMap<(u32, u32), Rgba> = pixels(frame).collect();
    pixels(meant).filter(|(place, meant)| shown.get(place) != Some(meant)).map(|(place, _)| place).collect()
}

/// Whether wrong pixels are single dots on the stretch they lie on.
fn are_specks(wrong: &[(u32, u32)]) -> bool {
    let (xs, mut ys): (Vec<u32>, Vec<u32>) = wrong.iter().copied().unzip();
    ys.sort_unstable();
    ys.dedup();
    let (Some(left), Some(right)) = (xs.iter().min(), xs.iter().max()) else { return false };
    wrong.len() * 100 < (right - left + 1) as usize * ys.len() * 3
}

/// Whether wrong lines follow at the distance of the first two, over the whole picture.
fn is_regular(lines: &[u32], height: u32) -> bool {
    let [first, second, _, ..] = lines else { return false };
    let period = second - first;
    let last = lines.last().copied().unwrap_or(0);
    *first < period && last + period >= height && lines.windows(2).all(|pair| pair[1] - pair[0] == period)
}

/// Columns and lines to either side that a person looks for a number of the card.
const FURTHEST: (i64, i64) = (160, 199);
/// Wrong pixels that are compared.
const COMPARED: usize = 400;

/// Pixel values of the card's ground; the others are of its numbers.
const GROUNDS: usize = 5;
/// Wrong pixels of numbers, of those compared, at which a person can tell where they belong.
const READ: usize = 8;

/// A place of the card and where it stands, where all that is wrong has moved alike and by no other distance: numbers
/// tell where they belong, the ground does not.
fn moved(wrong: &[(u32, u32)], frame: &Frame, meant: &Frame) -> Option<[(u32, u32); 2]> {
    // A handful of dots tells nothing.
    if wrong.len() < COMPARED / 4 {
        return None;
    }
    let (width, height) = meant.picture_size();
    let step = (wrong.len() / COMPARED).max(1);
    let some: Vec<(u32, u32)> = wrong.iter().copied().step_by(step).collect();
    let values = |frame: &Frame| -> Vec<Option<u8>> {
        (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| frame.value_at(x, y)).collect()
    };
    let (shown, card_values) = (values(frame), values(meant));
    let mut often = BTreeMap::<u8, usize>::new();
    card_values.iter().flatten().for_each(|value| *often.entry(*value).or_default() += 1);
    let mut often: Vec<(u8, usize)> = often.into_iter().collect();
    often.sort_unstable_by_key(|(_, count)| std::cmp::Reverse(*count));
    let ground: Vec<u8> = often.iter().take(GROUNDS).map(|(value, _)| *value).collect();
    let card = |x: i64, y: i64| {
        let inside = (0..i64::from(width)).contains(&x) && (0..i64::from(height)).contains(&y);
        if inside { card_values[(y * i64::from(width) + x) as usize] } else { None }
    };
    let mut found = None;
    for down in -FURTHEST.1..=FURTHEST.1 {
        for right in -FURTHEST.0..=FURTHEST.0 {
            let mut seen = Vec::new();
            let fits = some.iter().all(|(x, y)| {
                match card(i64::from(*x) - right, i64::from(*y) - down) {
                    // What came in from beyond the card tells nothing.
                    None => true,
                    Some(value) => {
                        seen.push((*x, *y));
                        shown[(y * width + x) as usize] == Some(value)
                    }
                }
            });
            let is_number =
                |(x, y): &&(u32, u32)| shown[(y * width + x) as usize].is_some_and(|value| !ground.contains(&value));
            if !fits || seen.len() * 3 < some.len() || seen.iter().filter(is_number).count() < READ {
                continue;
            }
            // Two distances that both fit: there is no saying which.
            if found.is_some() {
                return None;
            }
            let (x, y) = seen[seen.len() / 2];
            found = Some([((i64::from(x) - right) as u32, (i64::from(y) - down) as u32), (x, y)]);
        }
    }
    found
}

/// How colours are wrong: what the screen shows of each primary colour, beside what is meant.
fn tinge(frame: &Frame, meant: &Frame) -> usize {
    let sums = |frame: &Frame| {
        let zero = [0_u64; 3];
        pixels(frame).fold(zero, |sums, (_, [red, green, blue, _])| {
            [sums[0] + u64::from(red), sums[1] + u64::from(green), sums[2] + u64::from(blue)]
        })
    };
    let (shown, wanted) = (sums(frame), sums(meant));
    let change: Vec<i32> = (0..3)
        .map(|at| match (shown[at], wanted[at]) {
            (0, 1..) => -2,
            // A twentieth is not seen.
            (shown, wanted) if shown * 20 < wanted * 19 => -1,
            (shown, wanted) if shown * 19 > wanted * 20 => 1,
            _ => 0,
        })
        .collect();
    match change.as_slice() {
        all if all.iter().all(|change| *change < 0) => 10,
        all if all.iter().all(|change| *change > 0) => 11,
        // Of one that is gone, one that is less and one that is more the first is said.
        all => [-2, -1, 1]
            .iter()
            .zip([1, 4, 7])
            .find_map(|(wanted, word)| Some(word + all.iter().position(|one| one == wanted)?))
            .unwrap_or(0),
    }
}

/// Whether every shape is in its place: each colour that is meant comes out as one other, wherever it stands.
fn only_colours(frame: &Frame, meant: &Frame) -> bool {
    let shown: BTreeMap<(u32, u32), Rgba> = pixels(frame).collect();
    let mut comes_out: BTreeMap<Rgba, Rgba> = BTreeMap::new();
    pixels(meant)
        .all(|(place, meant)| shown.get(&place).is_none_or(|shown| comes_out.entry(meant).or_insert(*shown) == shown))
}

/// A key as firmware hands it out: scan code and character.
pub fn key_word(name: &str) -> u16 {
    let key = Key::named(name).unwrap();
    u16::from_be_bytes([key.scan_code(), key.character(false, false)])
}
