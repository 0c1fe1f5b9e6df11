//! Answers of a session: what is wrong with a file is named with its line and field.

use std::sync::{Arc, LazyLock};

use backporch_bench::{Bench, Overrides};
use backporch_evidence::{
    Answers, Experiment, MoveDirection, Observer, Primary, Seen, SessionLook, Share, Sightings, Statement, TestSession,
    Tinge,
};
use backporch_input::{InputError, Source};
use proptest::prelude::*;

fn bench() -> Arc<Bench> {
    static BENCH: LazyLock<Arc<Bench>> =
        LazyLock::new(|| Arc::new(Bench::open("harbour-256", &Overrides::default()).unwrap()));
    Arc::clone(&BENCH)
}

fn sheet(bench: &Arc<Bench>) -> String {
    let own = Experiment::on(Arc::clone(bench));
    let narrow = own.clone().with(bench.adapter().field("displayed").unwrap(), 31);
    let looks = [(own.clone(), 0), (own, 4), (narrow, 1)].map(|(experiment, step)| SessionLook { experiment, step });
    TestSession::new("three", bench, looks).sheet(&[])
}

/// The same with a check that fits.
fn checked(text: &str) -> String {
    let body: String =
        text.lines().filter(|line| !line.starts_with("check ")).map(|line| format!("{line}\r\n")).collect();
    // The cyclic redundancy check of ISO 3309, bit by bit.
    let check = body.bytes().fold(u32::MAX, |check, byte| {
        (0..8).fold(check ^ u32::from(byte), |check, _| check >> 1 ^ (0xEDB8_8320 & (check & 1).wrapping_neg()))
    });
    format!("{body}check {:08X}\r\n", !check)
}

fn read(text: &str, bench: &Arc<Bench>) -> Result<Answers, InputError> {
    let none = |mode: &str| Err(InputError::new("mode", mode, "the bench's own"));
    Answers::from_source(&Source::built_in("ANSWERS.TXT", text), bench, &none)
}

fn seen(text: &str, bench: &Arc<Bench>) -> Vec<Seen> {
    let mut sightings = Sightings::new(Arc::clone(bench), Observer::default());
    read(text, bench).unwrap().add_to(&mut sightings).unwrap();
    sightings.sightings().iter().map(|one| one.seen.clone()).collect()
}

/// The sheet with the answer of a look in place of none.
fn answered(sheet: &str, look: usize, answer: &str) -> String {
    let mut parts: Vec<String> = sheet.split("saw nothing\r\n").map(str::to_string).collect();
    parts[look] += answer;
    let last = parts.pop().unwrap();
    let joined: Vec<String> = parts
        .into_iter()
        .enumerate()
        .map(|(at, part)| if at == look { part } else { part + "saw nothing\r\n" })
        .collect();
    checked(&(joined.concat() + &last))
}

#[test]
fn answers_become_sightings_exact_where_the_marker_was() {
    let bench = bench();
    let sheet = sheet(&bench);
    assert_eq!(read(&sheet, &bench).unwrap().len(), 3);
    assert_eq!(seen(&sheet, &bench), []);
    let said = |answer: &str| seen(&answered(&sheet, 1, answer), &bench);
    assert_eq!(said("saw clean\r\n"), [Seen::Said(Share::Each, vec![Statement::Clean])]);
    assert_eq!(said("saw unsure\r\nnote it was dark\r\n"), [Seen::Nothing { looked: true }]);
    let marks = "saw broken\r\nflickers\r\ntop 3\r\nsecond 7\r\nbottom 199\r\nleft 56\r\nright 311\r\n";
    let exact = vec![
        Statement::Broken,
        Statement::UppermostLine(3),
        Statement::SecondLine(7),
        Statement::LowermostLine(199),
        Statement::LeftmostPixel(56),
        Statement::RightmostPixel(311),
        Statement::Flickers,
    ];
    assert_eq!(said(marks), [Seen::Said(Share::Each, exact)]);
    // Two marked lines are no pattern of the others: lines 1, 3, 11, 19 may be bad as well as 1, 3, 5, 7.
    let some = said("saw edge\r\ntop 1\r\nsecond 3\r\nbottom 199\r\n");
    let marked = vec![
        Statement::EdgeDamaged,
        Statement::UppermostLine(1),
        Statement::SecondLine(3),
        Statement::LowermostLine(199),
    ];
    assert_eq!(some, [Seen::Said(Share::Each, marked)]);
    // Said to go on at that distance, they are one.
    let regular = said("saw broken\r\nregular\r\ntop 1\r\nsecond 3\r\n");
    let marked = vec![
        Statement::Broken,
        Statement::UppermostLine(1),
        Statement::SecondLine(3),
        Statement::Every { period: 2, first: Some(1) },
    ];
    assert_eq!(regular, [Seen::Said(Share::Each, marked)]);
    let colours = said("saw colours\r\ntinge too little red\r\n");
    let tinged = Statement::Tinged(Tinge::TooLittle(Primary::Red));
    assert_eq!(colours, [Seen::Said(Share::Each, vec![Statement::WrongColours, tinged])]);
}

/// Content that has moved is recognised by where a number of the card belongs and where it stands; along memory the end of a
/// line is followed by the beginning of the next, here of 320 pixels.
#[test]
fn content_that_has_moved_is_told_by_two_places() {
    let bench = bench();
    let sheet = sheet(&bench);
    let said = |from: (u32, u32), to: (u32, u32)| {
        let marks = format!(
            "saw broken\r\nfrom-column {}\r\nfrom-line {}\r\nto-column {}\r\nto-line {}\r\n",
            from.0, from.1, to.0, to.1
        );
        let [Seen::Said(Share::Each, said)] = &seen(&answered(&sheet, 1, &marks), &bench)[..] else {
            panic!("{marks}")
        };
        said[1..].to_vec()
    };
    assert_eq!(said((10, 5), (18, 5)), [Statement::Shifted(MoveDirection::Right, 8)]);
    assert_eq!(said((18, 5), (10, 5)), [Statement::Shifted(MoveDirection::Left, 8)]);
    assert_eq!(said((10, 5), (10, 8)), [Statement::Shifted(MoveDirection::Down, 3)]);
    assert_eq!(said((10, 8), (10, 5)), [Statement::Shifted(MoveDirection::Up, 3)]);
    assert_eq!(
        said((138, 110), (10, 8)),
        [Statement::Shifted(MoveDirection::Left, 128), Statement::Shifted(MoveDirection::Up, 102)]
    );
    // The same place by way of the line's end.
    assert_eq!(said((0, 5), (312, 4)), [Statement::Shifted(MoveDirection::Left, 8)]);
    assert_eq!(said((10, 5), (10, 5)), []);
}

#[test]
fn what_is_wrong_is_named_with_line_and_field() {
    let bench = bench();
    let sheet = sheet(&bench);
    let line_of =
        |text: &str, keyword: &str| text.lines().position(|line| line.starts_with(keyword)).unwrap() as u32 + 1;
    let refused = |text: &str, keyword: &str, field: &str| {
        let error = read(text, &bench).unwrap_err();
        assert_eq!(error.field(), Some(field), "{error}");
        assert_eq!(error.line(), Some(line_of(text, keyword)), "{error}");
        assert_eq!(error.file(), "ANSWERS.TXT");
    };
    // A damaged file: a letter, a line, its end.
    refused(&sheet.replacen("step 4", "step 5", 1), "check", "check");
    let cut: String = sheet.lines().take(12).map(|line| format!("{line}\r\n")).collect();
    assert_eq!(read(&cut, &bench).unwrap_err().field(), Some("check"));
    // Line ends that a transfer has changed are no damage.
    assert!(read(&sheet.replace("\r\n", "\n"), &bench).is_ok());
    // A file that says what cannot be.
    let with = |old: &str, new: &str| checked(&sheet.replacen(old, new, 1));
    refused(&with("board linear-256", "board vga"), "board vga", "board");
    refused(&with("answers 1", "answers 9"), "backporch", "backporch");
    refused(&with("step 4", "step 70000"), "step 70000", "look 2.step");
    refused(&with("over start_address\r\nstep 4", "over nowhere\r\nstep 4"), "over nowhere", "look 2.over");
    refused(&with("set displayed 31", "set displayed 3000"), "set displayed", "look 3.set.displayed");
    refused(&with("mode 320x200x256", "mode 9x9"), "mode 9x9", "look 1.mode");
    refused(&with("saw nothing", "saw ghosts"), "saw ghosts", "look 1.saw");
    refused(&with("look 2", "look 7"), "look 7", "look");
    refused(&answered(&sheet, 0, "saw broken\r\ntop 200\r\n"), "top", "look 1.top");
    refused(&answered(&sheet, 0, "saw broken\r\nleft 9\r\nright 8\r\n"), "right", "look 1.right");
    refused(&answered(&sheet, 0, "saw clean\r\ntop 2\r\n"), "saw clean", "look 1.saw");
    refused(&answered(&sheet, 0, "saw broken\r\nsaw clean\r\n"), "saw clean", "look 1.saw");
    refused(&answered(&sheet, 0, "saw broken\r\nwobbles 2\r\n"), "wobbles", "look 1");
}

proptest! {
    /// Whatever the text, it is read or refused.
    #[test]
    fn any_text_is_read_or_refused(cuts in prop::collection::vec((any::<prop::sample::Index>(), ".{0,6}"), 1..6), fits in any::<bool>()) {
        let bench = bench();
        let mut text: Vec<char> = answered(&sheet(&bench), 1, "saw broken\r\ntop 3\r\nsecond 7\r\nbottom 199\r\n").chars().collect();
        for (at, other) in cuts {
            let at = at.index(text.len());
            text.splice(at..(at + 3).min(text.len()), other.chars());
        }
        let text: String = text.into_iter().collect();
        let text = if fits { checked(&text) } else { text };
        if let Ok(answers) = read(&text, &bench) {
            let _ = answers.add_to(&mut Sightings::new(Arc::clone(&bench), Observer::default()));
        }
    }
}
