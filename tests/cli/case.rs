//! Cases: a bench and all that belongs to it in one file, through the built program.

use std::fs;
use std::process::Command;

use backporch_input::{FileOfCase, Holds, case_of};
use serde_json::Value;

use crate::program::Bench;

const BENCH: &str = r#"// A pier, and what was seen there.
(version: 1, title: "The pier", adapter: "linear-256", registers: {"displayed": 35},
 quirks: [(name: "faults/row.ron")], picture: (source: "art/pier.png"), monitor: "fixed-31")
"#;

const SIGHTINGS: &str = r#"(version: 1, title: "At the pier", bench: "pier.bench.ron", experiments: [
    (seen: [(at: 0, saw: "clean"), (at: "1..=3", saw: "damaged"), (at: "4..=31", saw: "broken, every fourth line")])])"#;

/// A program that prints the file of its folder: open, read, write to the console, end.
///
/// mov ax,3D00h; mov dx,name; int 21h; mov bx,ax; mov ah,3Fh; mov cx,5; mov dx,buffer; int 21h; mov ah,40h; mov bx,1;
/// mov cx,5; int 21h; int 20h
const READER: &[u8] = b"\xB8\x00\x3D\xBA\x24\x01\xCD\x21\x89\xC3\xB4\x3F\xB9\x05\x00\xBA\x30\x01\xCD\x21\xB4\x40\xBB\x01\x00\xB9\x05\x00\xCD\x21\xCD\x20\x00\x00\x00\x00PIER.TXT\x00";

fn pier() -> Bench {
    let bench = Bench::new();
    for folder in ["art", "faults", "notes", "DATA"] {
        fs::create_dir(bench.path(folder)).unwrap();
    }
    bench.write("pier.bench.ron", BENCH);
    bench.write("faults/row.ron", include_str!("../../quirks/row-reload.ron"));
    assert_eq!(bench.run(&["frame", "harbour-256-plain", "--out", "art/pier.png", "-q"]).status, 0);
    bench.write("pier.sightings.ron", SIGHTINGS);
    bench
}

/// The parts of an answer that do not say where a bench lay.
fn without_names(mut answer: Value) -> Value {
    for name in ["file", "sightings", "title"] {
        answer.as_object_mut().unwrap().remove(name);
    }
    answer
}

/// Names of the files in a case, and what each holds.
fn names(answer: &Value) -> Vec<(&str, &str)> {
    let files = answer["files"].as_array().unwrap();
    files.iter().map(|file| (file["name"].as_str().unwrap(), file["holds"].as_str().unwrap())).collect()
}

#[test]
fn a_case_is_opened_as_the_bench_that_was_packed() {
    let bench = pier();
    let packed = bench.json(&["pack", "pier.bench.ron", "--with", "pier.sightings.ron"]);
    assert_eq!(packed["file"], "pier.case.zip");
    assert_eq!(packed["bytes"].as_u64(), Some(fs::metadata(bench.path("pier.case.zip")).unwrap().len()));
    let expected = [
        ("pier.bench.ron", "bench"),
        ("faults/row.ron", "part"),
        ("art/pier.png", "part"),
        ("pier.sightings.ron", "sightings"),
    ];
    assert_eq!(names(&packed), expected);
    // Elsewhere, where nothing else lies.
    let away = Bench::new();
    fs::copy(bench.path("pier.case.zip"), away.path("got.zip")).unwrap();
    for command in [
        &["frame", "BENCH", "--start", "5"][..],
        &["sweep", "BENCH", "--over", "start_address=0..9"],
        &["signal", "BENCH"],
        &["compare", "BENCH"],
        &["emit", "BENCH", "--as", "csv"],
        &["workaround", "BENCH", "--least-width", "320"],
        &["record", "BENCH", "--over", "start_address=0..3", "--out", "x.png"],
        &["report", "BENCH", "--over", "start_address=0..3", "--no-workarounds", "--out", "x.html"],
    ] {
        let with = |name: &'static str| {
            command.iter().map(|word| if *word == "BENCH" { name } else { word }).collect::<Vec<_>>()
        };
        let (here, there) = (bench.json(&with("pier.bench.ron")), away.json(&with("got.zip")));
        if command[0] == "report" {
            assert_eq!(here["damaged_steps"], there["damaged_steps"]);
            continue;
        }
        assert_eq!(without_names(here), without_names(there), "{command:?}");
    }
    let (here, there) = (bench.json(&["diagnose", "pier.sightings.ron"]), away.json(&["diagnose", "got.zip"]));
    assert_eq!(without_names(here), without_names(there));
    let shown = bench.path("pier.png");
    assert_eq!(fs::read(shown).unwrap(), fs::read(away.path("got.png")).unwrap(), "another frame");
    // Nothing but what was asked for, all of it in the working folder.
    assert_eq!(away.files(), ["got.png", "got.zip", "x.html", "x.png"]);
}

#[test]
fn packing_twice_and_packing_a_case_give_the_same_bytes() {
    let bench = pier();
    let with = ["--with", "pier.sightings.ron", "-q"];
    for (from, to) in [("pier.bench.ron", "one.zip"), ("pier.bench.ron", "two.zip"), ("one.zip", "three.zip")] {
        let with = if from == "one.zip" { &["-q"][..] } else { &with };
        let ran = bench.run(&[&["pack", from, "--out", to][..], with].concat());
        assert_eq!(ran.status, 0, "{}", ran.err);
    }
    assert_eq!(bench.run(&["unpack", "two.zip", "--out", "out"]).status, 0);
    assert_eq!(fs::read_to_string(bench.path("out/pier.bench.ron")).unwrap(), BENCH, "as its writer left it");
    let again = ["pack", "out/pier.bench.ron", "--with", "out/pier.sightings.ron", "--out", "four.zip", "-q"];
    assert_eq!(bench.run(&again).status, 0);
    let first = fs::read(bench.path("one.zip")).unwrap();
    for other in ["two.zip", "three.zip", "four.zip"] {
        assert!(fs::read(bench.path(other)).unwrap() == first, "{other}");
    }
    // One of its own is replaced, an input never.
    assert_eq!(bench.run(&["pack", "harbour-256", "--out", "two.zip", "-q"]).status, 0);
    assert!(bench.run(&["pack", "one.zip", "--out", "one.zip"]).err.contains("was read as input"));
    bench.write("letter.zip", b"PK\x03\x04dear");
    assert!(bench.run(&["pack", "harbour-256", "--out", "letter.zip"]).err.contains("--force"));
}

#[test]
fn a_program_finds_its_folder_in_the_case() {
    let bench = pier();
    fs::create_dir(bench.path("DATA/SUB")).unwrap();
    bench.write("DATA/Pier.txt", "quay!");
    bench.write("DATA/SUB/MORE.BIN", [0; 99]);
    bench.write("DATA/a name that no program sees.txt", "x");
    bench.write("READER.COM", READER);
    bench.write(
        "program.bench.ron",
        "(version: 1, adapter: \"vga\", routine: \"READER.COM\", machine: (folder: \"DATA\"))",
    );
    let packed = bench.json(&["pack", "program.bench.ron"]);
    let expected = [
        ("program.bench.ron", "bench"),
        ("READER.COM", "part"),
        ("DATA/Pier.txt", "part"),
        ("DATA/SUB/MORE.BIN", "part"),
    ];
    assert_eq!(names(&packed), expected);
    let away = Bench::new();
    fs::copy(bench.path("program.case.zip"), away.path("a.zip")).unwrap();
    let ran = away.json(&["run", "a.zip", "--frames", "5", "--out", "x.png"]);
    assert_eq!((ran["printed"].as_str(), ran["ended"].as_str()), (Some("quay!"), Some("exit")), "{ran}");
    // The folder of a case by itself; nothing can be written there.
    let ran = away.json(&["run", "a.zip/READER.COM", "--folder", "a.zip/DATA", "--frames", "5", "--out", "x.png"]);
    assert_eq!(ran["printed"], "quay!");
    let ran = away.run(&["run", "a.zip", "--folder", "a.zip/DATA", "--writable", "--frames", "5"]);
    assert!(ran.status != 0 && ran.err.contains("only be read"), "{}", ran.err);
    assert_eq!(away.files(), ["a.zip", "x.png"]);
}

#[test]
fn sightings_answers_and_surveys_go_along_and_are_found_again() {
    let bench = pier();
    fs::copy(bench.path("pier.sightings.ron"), bench.path("notes/other.sightings.ron")).unwrap();
    let text = SIGHTINGS.replace("pier.bench.ron", "../pier.bench.ron");
    bench.write("notes/pier.sightings.ron", text);
    bench.write("notes/photo.jpg", [0xFF, 0xD8, 1, 2]);
    let packed =
        bench.json(&["pack", "pier.bench.ron", "--with", "notes/pier.sightings.ron", "--with", "notes/photo.jpg"]);
    let handed = [("notes/pier.sightings.ron", "sightings"), ("notes/photo.jpg", "other")];
    assert_eq!(names(&packed)[3..], handed);
    assert!(bench.run(&["diagnose", "pier.case.zip"]).status < 2);
    // By its name in the case as well.
    assert!(bench.run(&["diagnose", "pier.case.zip/notes/pier.sightings.ron"]).status < 2);
    // From another folder, named by a whole path: in the case they are of the bench there.
    let away = Bench::new();
    let whole = SIGHTINGS.replace("pier.bench.ron", &bench.path("pier.bench.ron").display().to_string());
    away.write("far.sightings.ron", whole);
    let far = away.path("far.sightings.ron").display().to_string();
    bench.json(&["pack", "pier.bench.ron", "--with", &far, "--out", "far.case.zip"]);
    assert!(bench.run(&["diagnose", "far.case.zip"]).status < 2);
    assert_eq!(bench.run(&["unpack", "far.case.zip"]).status, 0);
    assert!(fs::read_to_string(bench.path("far/far.sightings.ron")).unwrap().contains("bench: \"pier.bench.ron\""));
    // What was seen on another bench, or of registers that the bench is not packed with, is refused.
    bench.write("wrong.sightings.ron", SIGHTINGS.replace("pier.bench.ron", "harbour-256"));
    let ran = bench.run(&["pack", "pier.bench.ron", "--with", "wrong.sightings.ron"]);
    assert!(ran.status == 2 && ran.err.contains("bench: found harbour-256, allowed pier.bench.ron"), "{}", ran.err);
    let ran = bench.run(&["pack", "pier.bench.ron", "--set", "displayed=31", "--with", "pier.sightings.ron"]);
    assert!(ran.status == 2 && ran.err.contains("allowed a bench packed as its file has it"), "{}", ran.err);
    let ran = bench.run(&["diagnose", "harbour-256"]);
    assert_eq!(ran.status, 2);
    bench.json(&["pack", "harbour-256"]);
    let ran = bench.run(&["diagnose", "harbour-256.case.zip"]);
    assert!(ran.err.contains("found neither sightings nor answers"), "{}", ran.err);
    let ran = bench.run(&["calibrate", "harbour-256.case.zip"]);
    assert!(ran.err.contains("found 0 surveys"), "{}", ran.err);
    // Answers with a slip are found out before they are packed.
    bench.write("ANSWERS.TXT", "backporch answers 1\r\nbench x\r\ncheck 00000000\r\n");
    let ran = bench.run(&["pack", "harbour-256", "--with", "ANSWERS.TXT"]);
    assert!(ran.status == 2 && ran.err.contains("ANSWERS.TXT:3"), "{}", ran.err);
}

#[test]
fn answers_and_surveys_of_emitted_programs_come_home_in_a_case() {
    let bench = Bench::new();
    let emit = ["emit", "harbour-256", "--as", "session", "--over", "0..=1", "--out", "look.com"];
    assert_eq!(bench.run(&emit).status, 0);
    let keys = ["100=space", "200=space", "300=space", "400=1", "500=enter", "600=2", "700=enter", "800=enter"];
    let mut run = vec!["run", "look.com", "--board", "linear-256", "--frames", "2000", "--folder", ".", "--writable"];
    keys.iter().for_each(|key| run.extend(["--key", key]));
    assert!(bench.run(&run).status < 2);
    let packed = bench.json(&["pack", "harbour-256", "--with", "ANSWERS.TXT", "--with", "look.com"]);
    assert_eq!(names(&packed)[1..], [("ANSWERS.TXT", "answers"), ("look.com", "other")]);
    let by_file = bench.json(&["diagnose", "harbour-256", "--answers", "ANSWERS.TXT"]);
    let by_case = bench.json(&["diagnose", "harbour-256.case.zip"]);
    assert_eq!(without_names(by_file), without_names(by_case));
}

#[test]
fn a_folder_of_somebody_is_not_unpacked_over() {
    let bench = pier();
    bench.json(&["pack", "pier.bench.ron"]);
    let output = bench.json(&["unpack", "pier.case.zip", "--out", "out"]);
    assert_eq!((output["bench"].as_str(), output["folder"].as_str()), (Some("out/pier.bench.ron"), Some("out")));
    assert!(bench.run(&["frame", "out/pier.bench.ron", "-q"]).status == 0);
    // All of it as it was: replaced.
    assert_eq!(bench.run(&["unpack", "pier.case.zip", "--out", "out"]).status, 0);
    bench.write("out/pier.bench.ron", "mine");
    bench.write("out/letter", "dear");
    for _ in 0..2 {
        let ran = bench.run(&["unpack", "pier.case.zip", "--out", "out"]);
        assert!(ran.status == 2 && ran.err.contains("--force"), "{}", ran.err);
    }
    assert_eq!(fs::read_to_string(bench.path("out/pier.bench.ron")).unwrap(), "mine");
    assert_eq!(bench.run(&["unpack", "pier.case.zip", "--out", "out", "--force"]).status, 0);
    assert_eq!(fs::read_to_string(bench.path("out/pier.bench.ron")).unwrap(), BENCH);
    assert_eq!(fs::read_to_string(bench.path("out/letter")).unwrap(), "dear");
    let ran = bench.run(&["unpack", "pier.case.zip", "--out", "pier.case.zip", "--force"]);
    assert_eq!(ran.status, 2, "{}", ran.err);
    #[cfg(unix)]
    {
        let away = tempfile::tempdir().unwrap();
        fs::remove_dir_all(bench.path("out/art")).unwrap();
        std::os::unix::fs::symlink(away.path(), bench.path("out/art")).unwrap();
        let ran = bench.run(&["unpack", "pier.case.zip", "--out", "out", "--force"]);
        assert!(ran.status == 2 && ran.err.contains("a link out of the folder"), "{}", ran.err);
        assert_eq!(fs::read_dir(away.path()).unwrap().count(), 0);
    }
}

#[test]
fn what_lies_outside_the_bench_stays_there_unless_told() {
    let bench = pier();
    fs::create_dir(bench.path("inner")).unwrap();
    bench.write("inner/in.bench.ron", "(version: 1, adapter: \"linear-256\", picture: (source: \"../art/pier.png\"))");
    let ran = bench.run(&["pack", "inner/in.bench.ron"]);
    assert!(ran.status == 2 && ran.err.contains("--allow"), "{}", ran.err);
    let ran = bench.run(&["pack", "inner/in.bench.ron", "--allow", "art"]);
    assert!(ran.status == 2 && ran.err.contains("--with"), "{}", ran.err);
    let packed = bench.json(&["pack", "inner/in.bench.ron", "--with", "art/pier.png"]);
    assert_eq!(names(&packed), [("in.bench.ron", "bench"), ("pier.png", "part")]);
    let (here, there) = (["frame", "inner/in.bench.ron", "--allow", "art"], ["frame", "in.case.zip"]);
    assert_eq!(without_names(bench.json(&here)), without_names(bench.json(&there)));
    let ran = bench.run(&["pack", "pier.bench.ron", "--with", "notes"]);
    assert!(ran.status == 2 && ran.err.contains("found notes, a folder"), "{}", ran.err);
}

/// A case whose bench asks for more than the case holds is refused, `--allow` or not.
#[test]
fn a_bench_in_a_case_has_no_way_out() {
    let bench = pier();
    let secret = bench.path("art/pier.png").display().to_string();
    for name in ["../art/pier.png", "x/../../art/pier.png", &secret] {
        let text = format!("(version: 1, adapter: \"linear-256\", picture: (source: {name:?}))");
        let file = FileOfCase { name: "b.ron".to_string(), holds: Holds::Bench, bytes: text.into_bytes() };
        bench.write("evil.zip", case_of("evil", &[file], &[]).unwrap());
        for allow in [&[][..], &["--allow", "/", "--allow", "art"]] {
            let ran = bench.run(&[&["frame", "evil.zip"][..], allow].concat());
            assert_eq!(ran.status, 2, "{name}");
            assert!(ran.err.contains("outside the case") || ran.err.contains("no such file"), "{name}: {}", ran.err);
        }
    }
    // Sightings in a case are of a bench in it, and a script's processor lies in it too.
    let whole = bench.path("pier.bench.ron").display().to_string();
    let sightings = SIGHTINGS.replace("pier.bench.ron", &whole);
    let of =
        |name: &str, holds, bytes: &str| FileOfCase { name: name.to_string(), holds, bytes: bytes.as_bytes().to_vec() };
    let inner = "(version: 1, adapter: \"linear-256\", routine: \"r.routine.ron\")";
    let cpu = bench.write("mine.cpu.ron", include_str!("../../assets/cpus/16bit-8.ron"));
    let script = format!("(version: 1, cpu: {:?}, each_frame: [])", cpu.display().to_string());
    let files = [
        of("b.ron", Holds::Bench, inner),
        of("s.sightings.ron", Holds::Sightings, &sightings),
        of("r.routine.ron", Holds::Part, &script),
    ];
    bench.write("evil.zip", case_of("evil", &files, &[]).unwrap());
    for command in [&["diagnose", "evil.zip"][..], &["hazards", "evil.zip"]] {
        let ran = bench.run(command);
        assert!(ran.status == 2 && ran.err.contains("no such file"), "{command:?}: {} {}", ran.out, ran.err);
    }
}

/// Files that are no cases end every command in one line, whatever they are.
#[test]
fn hostile_files_end_in_a_line() {
    let bench = pier();
    bench.json(&["pack", "pier.bench.ron"]);
    let case = fs::read(bench.path("pier.case.zip")).unwrap();
    bench.write("cut.zip", &case[..case.len() - 9]);
    let at = case.windows(9).position(|window| window == b"holds: Be").unwrap();
    let mut changed = case.clone();
    changed[at + 7] = b'b';
    bench.write("changed.zip", &changed);
    bench.write("bare.zip", b"PK\x05\x06\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0");
    for file in ["cut.zip", "changed.zip", "bare.zip"] {
        for command in [&["frame"][..], &["unpack"], &["pack"], &["diagnose"], &["calibrate"], &["report"], &["run"]] {
            let ran = bench.run(&[command, &[file]].concat());
            assert_eq!(ran.status, 2, "{command:?} {file}: {}", ran.err);
            assert!(ran.err.starts_with(&format!("backporch: {file}")), "{command:?} {file}: {}", ran.err);
            assert!(ran.err.trim_end().lines().count() <= 2, "{}", ran.err);
        }
    }
    assert!(!bench.path("cut").exists() && !bench.path("bare").exists());
}

/// The case is a zip file as others read it, its check sums are those others come to, and one that another program has
/// packed again is opened: the standard library of Python, `zipfile` and `hashlib`, stands for the others.
#[test]
fn other_programs_read_a_case_and_make_one() {
    let bench = pier();
    bench.json(&["pack", "pier.bench.ron", "--with", "pier.sightings.ron"]);
    let script = r#"
import hashlib, re, sys, zipfile
case = zipfile.ZipFile(sys.argv[1])
assert case.testzip() is None
names = case.namelist()
assert names[0] == "case.ron", names
listed = re.findall(r'name: "([^"]+)".*?bytes: (\d+), sha256: "([0-9a-f]+)"', case.read("case.ron").decode())
assert [name for name, _, _ in listed] == names[1:], (listed, names)
for name, length, digest in listed:
    content = case.read(name)
    assert len(content) == int(length) and hashlib.sha256(content).hexdigest() == digest, name
with zipfile.ZipFile(sys.argv[2], "w", zipfile.ZIP_DEFLATED, compresslevel=9) as again:
    again.writestr("art/", "")
    for name in reversed(names):
        again.writestr(name, case.read(name))
"#;
    let python = std::env::var("BACKPORCH_PYTHON").unwrap_or_else(|_| "python3".to_string());
    let mut command = Command::new(python);
    command.args(["-c", script, "pier.case.zip", "again.zip"]).current_dir(bench.path(""));
    let Some(ran) = backporch_test_tools::output(&mut command) else { return };
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    assert_ne!(fs::read(bench.path("again.zip")).unwrap(), fs::read(bench.path("pier.case.zip")).unwrap());
    bench.json(&["pack", "again.zip", "--out", "once-more.zip"]);
    assert_eq!(fs::read(bench.path("once-more.zip")).unwrap(), fs::read(bench.path("pier.case.zip")).unwrap());
}
