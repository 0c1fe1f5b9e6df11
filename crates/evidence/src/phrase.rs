//! Plain words to statements: `damaged at the right on every fourth line`.
//!
//! Words that only join are passed over, so that a sighting may be written as
//! one would say it. What is left must be phrases of the table in the guide.

use std::collections::BTreeSet;

use crate::measured::MeasuredLines;
use crate::statement::{MoveDirection, ORDINALS, Primary, Seen, Share, Statement, Tinge};

/// Words that join phrases and say nothing themselves.
const JOINING: &[&str] = &[
    "a", "an", "and", "are", "at", "but", "by", "frame", "frames", "in", "is", "it", "of", "on", "only", "step",
    "steps", "the", "to", "was", "were", "with",
];

/// The phrases there are, for messages.
pub(crate) const PHRASES: &str = "clean, damaged, edge-damaged, broken, all of it, every fourth line (from 3), few lines, some lines, \
     most lines, lines 3 7 11, line 7 for example, 50 lines, on the right, on the left, at the right edge, at the left edge, across, at the top, at the bottom, pixels 318 to 319, \
     uppermost line 3, second bad line 7, lowermost line 199, leftmost pixel 318, rightmost pixel 319, \
     shifted by 2, shifted right by 8, shifted down by 1, a line lower, shifted by half a line, displaced, narrower, \
     wrong colours, red missing, too red, too little red, too dark, too bright, specks, no picture, flickers, differs between runs; before them mostly, several frames, now and then, now and then (10 %) or no frame, from step 4 on; or could not tell, \
     not looked at, clean again at step 32, repeats every 32 steps, does the same (another specimen), measured 99909990 (a digit a line)";

/// A phrase that is not understood: the words from there on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Unknown(pub String);

/// Reads what was seen.
pub(crate) fn read(text: &str) -> Result<Seen, Unknown> {
    // Kept apart from `all lines`, which may follow it.
    let mut lower = text.to_lowercase();
    for (phrase, word) in WHOLE {
        lower = lower.replace(phrase, word);
    }
    let words: Vec<&str> = lower
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '.' | '(' | ')'))
        .filter(|word| !word.is_empty() && !JOINING.contains(word))
        .collect();
    match words.as_slice() {
        ["could" | "can", "not", "tell"] | ["cannot", "tell"] => Ok(Seen::Nothing { looked: true }),
        ["not", "looked"] => Ok(Seen::Nothing { looked: false }),
        ["first", "clean" | "fine", "again", step] | ["clean" | "fine", "again", step] => {
            number(step).map(Seen::CleanAgainAt)
        }
        ["from", step, rest @ ..] => {
            let step = number(step)?;
            Ok(Seen::FromStep(step, statements(rest)?))
        }
        ["repeats", "every", steps] => number(steps).map(Seen::RepeatsEvery),
        ["mostly", rest @ ..] => said(Share::Most, rest),
        ["most", rest @ ..] if rest.first() != Some(&"lines") => said(Share::Most, rest),
        ["several", rest @ ..] => said(Share::Several, rest),
        ["now", "then", percent, "%", rest @ ..] => share(percent, rest),
        ["now", "then", percent, rest @ ..] if percent.ends_with('%') => share(percent.trim_end_matches('%'), rest),
        ["now", "then", rest @ ..] | [rest @ .., "now", "then"] => said(Share::NowAndThen, rest),
        ["does" | "shows" | "looks", "same"] | ["same"] => Ok(Seen::SameAsSuspected),
        ["measured", lines] => {
            let unknown = || Unknown((*lines).to_string());
            MeasuredLines::parse(lines).map(Seen::Measured).ok_or_else(unknown)
        }
        ["never", rest @ ..] => said(Share::NoFrame, rest),
        ["no", rest @ ..] if rest.first() != Some(&"picture") => said(Share::NoFrame, rest),
        words => said(Share::Each, words),
    }
}

/// Phrases whose words would be taken apart.
const WHOLE: [(&str, &str); 6] = [
    ("all of it", "everything"),
    ("to the right", "rightwards"),
    ("to the left", "leftwards"),
    ("half a line", "half-line"),
    ("for example", "for-example"),
    ("for instance", "for-example"),
];

fn share(percent: &str, words: &[&str]) -> Result<Seen, Unknown> {
    let percent = number(percent)?;
    let share = u8::try_from(percent).ok().filter(|percent| (1..=99).contains(percent));
    said(Share::About(share.ok_or_else(|| Unknown(format!("{percent} %")))?), words)
}

fn said(share: Share, words: &[&str]) -> Result<Seen, Unknown> {
    Ok(Seen::Said(share, statements(words)?))
}

fn statements(words: &[&str]) -> Result<Vec<Statement>, Unknown> {
    let mut statements = Vec::new();
    let mut left = words;
    while !left.is_empty() {
        let (statement, rest) = phrase(left)?;
        if !statements.contains(&statement) {
            statements.push(statement);
        }
        left = rest;
    }
    if statements.is_empty() { Err(Unknown("nothing".to_string())) } else { Ok(statements) }
}

/// The first phrase and the words after it.
fn phrase<'a, 'w>(words: &'w [&'a str]) -> Result<(Statement, &'w [&'a str]), Unknown> {
    let unknown = || Unknown(words.join(" "));
    Ok(match words {
        ["clean" | "fine", rest @ ..] => (Statement::Clean, rest),
        ["damaged", rest @ ..] => (Statement::Damaged, rest),
        ["edge-damaged", rest @ ..] => (Statement::EdgeDamaged, rest),
        ["broken", rest @ ..] => (Statement::Broken, rest),
        ["every" | "all", "line" | "lines", rest @ ..] => (Statement::Every { period: 1, first: None }, rest),
        ["every", period, "line" | "lines", rest @ ..] => every(ordinal(period).ok_or_else(unknown)?, rest)?,
        ["everything", rest @ ..] => (Statement::AllOfIt, rest),
        ["few", "lines", rest @ ..] => (Statement::FewLines, rest),
        ["some", "lines", rest @ ..] => (Statement::SomeLines, rest),
        ["most", "lines", rest @ ..] => (Statement::MostLines, rest),
        ["half-line", "rightwards" | "leftwards", rest @ ..] => (Statement::ShiftedHalfLine, rest),
        ["line", way @ ("lower" | "higher"), rest @ ..] => (vertical(way, 1), rest),
        [lines, "lines" | "line", way @ ("lower" | "higher"), rest @ ..] => (vertical(way, number(lines)?), rest),
        ["for-example", "lines" | "line", rest @ ..] => {
            let (lines, rest) = list(rest).ok_or_else(unknown)?;
            (Statement::Examples(lines), rest)
        }
        ["lines" | "line", rest @ ..] => {
            let (lines, rest) = list(rest).ok_or_else(unknown)?;
            match rest.strip_prefix(&["for-example"]) {
                Some(rest) => (Statement::Examples(lines), rest),
                None => (Statement::Lines(lines), rest),
            }
        }
        ["uppermost", "line", line, rest @ ..] => (Statement::UppermostLine(number(line)?), rest),
        ["second", "bad", "line", line, rest @ ..] => (Statement::SecondLine(number(line)?), rest),
        ["lowermost", "line", line, rest @ ..] => (Statement::LowermostLine(number(line)?), rest),
        ["leftmost", "pixel", pixel, rest @ ..] => (Statement::LeftmostPixel(number(pixel)?), rest),
        ["rightmost", "pixel", pixel, rest @ ..] => (Statement::RightmostPixel(number(pixel)?), rest),
        ["right", "edge", rest @ ..] => (Statement::RightEdge, rest),
        ["left", "edge", rest @ ..] => (Statement::LeftEdge, rest),
        ["top", rest @ ..] => (Statement::Top, rest),
        ["bottom", rest @ ..] => (Statement::Bottom, rest),
        ["specks", rest @ ..] => (Statement::Specks, rest),
        ["right" | "rightwards", rest @ ..] => (Statement::Right, rest),
        ["left" | "leftwards", rest @ ..] => (Statement::Left, rest),
        ["across", rest @ ..] => (Statement::Across, rest),
        ["pixels" | "pixel", from, to, rest @ ..] if number(to).is_ok() => {
            let (from, to) = (number(from)?, number(to)?);
            (Statement::Pixels(from.min(to), from.max(to)), rest)
        }
        ["shifted", "half-line", "rightwards" | "leftwards", rest @ ..] => (Statement::ShiftedHalfLine, rest),
        ["shifted", "half-line", rest @ ..] => (Statement::ShiftedHalfLine, rest),
        ["shifted", way @ ("left" | "right" | "leftwards" | "rightwards" | "up" | "down"), by, rest @ ..] => {
            let way = match *way {
                "left" | "leftwards" => MoveDirection::Left,
                "right" | "rightwards" => MoveDirection::Right,
                "up" => MoveDirection::Up,
                _ => MoveDirection::Down,
            };
            let units: &[&str] = if way.is_sideways() { &["pixels", "pixel"] } else { &["lines", "line"] };
            (Statement::Shifted(way, number(by)?), without_unit(rest, units))
        }
        ["shifted", pixels, rest @ ..] => match without_unit(rest, &["pixels", "pixel"]) {
            ["rightwards", rest @ ..] => (Statement::Shifted(MoveDirection::Right, number(pixels)?), rest),
            ["leftwards", rest @ ..] => (Statement::Shifted(MoveDirection::Left, number(pixels)?), rest),
            rest => (Statement::ShiftedBy(number(pixels)?), rest),
        },
        ["displaced", rest @ ..] => (Statement::Displaced, rest),
        ["narrower" | "narrow", rest @ ..] => (Statement::Narrower, rest),
        ["wrong", "colours", rest @ ..] => (Statement::WrongColours, rest),
        ["too", "dark", rest @ ..] => (Statement::Tinged(Tinge::TooDark), rest),
        ["too", "bright", rest @ ..] => (Statement::Tinged(Tinge::TooBright), rest),
        ["too", "little", colour, rest @ ..] => (Statement::Tinged(Tinge::TooLittle(primary(colour)?)), rest),
        ["too", colour, rest @ ..] => (Statement::Tinged(Tinge::TooMuch(primary(colour)?)), rest),
        [colour, "missing", rest @ ..] => (Statement::Tinged(Tinge::Missing(primary(colour)?)), rest),
        ["differs", "between", "runs", rest @ ..] => (Statement::DiffersBetweenRuns, rest),
        ["no", "picture", rest @ ..] => (Statement::NoPicture, rest),
        ["flickers", rest @ ..] => (Statement::Flickers, rest),
        [count, "lines", rest @ ..] => (Statement::Count(number(count).map_err(|_| unknown())?), rest),
        _ => return Err(unknown()),
    })
}

fn primary(word: &str) -> Result<Primary, Unknown> {
    Primary::ALL.into_iter().find(|primary| primary.name() == word).ok_or_else(|| Unknown(word.to_string()))
}

fn vertical(way: &str, lines: u32) -> Statement {
    Statement::Shifted(if way == "lower" { MoveDirection::Down } else { MoveDirection::Up }, lines)
}

/// Numbers, rising, and what comes after them; `None` where there are none.
fn list<'a, 'w>(words: &'w [&'a str]) -> Option<(Vec<u32>, &'w [&'a str])> {
    let numbers: Vec<u32> = words.iter().map_while(|word| number(word).ok()).collect();
    let (_, rest) = words.split_at(numbers.len());
    let lines: Vec<u32> = BTreeSet::from_iter(numbers).into_iter().collect();
    (!lines.is_empty()).then_some((lines, rest))
}

/// What comes after a unit, unless that begins the next phrase: `shifted by 2, pixels 0 to 9`.
fn without_unit<'a, 'w>(words: &'w [&'a str], units: &[&str]) -> &'w [&'a str] {
    match words {
        [unit, next, ..] if units.contains(unit) && number(next).is_ok() => words,
        [unit, rest @ ..] if units.contains(unit) => rest,
        _ => words,
    }
}

/// `every fourth line`, where it goes on `from 3` or `from line 3` with that.
fn every<'a, 'w>(period: u32, rest: &'w [&'a str]) -> Result<(Statement, &'w [&'a str]), Unknown> {
    let (first, rest) = match rest {
        ["from", "line", first, rest @ ..] | ["from", first, rest @ ..] => (Some(number(first)?), rest),
        rest => (None, rest),
    };
    Ok((Statement::Every { period, first }, rest))
}

fn ordinal(word: &str) -> Option<u32> {
    if let Some(at) = ORDINALS.iter().position(|known| *known == word) {
        return Some(at as u32 + 2);
    }
    let digits = ["st", "nd", "rd", "th"].into_iter().find_map(|ending| word.strip_suffix(ending)).unwrap_or(word);
    number(digits).ok().filter(|period| *period > 0)
}

fn number(word: &str) -> Result<u32, Unknown> {
    let value = backporch_input::number(word).ok();
    value.and_then(|value| u32::try_from(value).ok()).ok_or_else(|| Unknown(word.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(statements: impl Into<Vec<Statement>>) -> Result<Seen, Unknown> {
        Ok(Seen::Said(Share::Each, statements.into()))
    }

    #[test]
    fn a_sighting_reads_as_one_would_say_it() {
        let fourth = Statement::Every { period: 4, first: None };
        assert_eq!(read("clean"), of([Statement::Clean]));
        assert_eq!(
            read("damaged at the right on every fourth line"),
            of([Statement::Damaged, Statement::Right, fourth.clone()])
        );
        assert_eq!(read("Every 4th line."), of([fourth]));
        assert_eq!(read("every fourth line from line 3"), of([Statement::Every { period: 4, first: Some(3) }]));
        assert_eq!(read("all of it"), of([Statement::AllOfIt]));
        assert_eq!(read("shifted by 2 pixels"), of([Statement::ShiftedBy(2)]));
        assert_eq!(read("50 lines, pixels 318 to 319"), of([Statement::Count(50), Statement::Pixels(318, 319)]));
        assert_eq!(read("lines 11, 3 and 7"), of([Statement::Lines(vec![3, 7, 11])]));
        assert_eq!(read("line 7 for example"), of([Statement::Examples(vec![7])]));
        assert_eq!(read("for example lines 3 and 12"), of([Statement::Examples(vec![3, 12])]));
        assert_eq!(read("shifted by 8 pixels to the right"), of([Statement::Shifted(MoveDirection::Right, 8)]));
        assert_eq!(read("shifted left by 2"), of([Statement::Shifted(MoveDirection::Left, 2)]));
        assert_eq!(read("a line lower"), of([Statement::Shifted(MoveDirection::Down, 1)]));
        assert_eq!(read("2 lines higher"), of([Statement::Shifted(MoveDirection::Up, 2)]));
        assert_eq!(read("shifted by half a line"), of([Statement::ShiftedHalfLine]));
        assert_eq!(read("from step 4 on broken"), Ok(Seen::FromStep(4, vec![Statement::Broken])));
        let share = |percent| Ok(Seen::Said(Share::About(percent), vec![Statement::Broken]));
        assert_eq!(read("now and then (10 %) broken"), share(10));
        assert_eq!(read("now and then 25% broken"), share(25));
        assert_eq!(read("could not tell"), Ok(Seen::Nothing { looked: true }));
        assert_eq!(read("not looked at"), Ok(Seen::Nothing { looked: false }));
        assert_eq!(read("several frames fine"), Ok(Seen::Said(Share::Several, vec![Statement::Clean])));
        assert_eq!(read("first clean again at step 32"), Ok(Seen::CleanAgainAt(32)));
        assert_eq!(read("repeats every 32 steps"), Ok(Seen::RepeatsEvery(32)));
        assert_eq!(read("flickers now and then"), Ok(Seen::Said(Share::NowAndThen, vec![Statement::Flickers])));
        assert_eq!(read("does the same"), Ok(Seen::SameAsSuspected));
        assert_eq!(read("no picture"), of([Statement::NoPicture]));
        assert_eq!(read("most lines"), of([Statement::MostLines]));
        assert_eq!(read("mostly broken"), Ok(Seen::Said(Share::Most, vec![Statement::Broken])));
    }

    /// Every phrase of the table in the guide is one.
    #[test]
    fn the_published_table_is_understood() {
        let guide = include_str!("../../../docs/diagnose.md");
        let rows = guide.lines().skip_while(|line| !line.starts_with("| phrase |")).skip(2);
        let mut phrases = 0;
        for row in rows.take_while(|line| line.starts_with('|')) {
            let cell = row.split('|').nth(1).unwrap_or_default();
            for phrase in cell.split('`').skip(1).step_by(2) {
                assert!(read(phrase).is_ok(), "{phrase}: {:?}", read(phrase));
                phrases += 1;
            }
        }
        assert!(phrases > 30, "{phrases}");
    }

    #[test]
    fn what_is_not_understood_is_named() {
        let unknown = |text: &str| read(text).unwrap_err().0;
        assert_eq!(unknown("damaged and wobbly"), "wobbly");
        assert_eq!(unknown(""), "nothing");
        assert_eq!(unknown("every zeroth line"), "every zeroth line");
        assert_eq!(unknown("clean again at noon"), "noon");
        assert_eq!(unknown("shifted by -2"), "-2");
    }

    fn statement() -> impl Strategy<Value = Statement> {
        prop_oneof![
            Just(Statement::Clean),
            Just(Statement::Damaged),
            Just(Statement::EdgeDamaged),
            Just(Statement::Broken),
            Just(Statement::AllOfIt),
            (2..300_u32, proptest::option::of(0..300_u32))
                .prop_map(|(period, first)| Statement::Every { period, first }),
            Just(Statement::Every { period: 1, first: None }),
            Just(Statement::FewLines),
            Just(Statement::SomeLines),
            Just(Statement::MostLines),
            proptest::collection::btree_set(0..500_u32, 1..6)
                .prop_map(|lines| Statement::Lines(lines.into_iter().collect())),
            (0..500_u32).prop_map(Statement::Count),
            Just(Statement::Right),
            Just(Statement::Left),
            Just(Statement::RightEdge),
            Just(Statement::LeftEdge),
            Just(Statement::Across),
            Just(Statement::Top),
            Just(Statement::Bottom),
            Just(Statement::Specks),
            (0..320_u32, 0..320_u32).prop_map(|(from, to)| Statement::Pixels(from.min(to), from.max(to))),
            (0..320_u32).prop_map(Statement::ShiftedBy),
            (0..320_u32).prop_map(Statement::UppermostLine),
            (0..320_u32).prop_map(Statement::SecondLine),
            (0..320_u32).prop_map(Statement::LowermostLine),
            (0..320_u32).prop_map(Statement::LeftmostPixel),
            (0..320_u32).prop_map(Statement::RightmostPixel),
            (
                prop_oneof![
                    Just(MoveDirection::Left),
                    Just(MoveDirection::Right),
                    Just(MoveDirection::Up),
                    Just(MoveDirection::Down)
                ],
                1..200_u32
            )
                .prop_map(|(way, by)| Statement::Shifted(way, by)),
            Just(Statement::ShiftedHalfLine),
            proptest::collection::btree_set(0..500_u32, 1..6)
                .prop_map(|lines| Statement::Examples(lines.into_iter().collect())),
            Just(Statement::Displaced),
            Just(Statement::Narrower),
            Just(Statement::WrongColours),
            proptest::sample::select(Primary::ALL.to_vec()).prop_flat_map(|primary| {
                proptest::sample::select(vec![
                    Tinge::Missing(primary),
                    Tinge::TooLittle(primary),
                    Tinge::TooMuch(primary),
                    Tinge::TooDark,
                    Tinge::TooBright,
                ])
                .prop_map(Statement::Tinged)
            }),
            Just(Statement::DiffersBetweenRuns),
            Just(Statement::NoPicture),
            Just(Statement::Flickers),
        ]
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(
            share in prop_oneof![Just(Share::Each), (1..100_u8).prop_map(Share::About), Just(Share::Most), Just(Share::Several), Just(Share::NowAndThen), Just(Share::NoFrame)],
            statements in proptest::collection::vec(statement(), 1..4),
        ) {
            let mut statements = statements;
            let mut unique = Vec::new();
            statements.retain(|one| { let new = !unique.contains(one); unique.push(one.clone()); new });
            // A list of lines goes on as far as numbers follow, so it is said last.
            let is_list = |one: &Statement| matches!(one, Statement::Lines(_) | Statement::Examples(_));
            statements.sort_by_key(is_list);
            prop_assume!(statements.iter().filter(|one| is_list(one)).count() < 2);
            for seen in [Seen::Said(share, statements.clone()), Seen::FromStep(4, statements)] {
                prop_assert_eq!(read(&seen.to_string()), Ok(seen));
            }
        }

        #[test]
        fn any_text_is_read_or_refused(text in "(?s).{0,60}") {
            let _ = read(&text);
        }
    }
}
