//! Reading a survey.

use backporch_input::{InputError, Source, number};
use backporch_processor_timing::Model;

use super::{
    Experiments, MemoryProbe, SURVEYED_REGISTERS, Series, SeriesPattern, Survey, SurveyPattern, SurveyedMode,
    TIMED_LINES, TakeOver, Taken, Timed, TimedPattern, Turned,
};
use crate::lines::KeywordLine;

/// Most modes, and most delays of a series.
const MOST_MODES: usize = 64;
const MOST_DELAYS: usize = 256;
/// Most copies and runs.
const MOST_COPIES: u32 = 0xFFFF;
const MOST_RUNS: u32 = 0xFFFF;
/// Most beats of one measurement: the counter has sixteen bits.
const MOST_BEATS: u32 = 0xFFFF;

/// What may stand in a mode.
const KEYWORDS: [&str; 9] = ["time", "delays", "mode", "beam", "registers", "turned", "memory", "planes", "take-over"];

impl Survey {
    /// Reads a survey.
    ///
    /// # Errors
    /// Names the line, the field, what was found and what is allowed, where the file is damaged or says what cannot be.
    pub fn from_source(source: &Source) -> Result<Self, InputError> {
        let lines = KeywordLine::checked(source)?;
        let missing = KeywordLine { number: 1, keyword: "", rest: "" };
        let [form, board, shifts, rest @ ..] = lines.as_slice() else {
            return Err(missing.fault(source, "backporch", "a file of fewer lines", "backporch survey 1"));
        };
        if (form.keyword, form.rest) != ("backporch", "survey 1") {
            let found = format!("{} {}", form.keyword, form.rest);
            return Err(form.fault(source, "backporch", found.trim(), "backporch survey 1"));
        }
        if board.keyword != "board" || board.rest.is_empty() {
            return Err(board.fault(source, "board", board.keyword, "board, and its name"));
        }
        let masks_shifts = match (shifts.keyword, shifts.rest) {
            ("shifts", "whole") => false,
            ("shifts", "masked") => true,
            _ => return Err(shifts.fault(source, "shifts", shifts.rest, "whole or masked")),
        };
        let (processor, rest) = match rest {
            [line, rest @ ..] if line.keyword == "processor" => (Some(later(source, *line, masks_shifts)?), rest),
            rest => (None, rest),
        };
        let [refresh, rest @ ..] = rest else {
            return Err(shifts.fault(source, "refresh", "a file that ends here", "refresh"));
        };
        let mut words = Words::of(source, *refresh);
        if refresh.keyword != "refresh" {
            return Err(refresh.fault(source, "refresh", refresh.keyword, "refresh"));
        }
        words.keyword("most")?;
        let refresh_beats = words.number("most", 255)?;
        words.end()?;
        let mut survey = Self {
            board: board.rest.to_string(),
            masks_shifts,
            processor,
            refresh_beats,
            machine: Experiments::default(),
            modes: Vec::new(),
        };
        for line in rest {
            survey.take(source, *line)?;
        }
        Ok(survey)
    }

    fn take(&mut self, source: &Source, line: KeywordLine<'_>) -> Result<(), InputError> {
        let mut words = Words::of(source, line);
        match (line.keyword, self.modes.last_mut()) {
            ("time", mode) => {
                let name = words.word("name")?;
                let pattern = named::<TimedPattern>(&words, name)?;
                let timed = words.timed()?;
                let all = mode.map_or(&mut self.machine, |mode| &mut mode.experiments);
                once(&words, all.timed.insert(pattern, timed).is_none())?;
            }
            ("delays", mode) => {
                let name = words.word("name")?;
                let pattern = named::<SeriesPattern>(&words, name)?;
                let series = words.series()?;
                let all = mode.map_or(&mut self.machine, |mode| &mut mode.experiments);
                once(&words, all.series.insert(pattern, series).is_none())?;
            }
            ("mode", _) => {
                if self.modes.len() == MOST_MODES {
                    return Err(words.fault("mode", "another mode", format!("at most {MOST_MODES}")));
                }
                let name = words.word("name")?;
                if self.modes.iter().any(|mode| mode.name == name) {
                    return Err(words.fault("mode", format!("{name} again"), "each mode once"));
                }
                self.modes.push(SurveyedMode::of(name));
            }
            ("beam", Some(mode)) => {
                let name = words.word("name")?;
                let most = if name == "marks" { u32::from(u16::MAX) } else { MOST_BEATS };
                let place = match name {
                    "frame" => &mut mode.frame,
                    "retrace" => &mut mode.retrace,
                    "lines" => &mut mode.lines,
                    "marks" => &mut mode.marks,
                    _ => return Err(words.fault("beam", name, "frame, retrace, lines, marks")),
                };
                if words.is_next("unseen") {
                    words.word("unseen")?;
                } else {
                    let taken = words.taken(most)?;
                    once(&words, place.replace(taken).is_none())?;
                }
            }
            ("registers", Some(mode)) => {
                once(&words, mode.registers.is_empty())?;
                for _ in 0..SURVEYED_REGISTERS {
                    mode.registers.push(words.byte("registers")?);
                }
            }
            ("turned", Some(mode)) => {
                let index = words.byte("turned")?;
                if usize::from(index) >= SURVEYED_REGISTERS || mode.turned.iter().any(|one| one.index == index) {
                    let allowed = format!("0..{SURVEYED_REGISTERS}, each once");
                    return Err(words.fault("turned", index, allowed));
                }
                let reads = [words.byte("before")?, words.byte("between")?, words.byte("after")?];
                mode.turned.push(Turned { index, reads });
            }
            ("memory", Some(mode)) => {
                let offset = words.number("memory", 0xFFFF)?;
                if !offset.is_power_of_two() || mode.memory.iter().any(|place| place.offset == offset) {
                    return Err(words.fault("memory", offset, "a power of two, each once"));
                }
                mode.memory.push(MemoryProbe { offset, first: words.byte("first")?, second: words.byte("second")? });
            }
            ("planes", Some(mode)) => {
                once(&words, mode.planes.is_none())?;
                let mut planes = [0; 4];
                for plane in &mut planes {
                    *plane = words.byte("planes")?;
                }
                mode.planes = Some(planes);
            }
            ("take-over", Some(mode)) => {
                if words.is_next("unseen") {
                    words.word("unseen")?;
                } else {
                    let found = words.take_over()?;
                    once(&words, mode.take_over.replace(found).is_none())?;
                }
            }
            ("beam" | "registers" | "turned" | "memory" | "planes" | "take-over", None) => {
                return Err(words.fault(line.keyword, line.keyword, "a line mode before it"));
            }
            (keyword, _) => {
                let error = words.fault("", keyword, KEYWORDS.join(", "));
                return Err(error.with_nearest(keyword, KEYWORDS));
            }
        }
        words.end()
    }
}

fn named<P: SurveyPattern>(words: &Words<'_>, name: &str) -> Result<P, InputError> {
    let names: Vec<&str> = P::ALL.iter().map(|one| one.name()).collect();
    let error = || words.fault(words.line.keyword, name, names.join(", ")).with_nearest(name, names.iter().copied());
    P::named(name).ok_or_else(error)
}

fn once(words: &Words<'_>, first: bool) -> Result<(), InputError> {
    if first { Ok(()) } else { Err(words.fault(words.line.keyword, "a second such line", "one")) }
}

impl SurveyedMode {
    fn of(name: &str) -> Self {
        Self {
            name: name.to_string(),
            frame: None,
            retrace: None,
            lines: None,
            marks: None,
            registers: Vec::new(),
            turned: Vec::new(),
            memory: Vec::new(),
            planes: None,
            take_over: None,
            experiments: Experiments::default(),
        }
    }
}

/// The words of a line behind its keyword, one after the other.
struct Words<'a> {
    source: &'a Source,
    line: KeywordLine<'a>,
    rest: &'a str,
}

impl<'a> Words<'a> {
    fn of(source: &'a Source, line: KeywordLine<'a>) -> Self {
        Self { source, line, rest: line.rest }
    }

    fn fault(&self, field: &str, found: impl std::fmt::Display, allowed: impl std::fmt::Display) -> InputError {
        self.line.fault(self.source, field, found, allowed)
    }

    fn peek(&self) -> &'a str {
        self.rest.split(' ').next().unwrap_or_default()
    }

    fn is_next(&self, word: &str) -> bool {
        self.peek() == word
    }

    fn word(&mut self, field: &str) -> Result<&'a str, InputError> {
        let word = self.peek();
        if word.is_empty() {
            return Err(self.fault(field, "the end of the line", "a word"));
        }
        self.rest = self.rest.get(word.len() + 1..).unwrap_or_default();
        Ok(word)
    }

    fn keyword(&mut self, expected: &str) -> Result<(), InputError> {
        let found = self.word(expected)?;
        if found == expected { Ok(()) } else { Err(self.fault(expected, found, expected)) }
    }

    fn number(&mut self, field: &str, most: u32) -> Result<u32, InputError> {
        let word = self.word(field)?;
        let value = number(word).ok().and_then(|value| u32::try_from(value).ok()).filter(|value| *value <= most);
        value.ok_or_else(|| self.fault(field, word, format!("0..={most}")))
    }

    fn one_or_more(&mut self, field: &str, most: u32) -> Result<u32, InputError> {
        match self.number(field, most)? {
            0 => Err(self.fault(field, 0, format!("1..={most}"))),
            value => Ok(value),
        }
    }

    fn byte(&mut self, field: &str) -> Result<u8, InputError> {
        Ok(self.number(field, 255)? as u8)
    }

    fn taken(&mut self, most: u32) -> Result<Taken, InputError> {
        self.keyword("runs")?;
        let runs = self.one_or_more("runs", MOST_RUNS)?;
        self.keyword("least")?;
        let least = self.number("least", most)?;
        self.keyword("most")?;
        let greatest = self.number("most", most)?;
        self.keyword("total")?;
        let total = self.number("total", u32::MAX)?;
        let bounds = u64::from(least) * u64::from(runs)..=u64::from(greatest) * u64::from(runs);
        if greatest < least {
            return Err(self.fault("most", greatest, format!("{least} or more, as least says")));
        }
        if !bounds.contains(&u64::from(total)) {
            let allowed = format!("{}..={}, as least and most say", bounds.start(), bounds.end());
            return Err(self.fault("total", total, allowed));
        }
        Ok(Taken { runs, least, most: greatest, total })
    }

    fn timed(&mut self) -> Result<Timed, InputError> {
        self.keyword("copies")?;
        let copies = self.one_or_more("copies", MOST_COPIES)?;
        Ok(Timed { copies, beats: self.taken(MOST_BEATS)? })
    }

    fn series(&mut self) -> Result<Series, InputError> {
        self.keyword("copies")?;
        let copies = self.one_or_more("copies", MOST_COPIES)?;
        self.keyword("runs")?;
        self.one_or_more("runs", MOST_RUNS)?;
        self.keyword("least")?;
        let mut least = Vec::new();
        while !self.is_next("spread") {
            if least.len() == MOST_DELAYS {
                return Err(self.fault("least", "another delay", format!("at most {MOST_DELAYS}")));
            }
            least.push(self.number("least", MOST_BEATS)?);
        }
        if least.is_empty() {
            return Err(self.fault("least", "none", "one or more beats"));
        }
        self.keyword("spread")?;
        let spread = self.number("spread", MOST_BEATS)?;
        Ok(Series { copies, least, spread })
    }

    fn take_over(&mut self) -> Result<TakeOver, InputError> {
        self.keyword("taken")?;
        let taken = self.number("taken", MOST_BEATS)?;
        self.keyword("missed")?;
        let missed = self.number("missed", MOST_BEATS)?;
        let some = |beats: u32| (beats != 0).then_some(beats);
        Ok(TakeOver { taken: some(taken), missed: some(missed) })
    }

    fn end(&self) -> Result<(), InputError> {
        let word = self.peek();
        if word.is_empty() { Ok(()) } else { Err(self.fault(self.line.keyword, word, "the end of the line")) }
    }
}

/// The lines that are timed have a number that the program and its reader know.
const _: () = assert!(TIMED_LINES == 128);

/// A processor that masks shifts.
fn later(source: &Source, line: KeywordLine<'_>, masks_shifts: bool) -> Result<Model, InputError> {
    let named = Model::named(line.rest).filter(|model| masks_shifts && model.is_from(Model::P80186));
    let allowed = if masks_shifts { "80186, 80286 or 80386" } else { "nothing: shifts are counted whole" };
    named.ok_or_else(|| line.fault(source, "processor", line.rest, allowed))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const SHORT: &str = "backporch survey 1\r\nboard ega\r\nshifts masked\r\nrefresh most 18\r\ntime nothing copies 1 runs 4 \
        least 12 most 13 total 00000032h\r\ndelays port-byte copies 128 runs 4 least 40 41 42 spread 2\r\nmode 640x350x16\r\n\
        beam frame unseen\r\nbeam lines runs 2 least 9 most 10 total 00000013h\r\nturned 12 0 1 0\r\nmemory 512 165 90\r\ntake-over taken 19500 missed 0\r\n";

    fn checked(text: &str) -> Source {
        Source::built_in("SURVEY.TXT", format!("{text}check {:08X}\r\n", crc32fast::hash(text.as_bytes())))
    }

    #[test]
    fn what_the_program_wrote_is_read() {
        let survey = Survey::from_source(&checked(SHORT)).unwrap();
        assert_eq!((survey.board.as_str(), survey.masks_shifts, survey.refresh_beats), ("ega", true, 18));
        assert_eq!(survey.machine.timed[&TimedPattern::Nothing].beats.mean(), 12.5);
        assert_eq!(survey.machine.series[&SeriesPattern::PortByte].least, [40, 41, 42]);
        let mode = &survey.modes[0];
        assert_eq!((mode.frame, mode.lines.unwrap().spread()), (None, 1));
        assert_eq!(mode.turned, [Turned { index: 12, reads: [0, 1, 0] }]);
        assert_eq!(mode.take_over, Some(TakeOver { taken: Some(19500), missed: None }));
    }

    #[test]
    fn what_cannot_be_is_refused_with_its_place() {
        let cases = [
            ("ega", "ega extra\r\nx", 4, "shifts"),
            ("most 13", "most 11", 5, "most"),
            ("total 00000032h", "total 00000099h", 5, "total"),
            ("port-byte", "port-bite", 6, "delays"),
            ("spread 2", "", 6, "least"),
            ("turned 12", "turned 25", 10, "turned"),
            ("memory 512", "memory 513", 11, "memory"),
            ("165 90", "165 256", 11, "second"),
            ("165 90", "165 90 1", 11, "memory"),
            ("missed 0", "missed 65536", 12, "missed"),
            ("missed 0", "missed 0\r\ntake-over taken 1 missed 2", 13, "take-over"),
        ];
        for (from, to, line, field) in cases {
            let error = Survey::from_source(&checked(&SHORT.replacen(from, to, 1))).unwrap_err();
            let line = if from == "ega" { 3 } else { line };
            assert_eq!((error.line(), error.field()), (Some(line), Some(field)), "{from} to {to}: {error}");
        }
        let later = |text: &str| Survey::from_source(&checked(&SHORT.replacen("shifts masked\r\n", text, 1)));
        assert_eq!(later("shifts masked\r\nprocessor 80386\r\n").unwrap().processor, Some(Model::P80386));
        for text in ["shifts masked\r\nprocessor 8086\r\n", "shifts whole\r\nprocessor 80286\r\n"] {
            let error = later(text).unwrap_err();
            assert_eq!((error.line(), error.field()), (Some(4), Some("processor")), "{error}");
        }
        let damaged = checked(SHORT).text().replacen("90", "91", 1);
        let error = Survey::from_source(&Source::built_in("SURVEY.TXT", damaged)).unwrap_err();
        assert_eq!(error.field(), Some("check"));
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "(backporch survey 1\r\nboard a\r\nshifts whole\r\nrefresh most 1\r\n)?[a-z0-9 \r\n]{0,80}") {
            let _ = Survey::from_source(&checked(&text));
        }
    }
}
