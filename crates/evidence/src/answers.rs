//! The answers of a test session, as its program wrote them: `ANSWERS.TXT`.
//!
//! A line says one thing, a keyword first. After the head come the looks, each with what was set and what was seen; the
//! last line is a check over all others (the cyclic redundancy check of ISO 3309, in hexadecimal), line ends counted
//! as carriage return and line feed.

use std::sync::Arc;

use backporch_analysis::{Conditions, Specimen, WriteMoment};
use backporch_bench::Bench;
use backporch_input::{InputError, Source, TextPosition, number};

use crate::check::SightingError;
use crate::experiment::{Experiment, StepRange};
use crate::lines::KeywordLine;
use crate::session::{MARKS, MOST_LOOKS, SAW, SYMBOLS, SessionLook, TINGES, moment, specimen};
use crate::sightings::Sightings;
use crate::statement::{MoveDirection, Seen, Share, Statement};

/// Longest note of a look, in characters.
const LONGEST_NOTE: usize = 60;

/// The answers of one session.
#[derive(Clone, Debug)]
pub struct Answers {
    source: Source,
    looks: Vec<Answered>,
}

/// An answers file with nothing answered yet: to be filled in by a code.
#[derive(Clone, Debug)]
pub struct BlankAnswers(Answers);

/// The answer to one look.
#[derive(Clone, Debug)]
struct Answered {
    place: TextPosition,
    experiment: Experiment,
    step: u32,
    /// Pixels and lines that a mark counts.
    cell: (u32, u32),
    /// Position in [`SAW`].
    saw: usize,
    flickers: bool,
    /// The lines between the marked ones follow at the distance of the first two.
    regular: bool,
    /// Lines end before they should.
    narrower: bool,
    /// Position in [`TINGES`].
    tinge: usize,
    marks: [Option<u32>; MARKS.len()],
    note: String,
}

impl Answers {
    /// Reads answers to looks at a bench's board; `in_mode` gives the bench in another mode.
    ///
    /// # Errors
    /// Names the line, the field, what was found and what is allowed, where the file is damaged, of another board, or
    /// says what cannot be.
    pub fn from_source(
        source: &Source,
        bench: &Arc<Bench>,
        in_mode: &dyn Fn(&str) -> Result<Arc<Bench>, InputError>,
    ) -> Result<Self, InputError> {
        let reader = Reader { source, bench, in_mode };
        let lines = KeywordLine::checked(source)?;
        let lines = lines.as_slice();
        let lines = reader.headed(lines)?;
        let mut looks = Vec::new();
        let mut rest = lines;
        let mut cards: Vec<(String, Arc<Bench>)> = Vec::new();
        while let Some(first) = rest.first() {
            let expected = format!("look {}", looks.len() + 1);
            if (first.keyword, first.rest) != ("look", (looks.len() + 1).to_string().as_str()) {
                return Err(reader.fault(*first, "look", format!("{} {}", first.keyword, first.rest), expected));
            }
            if looks.len() == MOST_LOOKS {
                return Err(reader.fault(*first, "look", looks.len() + 1, format!("at most {MOST_LOOKS} looks")));
            }
            let len = 1 + rest[1..].iter().take_while(|line| line.keyword != "look").count();
            let (look, others) = rest.split_at(len);
            looks.push(reader.look(look, &mut cards)?);
            rest = others;
        }
        Ok(Self { source: source.clone(), looks })
    }

    /// Adds what was seen to sightings; looks without an answer are left out.
    ///
    /// # Errors
    /// Where an answer cannot be.
    pub fn add_to(&self, sightings: &mut Sightings) -> Result<(), InputError> {
        for (at, look) in self.looks.iter().enumerate().filter(|(_, look)| look.saw != 0) {
            let added = sightings.add(&look.experiment, StepRange::one(look.step), look.seen());
            added.map_err(|error| {
                let field = if matches!(error, SightingError::Step { .. }) { "step" } else { "saw" };
                InputError::new(self.source.name(), error.found(), error.allowed())
                    .at(look.place)
                    .in_field(format!("look {}.{field}", at + 1))
            })?;
        }
        Ok(())
    }

    /// What was asked, look by look, answered or not.
    pub fn asked_looks(&self) -> impl Iterator<Item = SessionLook> + '_ {
        self.looks.iter().map(|look| SessionLook { experiment: look.experiment.clone(), step: look.step })
    }

    /// Looks, answered or not.
    #[must_use]
    pub fn len(&self) -> usize {
        self.looks.len()
    }

    /// Whether there is no look.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.looks.is_empty()
    }

    /// The notes that were typed, each with where it was: `look 3: …`.
    pub fn notes(&self) -> impl Iterator<Item = String> + '_ {
        let noted = self.looks.iter().enumerate().filter(|(_, look)| !look.note.is_empty());
        noted.map(|(at, look)| format!("look {}: {}", at + 1, look.note))
    }
}

impl BlankAnswers {
    /// A sheet read as answers.
    #[must_use]
    pub fn new(answers: Answers) -> Self {
        Self(answers)
    }

    /// Fills a sheet in by the code that a session's program has shown.
    ///
    /// # Errors
    /// Where the code has a symbol too many or too few, one that is none, or fails its check.
    pub fn filled_in(self, code: &str) -> Result<Answers, InputError> {
        let Self(mut answers) = self;
        let wrong = |found: String, allowed: &str| InputError::new("--code", found, allowed);
        let mut values = Vec::new();
        for symbol in code.bytes().filter(|symbol| !symbol.is_ascii_whitespace() && *symbol != b'-') {
            let symbol = match symbol.to_ascii_uppercase() {
                b'O' => b'0',
                b'I' | b'L' => b'1',
                other => other,
            };
            let value = SYMBOLS.iter().position(|known| *known == symbol);
            let allowed = "digits and letters without I, L, O and U";
            values.push(value.ok_or_else(|| wrong(char::from(symbol).to_string(), allowed))? as u8);
        }
        let tail = values.split_off(values.len().saturating_sub(4));
        let found = tail.iter().fold(0, |all, value| all << 5 | u32::from(*value));
        let id = crc32fast::hash(answers.asked().as_bytes()).to_le_bytes();
        let check = crc32fast::hash(&[id.as_slice(), &values].concat()) & 0xF_FFFF;
        if tail.len() < 4 || found != check {
            let found = format!("{} symbols that fail their check", values.len() + tail.len());
            return Err(wrong(found, "the code that the session of this sheet has shown, whole"));
        }
        let mut values = values.into_iter();
        let short = || wrong("a code that ends early".to_string(), "four symbols a look, and two a mark");
        for (at, look) in answers.looks.iter_mut().enumerate() {
            let mut next = || values.next().map(u32::from).ok_or_else(short);
            let (saw, marked, moved, tinge) = (next()?, next()?, next()?, next()?);
            look.saw = (saw & 15) as usize;
            if look.saw >= SAW.len() {
                return Err(wrong(format!("answer {} of look {}", look.saw, at + 1), "0 to 9"));
            }
            look.flickers = saw & 16 != 0;
            look.regular = moved & 16 != 0;
            look.narrower = tinge & 16 != 0;
            look.tinge = (tinge & 15) as usize;
            if look.tinge >= TINGES.len() {
                return Err(wrong(format!("colour {} of look {}", look.tinge, at + 1), "0 to 11"));
            }
            let marked = marked | (moved & 15) << 5;
            for (bit, mark) in look.marks.iter_mut().enumerate() {
                *mark = if marked >> bit & 1 != 0 { Some(next()? << 5 | next()?) } else { None };
            }
            look.check().map_err(|(field, found, allowed)| {
                wrong(found, &allowed).in_field(format!("look {}.{field}", at + 1))
            })?;
        }
        if values.next().is_some() {
            return Err(wrong("symbols beyond the last look".to_string(), "the code of this sheet's session"));
        }
        Ok(answers)
    }
}

impl Answers {
    /// Head and looks as the sheet has them, without answers.
    fn asked(&self) -> String {
        let lines = self.source.text().lines().map(str::trim_end).filter(|line| !line.is_empty());
        let asked = lines.filter(|line| !line.starts_with("saw ") && !line.starts_with("check "));
        asked.map(|line| format!("{line}\r\n")).collect()
    }
}

/// Marks that are of lines; the others are of columns.
const MARKS_OF_LINES: [&str; 5] = ["top", "second", "bottom", "from-line", "to-line"];

/// A value that cannot be: field, found, allowed.
type Wrong = (&'static str, String, String);

impl Answered {
    /// Whether the marks lie in the frame and in order.
    fn check(&self) -> Result<(), Wrong> {
        let (width, height) = self.experiment.setup(self.step).size();
        let (columns, rows) = (width.div_ceil(self.cell.0.max(1)), height.div_ceil(self.cell.1.max(1)));
        for (at, mark) in self.marks.iter().enumerate() {
            let end = if MARKS_OF_LINES.contains(&MARKS[at]) { rows } else { columns };
            if let Some(mark) = mark.filter(|mark| *mark >= end) {
                return Err((MARKS[at], mark.to_string(), format!("0..={}", end.saturating_sub(1))));
            }
        }
        let [top, second, bottom, left, right, ..] = self.marks;
        let ordered = |field, one: Option<u32>, other: Option<u32>, apart: u32| match (one, other) {
            (Some(one), Some(other)) if one + apart > other => {
                Err((field, other.to_string(), format!("{} or more", one + apart)))
            }
            _ => Ok(()),
        };
        ordered("second", top, second, 1)?;
        ordered("bottom", top, bottom, 0)?;
        ordered("bottom", second, bottom, 0)?;
        ordered("right", left, right, 0)?;
        let marked = self.marks.iter().any(Option::is_some);
        let more = [
            (marked, "marks"),
            (self.flickers, "flickers"),
            (self.regular, "regular"),
            (self.narrower, "narrower"),
            (self.tinge != 0, "colours"),
        ];
        if let Some((_, also)) = more.iter().find(|(is, _)| SAW[self.saw] == "clean" && *is) {
            return Err(("saw", format!("clean, and {also}"), "one of them".to_string()));
        }
        Ok(())
    }

    /// The answer as a sighting says it.
    fn seen(&self) -> Seen {
        let mut said = match SAW[self.saw] {
            "clean" => vec![Statement::Clean],
            "edge" => vec![Statement::EdgeDamaged],
            "broken" => vec![Statement::Broken],
            "colours" => vec![Statement::WrongColours],
            "elsewhere" => vec![Statement::Displaced],
            "specks" => vec![Statement::Specks],
            "no-picture" => vec![Statement::NoPicture],
            "damaged" => vec![Statement::Damaged],
            _ => Vec::new(),
        };
        said.extend(if self.cell == (1, 1) { self.exact() } else { self.by_cells() });
        said.extend(TINGES[self.tinge].1.map(Statement::Tinged));
        said.extend(self.narrower.then_some(Statement::Narrower));
        said.extend(self.flickers.then_some(Statement::Flickers));
        if said.is_empty() { Seen::Nothing { looked: self.saw != 0 } } else { Seen::Said(Share::Each, said) }
    }

    fn exact(&self) -> Vec<Statement> {
        let [top, second, bottom, left, right, ..] = self.marks;
        let mut said = Vec::new();
        said.extend(top.map(Statement::UppermostLine));
        said.extend(second.map(Statement::SecondLine));
        if let (true, Some(top), Some(second)) = (self.regular, top, second) {
            let period = second - top;
            said.push(Statement::Every { period, first: Some(top % period) });
        }
        said.extend(bottom.map(Statement::LowermostLine));
        said.extend(left.map(Statement::LeftmostPixel));
        said.extend(right.map(Statement::RightmostPixel));
        said.extend(self.moved());
        said
    }

    /// Where content has moved to, counted on from line to line: at most half a line to either side.
    fn moved(&self) -> Vec<Statement> {
        let [.., Some(column), Some(line), Some(to_column), Some(to_line)] = self.marks else { return Vec::new() };
        let pitch = i64::from(self.experiment.setup(self.step).by_design().pitch.max(1));
        let along = i64::from(to_column) - i64::from(column) + (i64::from(to_line) - i64::from(line)) * pitch;
        let down = (along + along.signum() * (pitch / 2)) / pitch;
        let right = along - down * pitch;
        let mut said = Vec::new();
        for (by, [back, forth]) in
            [(right, [MoveDirection::Left, MoveDirection::Right]), (down, [MoveDirection::Up, MoveDirection::Down])]
        {
            if by != 0 {
                said.push(Statement::Shifted(if by < 0 { back } else { forth }, by.unsigned_abs() as u32));
            }
        }
        said
    }

    /// Marks on rows and columns of text tell parts of the picture.
    fn by_cells(&self) -> Vec<Statement> {
        let [top, _, bottom, left, right, ..] = self.marks;
        let (width, height) = self.experiment.setup(self.step).size();
        let (across, down) = self.cell;
        let mut said = Vec::new();
        match (left.map(|left| left * across), right.map(|right| (right + 1) * across)) {
            (Some(left), _) if left >= width / 2 => said.push(Statement::Right),
            (_, Some(right)) if right <= width / 2 => said.push(Statement::Left),
            _ => {}
        }
        match (top.map(|top| top * down), bottom.map(|bottom| (bottom + 1) * down)) {
            (Some(top), _) if top >= height / 2 => said.push(Statement::Bottom),
            (_, Some(bottom)) if bottom <= height / 2 => said.push(Statement::Top),
            _ => {}
        }
        said
    }
}

struct Reader<'a> {
    source: &'a Source,
    bench: &'a Arc<Bench>,
    in_mode: &'a dyn Fn(&str) -> Result<Arc<Bench>, InputError>,
}

impl Reader<'_> {
    fn fault(
        &self,
        line: KeywordLine<'_>,
        field: impl AsRef<str>,
        found: impl std::fmt::Display,
        allowed: impl std::fmt::Display,
    ) -> InputError {
        line.fault(self.source, field, found, allowed)
    }

    /// The lines after the head, which is one of this form and of this board.
    fn headed<'l, 's>(&self, lines: &'l [KeywordLine<'s>]) -> Result<&'l [KeywordLine<'s>], InputError> {
        let missing = KeywordLine { number: 1, keyword: "", rest: "" };
        let [form, bench, board, rest @ ..] = lines else {
            return Err(self.fault(missing, "backporch", "a file of fewer lines", "backporch answers 1"));
        };
        if (form.keyword, form.rest) != ("backporch", "answers 1") {
            let found = format!("{} {}", form.keyword, form.rest);
            return Err(self.fault(*form, "backporch", found.trim(), "backporch answers 1"));
        }
        if bench.keyword != "bench" {
            return Err(self.fault(*bench, "bench", bench.keyword, "bench"));
        }
        let name = self.bench.adapter().name();
        if (board.keyword, board.rest) != ("board", name) {
            return Err(self.fault(*board, "board", board.rest, format!("{name}, the board of the bench")));
        }
        Ok(rest)
    }

    fn look(&self, lines: &[KeywordLine<'_>], cards: &mut Vec<(String, Arc<Bench>)>) -> Result<Answered, InputError> {
        let first = lines[0];
        let title = format!("look {}", first.rest);
        let field = |name: &str| format!("{title}.{name}");
        let known = |keyword: &str| lines.iter().find(|line| line.keyword == keyword).copied();
        let needed = |keyword: &str| {
            known(keyword).ok_or_else(|| self.fault(first, field(keyword), "no such line", format!("a line {keyword}")))
        };
        for (at, line) in lines.iter().enumerate() {
            let once = [
                "title", "mode", "specimen", "moment", "over", "step", "cell", "saw", "flickers", "regular",
                "narrower", "tinge", "note",
            ];
            if line.keyword != "set" && lines[..at].iter().any(|before| before.keyword == line.keyword) {
                return Err(self.fault(*line, field(line.keyword), "a second such line", "one"));
            }
            if at > 0 && line.keyword != "set" && !once.contains(&line.keyword) && !MARKS.contains(&line.keyword) {
                let keywords = once.iter().chain(&MARKS).chain(&["set"]).copied();
                let allowed = keywords.clone().collect::<Vec<_>>().join(", ");
                return Err(self.fault(*line, &title, line.keyword, allowed).with_nearest(line.keyword, keywords));
            }
        }
        let mode = needed("mode")?;
        let bench = match cards.iter().find(|(known, _)| known == mode.rest) {
            Some((_, card)) => Arc::clone(card),
            None => {
                let bench = if mode.rest == self.bench.mode().name {
                    Arc::clone(self.bench)
                } else {
                    (self.in_mode)(mode.rest)
                        .map_err(|error| self.fault(mode, field("mode"), error.found(), error.allowed()))?
                };
                let card = Arc::new(bench.with_test_card());
                cards.push((mode.rest.to_string(), Arc::clone(&card)));
                card
            }
        };
        let register = |line: KeywordLine<'_>, name: &str, of: &str| {
            bench.field(name).map_err(|error| self.fault(line, field(of), error.found(), error.allowed()))
        };
        let value = |line: KeywordLine<'_>, of: &str, text: &str, max: u32| -> Result<u32, InputError> {
            let value = number(text.trim()).ok().and_then(|value| u32::try_from(value).ok());
            let value = value.filter(|value| *value <= max);
            value.ok_or_else(|| self.fault(line, field(of), text, format!("0..={max}")))
        };
        let over = needed("over")?;
        let over = register(over, over.rest, "over")?;
        let max = |field| bench.adapter().field_info(field).max();
        let step = needed("step")?;
        let step = value(step, "step", step.rest, max(over))?;
        let mut settings = Vec::new();
        for line in lines.iter().filter(|line| line.keyword == "set") {
            let (name, text) = line.rest.split_once(' ').unwrap_or((line.rest, ""));
            let register = register(*line, name, "set")?;
            settings.push((register, value(*line, &format!("set.{name}"), text, max(register))?));
        }
        let one_of = |keyword: &str, known: &[&'static str]| -> Result<usize, InputError> {
            let line = needed(keyword)?;
            let found = known.iter().position(|word| *word == line.rest);
            found.ok_or_else(|| self.fault(line, field(keyword), line.rest, known.join(", ")))
        };
        let specimens = [Specimen::Suspected, Specimen::Another];
        let moments = [WriteMoment::ActiveArea, WriteMoment::Retrace];
        let conditions = Conditions {
            specimen: specimens[one_of("specimen", &specimens.map(specimen))?],
            moment: moments[one_of("moment", &moments.map(moment))?],
            ..Conditions::default()
        };
        let cell = match known("cell") {
            None => (1, 1),
            Some(line) => {
                let (across, down) = line.rest.split_once(' ').unwrap_or((line.rest, ""));
                (value(line, "cell", across, 64)?.max(1), value(line, "cell", down, 64)?.max(1))
            }
        };
        let mut marks = [None; MARKS.len()];
        for (mark, keyword) in marks.iter_mut().zip(MARKS) {
            *mark = known(keyword).map(|line| value(line, keyword, line.rest, 1023)).transpose()?;
        }
        let tinge = match known("tinge") {
            None => 0,
            Some(line) => {
                let written = &TINGES[1..];
                let found = written.iter().position(|(word, _)| *word == line.rest);
                let allowed = || written.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", ");
                found.ok_or_else(|| self.fault(line, field("tinge"), line.rest, allowed()))? + 1
            }
        };
        let note: String = known("note").map_or("", |line| line.rest).chars().take(LONGEST_NOTE).collect();
        let title = known("title").map_or("", |line| line.rest).to_string();
        let answered = Answered {
            place: TextPosition { line: first.number, column: 1 },
            experiment: Experiment { title, bench: Arc::clone(&bench), settings, over, conditions },
            step,
            cell,
            saw: one_of("saw", &SAW)?,
            flickers: known("flickers").is_some(),
            regular: known("regular").is_some(),
            narrower: known("narrower").is_some(),
            tinge,
            marks,
            note,
        };
        answered
            .check()
            .map_err(|(name, found, allowed)| self.fault(known(name).unwrap_or(first), field(name), found, allowed))?;
        Ok(answered)
    }
}
