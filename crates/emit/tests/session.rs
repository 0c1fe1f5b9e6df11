//! Session programs run on the machine, with a person at its keys who sees only what the board shows: the answers are
//! read back, and the diagnosis has to name the fault that was put in.

mod listing;
mod session_machine;

use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, Serialise};
use backporch_bench::{Bench, Library, Overrides};
use backporch_emit::{SessionError, SessionProgram};
use backporch_evidence::{Answers, BlankAnswers, Experiment, Observer, SessionLook, Sightings, TestSession};
use backporch_input::{InputError, Source};
use iced_x86::{CpuidFeature, Decoder, DecoderOptions};
use session_machine::{Person, machine};

/// What the ordinary tests look at: packed pixels of one, two and eight bits, planes, planes of bytes, text.
const ORDINARY: [(&str, &str); 7] = [
    ("colour-graphics", "320x200x4"),
    ("colour-graphics", "text-40"),
    ("ega", "640x200x16"),
    ("linear-256", "320x200x256"),
    ("monochrome", "720x348x2"),
    ("vga", "320x200x256-planar"),
    ("vga", "720x400-text"),
];

/// A bench of a board in a mode, without a picture.
fn bench_of(board: &str, mode: &str) -> Arc<Bench> {
    let source = Source::built_in("plain", format!("(version: 1, adapter: \"{board}\")"));
    let overrides = Overrides { mode: Some(mode.to_string()), ..Overrides::default() };
    Arc::new(Bench::from_source(&source, "plain", &Library::default(), &overrides).unwrap())
}

fn looks(bench: &Arc<Bench>, steps: &[u32]) -> Vec<SessionLook> {
    let experiment = Experiment::on(Arc::clone(bench));
    let own = experiment.own_step();
    steps.iter().map(|step| SessionLook { experiment: experiment.clone(), step: own + step }).collect()
}

fn no_other_mode(mode: &str) -> Result<Arc<Bench>, InputError> {
    Err(InputError::new("mode", mode, "the bench's own"))
}

fn read(text: &str, bench: &Arc<Bench>) -> Result<Answers, InputError> {
    Answers::from_source(&Source::built_in("ANSWERS.TXT", text), bench, &no_other_mode)
}

fn sightings(answers: &Answers, bench: &Arc<Bench>) -> Vec<String> {
    let mut sightings = Sightings::new(Arc::clone(bench), Observer::default());
    answers.add_to(&mut sightings).unwrap();
    sightings.sightings().iter().map(|one| format!("{}: {}", sightings.place(one), one.seen)).collect()
}

/// On every board and in every mode of it: the card is shown as the plain board shows it, the marker goes where it is
/// sent, nothing is left of it, and the file says what was typed.
#[test]
fn every_mode_asks_and_tells() {
    // One mode of each way to pixels; all of them where more time is given.
    let every = std::env::var_os("BACKPORCH_ROUNDS").is_some();
    for board in ADAPTERS.names() {
        let adapter = Adapter::built_in(board).unwrap();
        for mode in &adapter.profile().modes {
            let registers = adapter.start_up(mode);
            // The one way to pixels that sessions refuse.
            if adapter.format(adapter.format_index(&registers)).serialise == Serialise::Interleaved {
                continue;
            }
            if !every && !ORDINARY.contains(&(board, mode.name.as_str())) {
                continue;
            }
            let bench = bench_of(board, &mode.name);
            let session = TestSession::new("all modes", &bench, looks(&bench, &[0, 1]));
            let program =
                SessionProgram::new(&session, "ASK").unwrap_or_else(|error| panic!("{board} {}: {error}", mode.name));
            let folder = tempfile::tempdir().unwrap();
            if let Some(data) = &program.data {
                std::fs::write(folder.path().join("ASK.DAT"), data).unwrap();
            }
            let stack = bench.layers().clone().without_design().by_design();
            let mut person = Person::new(machine(&bench, stack, &program, Some(folder.path())));
            let place = format!("{board} {}", mode.name);
            // Two opening pages and the one before the look.
            person.press_all(&["space", "space", "space"]);
            assert_eq!(person.off(&session.looks()[0]), [], "{place}");
            person.press("left");
            let lines: Vec<u32> = person.off(&session.looks()[0]).iter().map(|(_, y)| *y).collect();
            assert!(!lines.is_empty(), "{place}: no marker");
            person.press_all(&["up", "page-up", "left", "t", "l", "8", "enter"]);
            // Nothing is left of the marker, there and where one comes back to.
            assert_eq!(person.off(&session.looks()[1]), [], "{place}, second look");
            person.press("backspace");
            assert_eq!(person.off(&session.looks()[0]), [], "{place}, first look again");
            person.press_all(&["enter", "w", "o", "d", "d", "enter", "1", "enter", "enter"]);
            person.runs_to_its_end();
            let text = std::fs::read_to_string(folder.path().join("ANSWERS.TXT")).unwrap();
            let answers = read(&text, &bench).unwrap_or_else(|error| panic!("{place}: {error}\n{text}"));
            assert_eq!(answers.notes().collect::<Vec<_>>(), ["look 2: odd"], "{place}");
            let found = sightings(&answers, &bench);
            assert!(found[0].contains("damaged") && found[0].contains("flickers"), "{place}: {found:?}");
            assert!(found[1].ends_with(": clean"), "{place}: {found:?}");
            if session.looks()[0].experiment.bench.picture().is_some() {
                let (width, height) = session.looks()[0].experiment.setup(session.looks()[0].step).size();
                let marks = format!("uppermost line {}, leftmost pixel {}", height / 2 - 11, width / 2 - 1);
                assert!(found[0].contains(&marks), "{place}: {found:?}, not {marks}");
            }
        }
    }
}

#[test]
fn only_instructions_of_the_first_processor_are_used_and_all_are_listed() {
    for (board, mode) in [("linear-256", "320x200x256"), ("vga", "320x200x256-planar"), ("ega", "640x350x16")] {
        let bench = bench_of(board, mode);
        let session = TestSession::new("listing", &bench, looks(&bench, &[0, 1, 2]));
        let code = SessionProgram::new(&session, "LIST").unwrap().code;
        let mut position = 0;
        for instruction in Decoder::with_ip(16, &code.bytes()[..code.code_len()], 0x100, DecoderOptions::NONE) {
            let features = instruction.cpuid_features();
            assert!(features.iter().all(|feature| *feature == CpuidFeature::INTEL8086), "{instruction}");
            position += instruction.len();
        }
        assert_eq!(position, code.code_len());
        assert_eq!(listing::bytes_of(code.listing()), code.bytes());
    }
}

/// Where no file can be written, the code that is shown says the same as the file would.
#[test]
fn the_code_says_what_the_file_says() {
    let bench = bench_of("colour-graphics", "320x200x4");
    let session = TestSession::new("code", &bench, looks(&bench, &[0, 1, 2]));
    let program = SessionProgram::new(&session, "CODE").unwrap();
    let keys = [
        "space",
        "space",
        "space",
        "3",
        "up",
        "page-up",
        "t",
        "page-up",
        "page-down",
        "down",
        "s",
        "page-down",
        "b",
        "end",
        "r",
        "e",
        "f",
        "right",
        "right",
        "down",
        "g",
        "enter",
        "0",
        "enter",
        "4",
        "c",
        "c",
        "8",
        "esc",
        "enter",
    ];
    let folder = tempfile::tempdir().unwrap();
    let by_file = {
        let mut person = Person::new(machine(&bench, bench.stack(), &program, Some(folder.path())));
        person.press_all(&keys);
        person.runs_to_its_end();
        read(&std::fs::read_to_string(folder.path().join("ANSWERS.TXT")).unwrap(), &bench).unwrap()
    };
    let mut person = Person::new(machine(&bench, bench.stack(), &program, None));
    person.press_all(&keys);
    // Once more, in vain; then the code.
    person.press_all(&["r", "n"]);
    let printed = person.printed();
    let code = printed.rsplit("sheet:").next().unwrap().trim().to_string();
    let sheet = || BlankAnswers::new(read(&program.sheet, &bench).unwrap());
    let by_code = sheet().filled_in(&code).unwrap_or_else(|error| panic!("{error}: {code}"));
    assert_eq!(sightings(&by_code, &bench), sightings(&by_file, &bench));
    assert_eq!(sightings(&by_file, &bench).len(), 3);
    // A symbol read wrong is found out.
    for at in (0..code.len()).filter(|at| !code[*at..].starts_with(' ')) {
        let other = if &code[at..=at] == "7" { "8" } else { "7" };
        let wrong = format!("{}{other}{}", &code[..at], &code[at + 1..]);
        assert!(sheet().filled_in(&wrong).is_err(), "{wrong}");
    }
}

/// Pictures that do not fit go into a file, and come back out of it.
#[test]
fn pictures_that_do_not_fit_stand_in_a_file() {
    let bench = bench_of("linear-256", "320x200x256");
    let displayed = bench.adapter().field("displayed").unwrap();
    let own = Experiment::on(Arc::clone(&bench));
    let widths = (28..40).map(|width| SessionLook { experiment: own.clone().with(displayed, width), step: 0 });
    let session = TestSession::new("widths", &bench, widths);
    let program = SessionProgram::new(&session, "WIDE").unwrap();
    let data = program.data.clone().expect("twelve pictures do not fit");
    let folder = tempfile::tempdir().unwrap();
    let run = |data: &[u8]| {
        std::fs::write(folder.path().join("WIDE.DAT"), data).unwrap();
        let plain = bench.layers().clone().without_design().by_design();
        Person::new(machine(&bench, plain, &program, Some(folder.path())))
    };
    let mut person = run(&data);
    person.press_all(&["space", "space"]);
    for look in 0..12 {
        person.press_all(&["space"]);
        assert_eq!(person.off(&session.looks()[look]), [], "look {look}");
        person.press_all(&["1", "enter"]);
    }
    let mut short = run(&data[..data.len() - 100]);
    short.press_all(&["space", "space"]);
    for _ in 0..11 {
        short.press_all(&["space", "enter"]);
    }
    short.press_all(&["space"]);
    assert!(short.printed().contains("could not be read"), "{}", short.printed());
}

#[test]
fn what_cannot_be_asked_is_refused() {
    let bench = bench_of("linear-256", "320x200x256");
    let empty = TestSession::new("none", &bench, []);
    assert_eq!(SessionProgram::new(&empty, "NONE").err(), Some(SessionError::Empty));
    let interleaved = bench_of("vga", "320x200x4");
    let session = TestSession::new("two bits by way of the planes", &interleaved, looks(&interleaved, &[0]));
    assert!(matches!(SessionProgram::new(&session, "TWO").err(), Some(SessionError::Look { look: 1, .. })));
    let session = TestSession::new("name", &bench, looks(&bench, &[0]));
    assert!(matches!(SessionProgram::new(&session, "a long name").err(), Some(SessionError::Name(_))));
}

/// The same keys on a processor of another make give the same answers, byte for byte.
#[test]
fn a_processor_of_another_make_writes_the_same_answers() {
    let script = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/run_session.py");
    for (board, mode) in [("colour-graphics", "640x200x2"), ("ega", "320x200x16"), ("vga", "320x200x256")] {
        let bench = bench_of(board, mode);
        let session = TestSession::new("another make", &bench, looks(&bench, &[0, 3]));
        let program = SessionProgram::new(&session, "OTHER").unwrap();
        let keys = [
            "space", "space", "space", "3", "up", "page-up", "t", "home", "l", "down", "s", "x", "b", "e", "f",
            "right", "down", "g", "enter", "4", "c", "c", "8", "enter", "enter",
        ];
        let folder = tempfile::tempdir().unwrap();
        let mut person = Person::new(machine(&bench, bench.stack(), &program, Some(folder.path())));
        person.press_all(&keys);
        person.runs_to_its_end();
        let ours = std::fs::read(folder.path().join("ANSWERS.TXT")).unwrap();

        let path = folder.path().join("other.com");
        std::fs::write(&path, program.code.bytes()).unwrap();
        let words: Vec<String> = keys.iter().map(|name| format!("{:04X}", session_machine::key_word(name))).collect();
        let python = std::env::var("BACKPORCH_PYTHON").unwrap_or_else(|_| "python3".to_string());
        let mut command = std::process::Command::new(python);
        command.arg(&script).arg(&path).arg(words.join(",")).arg(folder.path().join("other.txt"));
        let Some(output) = backporch_test_tools::output(&mut command) else { return };
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        if let Some(tool) = text.strip_prefix("missing: ") {
            backporch_test_tools::missing(tool.trim());
            return;
        }
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(text.starts_with("file: ANSWERS.TXT"), "{text}");
        assert_eq!(std::fs::read(folder.path().join("other.txt")).unwrap(), ours, "{board} {mode}");
    }
}
