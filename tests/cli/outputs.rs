//! Outputs: never over an input or a foreign file, all or none, and nothing left of a program that was asked to end.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::program::{Bench, Ran, command};
use backporch_test_tools::ROWS_BENCH;

const PLAIN: &str = "(version: 1, adapter: \"linear-256\", mode: \"320x200x256\", picture: (source: \"city.png\"))";

/// A folder with a bench and its picture.
fn case() -> Bench {
    let bench = Bench::new();
    assert_eq!(bench.run(&["frame", "harbour-256-plain", "--out", "city.png"]).status, 0);
    bench.write("city.bench.ron", PLAIN);
    bench
}

/// Names and bytes of every file.
fn contents(bench: &Bench) -> Vec<(String, Vec<u8>)> {
    let read = |name: String| {
        let bytes = fs::read(bench.path(&name)).unwrap_or_default();
        (name, bytes)
    };
    bench.files().into_iter().map(read).collect()
}

/// A file read otherwise than as the command's own subject.
#[test]
fn an_input_is_never_an_output() {
    let bench = case();
    bench.write("run.csv", "dot,kind,address,value\n9,port,0x3D5,0x1F\n");
    let before = contents(&bench);
    // The bench itself, a trace.
    for arguments in [
        &["frame", "city.bench.ron", "--out", "x.png", "--memory-out", "city.bench.ron", "--force"][..],
        &["emit", "city.bench.ron", "--as", "trace", "--routine", "run.csv", "--out", "run.csv"],
        &["hazards", "city.bench.ron", "--routine", "run.csv", "--frames", "3", "--trace", "run.csv", "--force"],
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.out);
        assert!(contents(&bench) == before, "{arguments:?} changed something");
    }
}

/// An output of a command: the words before it, the files those have it read, and a name that is free.
struct CommandOutput {
    words: &'static [&'static str],
    option: &'static str,
    inputs: &'static [&'static str],
    free: &'static str,
}

const BENCH_FILES: &[&str] = &["city.bench.ron", "city.png"];

const fn output(
    words: &'static [&'static str],
    option: &'static str,
    inputs: &'static [&'static str],
    free: &'static str,
) -> CommandOutput {
    CommandOutput { words, option, inputs, free }
}

/// Every output of every command, but for the demo, which reads no file, and the window.
const OUTPUTS: [CommandOutput; 20] = [
    output(&["frame", "city.bench.ron"], "--out", BENCH_FILES, "new.png"),
    output(&["frame", "city.bench.ron", "--out", "other.png"], "--memory-out", BENCH_FILES, "new.bin"),
    output(&["sweep", "city.bench.ron", "--over", "start_address=0..2"], "--out", BENCH_FILES, "new.png"),
    output(&["record", "city.bench.ron", "--frames", "2"], "--out", BENCH_FILES, "new.apng"),
    output(&["compare", "city.bench.ron", "--frames", "3", "--against", "plain"], "--out", BENCH_FILES, "new.png"),
    output(
        &["quirks", "own.quirk.ron", "--on", "city.bench.ron"],
        "--out",
        &["own.quirk.ron", "city.bench.ron", "city.png"],
        "new.png",
    ),
    output(&["measure", "seen.png", "--bench", "city.bench.ron", "--at", "0"], "--out", &["seen.png"], "new.png"),
    output(
        &["measure", "seen.png", "--bench", "city.bench.ron", "--at", "0"],
        "--sightings",
        &["seen.png", "city.bench.ron"],
        "new.sightings.ron",
    ),
    output(&["calibrate", "SURVEY.TXT", "--cpu", "mine.cpu.ron"], "--out", &["mine.cpu.ron"], "new"),
    output(&["modes", "--need", "own.need.ron"], "--out", &["own.need.ron"], "new.bench.ron"),
    output(
        &["report", "city.bench.ron", "--over", "start_address=0..2", "--no-workarounds"],
        "--out",
        BENCH_FILES,
        "new.html",
    ),
    output(&["pack", "city.bench.ron"], "--out", BENCH_FILES, "new.case.zip"),
    output(&["unpack", "own.case.zip"], "--out", &["own.case.zip"], "new"),
    output(&["run", "own.com", "city.bench.ron", "--frames", "2"], "--out", &["own.com", "city.png"], "new.png"),
    output(&["run", "own.com", "city.bench.ron", "--frames", "2"], "--trace", &["own.com", "city.png"], "new.csv"),
    output(&["run", "own.com", "city.bench.ron", "--frames", "2"], "--every", &["own.com"], "new"),
    output(
        &["hazards", "city.bench.ron", "--routine", "run.csv", "--frames", "3"],
        "--trace",
        &["run.csv", "city.bench.ron"],
        "new.csv",
    ),
    output(&["emit", "city.bench.ron"], "--out", BENCH_FILES, "new.h"),
    output(&["emit", "city.bench.ron", "--as", "program"], "--out", BENCH_FILES, "new.com"),
    output(&["diagnose", "own.sightings.ron"], "--guesses", &["own.sightings.ron"], "new"),
];

/// A folder with an input of every kind.
fn inputs_of_every_kind() -> Bench {
    let bench = case();
    bench.write("run.csv", "dot,kind,address,value\n9,port,0x3D5,0x1F\n");
    let of_ours = |path: &str| fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path)).unwrap();
    bench.write("own.quirk.ron", of_ours("quirks/address-wrap.ron"));
    bench.write(
        "own.sightings.ron",
        "(version: 1, bench: \"city.bench.ron\", experiments: [(seen: [(at: 1, saw: \"damaged\")])])",
    );
    let processor = String::from_utf8(of_ours("assets/cpus/8bit-4.77.ron")).unwrap();
    bench.write("mine.cpu.ron", processor.replace("\"8bit-4.77\"", "\"mine\""));
    bench.write("own.need.ron", "(version: 1, size: (width: 320, height: 200), monitor: \"fixed-31\")");
    crate::calibrate::survey(&bench, &[]);
    for words in [
        &["emit", "city.bench.ron", "--as", "program", "--out", "own.com"][..],
        &["pack", "city.bench.ron", "--out", "own.case.zip"],
        &["frame", "city.bench.ron", "--scale", "3", "--out", "seen.png"],
    ] {
        let ran = bench.run(words);
        assert_eq!(ran.status, 0, "{words:?}: {}", ran.err);
    }
    bench
}

/// Other names that lead to a file of the folder.
fn aliases(bench: &Bench, name: &str) -> Vec<String> {
    let hard = format!("hard-{name}");
    fs::hard_link(bench.path(name), bench.path(&hard)).unwrap();
    let mut names = vec![name.to_string(), format!("./{name}"), hard];
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(bench.path(name), bench.path(&format!("link-{name}"))).unwrap();
        names.extend([format!("link-{name}"), format!("round/./{name}")]);
    }
    names
}

/// Whatever a command is asked to write, under whatever alias, no file it reads changes, `--force` or not.
#[test]
fn no_command_writes_over_what_it_reads() {
    let bench = inputs_of_every_kind();
    #[cfg(unix)]
    std::os::unix::fs::symlink(bench.path(""), bench.path("round")).unwrap();
    let mut known: std::collections::BTreeMap<&str, Vec<String>> = std::collections::BTreeMap::new();
    for input in OUTPUTS.iter().flat_map(|output| output.inputs) {
        known.entry(input).or_insert_with(|| aliases(&bench, input));
    }
    let before = contents(&bench);
    let unchanged = |words: &[&str]| {
        let after = contents(&bench);
        assert!(before.iter().all(|file| after.contains(file)), "{words:?} changed an input");
    };
    let mut turn = 0;
    for CommandOutput { words, option, inputs, free } in &OUTPUTS {
        let folder = !free.contains('.') && *option != "--out" || words[0] == "unpack";
        for input in *inputs {
            // By its own name, whatever is forced, and by another, each in its turn.
            let other = &known[input][1 + turn % (known[input].len() - 1)];
            turn += 1;
            for (alias, force) in [(&known[input][0], &["--force"][..]), (other, &[])] {
                // Of a folder, the one the input lies in; else without the endings that are added.
                let place = alias.rsplit_once('/').map_or(".", |(folder, _)| folder);
                let out = if folder { place } else { alias.strip_suffix(".cpu.ron").unwrap_or(alias) };
                let words = [words, &[*option, out][..], force].concat();
                let ran = bench.run(&words);
                // A case is unpacked beside itself where that is forced; guesses are only written where there are any.
                let beside = words[0] == "unpack" && !force.is_empty();
                let refused = ran.status == 2 || ran.status < 2 && contents(&bench) == before;
                assert!(refused || beside, "{words:?}: {}{}", ran.out, ran.err);
                unchanged(&words);
            }
        }
        let words = [words, &[*option, free][..]].concat();
        let ran = bench.run(&words);
        assert!(ran.status < 2, "{words:?}: {}", ran.err);
        unchanged(&words);
        for made in bench.files() {
            if before.iter().any(|(name, _)| *name == made) || made == "round" {
                continue;
            }
            let path = bench.path(&made);
            if path.is_dir() { fs::remove_dir_all(path).unwrap() } else { fs::remove_file(path).unwrap() }
        }
    }
}

/// The outputs above are all there are.
#[test]
fn every_output_of_every_command_is_tried() {
    let bench = Bench::new();
    let commands = bench.run(&["help"]).out;
    let commands = commands.lines().skip_while(|line| *line != "Commands:").skip(1).take_while(|line| !line.is_empty());
    let names = commands.filter(|line| !line.starts_with("   ")).filter_map(|line| line.split_whitespace().next());
    let mut found = 0;
    for name in names.filter(|name| !["demo", "window", "help"].contains(name)) {
        let help = bench.run(&[name, "-h"]).out;
        let options: Vec<&str> = help.lines().filter_map(|line| line.trim_start().strip_prefix("--")).collect();
        for option in ["out", "memory-out", "sightings", "guesses", "every", "trace"] {
            // Sightings are what `report` reads.
            if option == "sightings" && name != "measure" {
                continue;
            }
            let offered =
                options.iter().any(|line| line.strip_prefix(option).is_some_and(|rest| rest.starts_with(" <")));
            let tried = OUTPUTS.iter().any(|output| output.words[0] == name && output.option[2..] == *option);
            assert_eq!(offered, tried, "{name} --{option}");
            found += usize::from(offered);
        }
    }
    assert!(found >= 15, "{found}");
}

/// `run` on a bench writes over nothing it was given: bench, picture, program, memory image; by name or by the usual name.
#[test]
fn a_run_writes_over_nothing_it_was_given() {
    let bench = case();
    // mov ax,4C00h; int 21h
    bench.write("city.com", [0xB8, 0, 0x4C, 0xCD, 0x21]);
    bench.write("city.bench.ron", PLAIN.replace("picture:", "routine: \"city.com\", picture:"));
    std::fs::create_dir(bench.path("files")).unwrap();
    bench.write("files/tide.dat", "tide");
    let before = contents(&bench);
    for input in ["city.bench.ron", "city.png", "city.com", "./city.png"] {
        for option in ["--out", "--trace"] {
            for force in [&[][..], &["--force"]] {
                let ran = bench.run(&[&["run", "city.bench.ron", option, input][..], force].concat());
                assert_eq!(ran.status, 2, "{option} {input}: {}", ran.out);
                assert!(contents(&bench) == before, "{option} {input} changed something");
            }
        }
    }
    // The usual name is the picture's: the last frame gets another one.
    let answer = bench.json(&["run", "city.bench.ron", "--frames", "3"]);
    let after = contents(&bench);
    assert!(before.iter().all(|file| after.contains(file)), "an input changed");
    assert!(answer["file"].as_str().is_some_and(|file| file != "city.png"), "{answer}");
}

/// Where the usual name of an output is that of an input, it gets another one.
#[test]
fn an_output_without_a_name_makes_room_for_the_inputs() {
    let bench = case();
    let before = contents(&bench);
    assert_eq!(bench.json(&["frame", "city.bench.ron"])["file"], "city-out.png");
    let after = contents(&bench);
    assert!(before.iter().all(|file| after.contains(file)), "an input changed");
    assert_eq!(after.len(), before.len() + 1);
}

/// A question gets an answer and no file; `--out` asks for one.
#[test]
fn where_a_pixel_comes_from_is_a_question() {
    let bench = case();
    let before = bench.files();
    let ran = bench.run(&["frame", "city.bench.ron", "--at", "5,5"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(ran.out.contains("pixel 5, line 5"), "{}", ran.out);
    assert_eq!(bench.files(), before);
    assert_eq!(bench.json(&["frame", "city.bench.ron", "--at", "5,5"])["file"], serde_json::Value::Null);
    assert_eq!(bench.json(&["frame", "city.bench.ron", "--at", "5,5", "--out", "x.png"])["file"], "x.png");
}

#[test]
fn foreign_files_are_replaced_only_when_forced() {
    let bench = Bench::new();
    let drawn = ["frame", "harbour-256-plain", "--out"];
    let foreign: [(&[&str], &str); 3] = [
        (&drawn, "mine.png"),
        (&["emit", "harbour-256-plain", "--out"], "mine.h"),
        (&["report", "harbour-256-plain", "--over", "start_address=0..2", "--no-workarounds", "--out"], "mine.html"),
    ];
    for (arguments, name) in foreign {
        bench.write(name, "mine");
        let ran = bench.run(&[arguments, &[name]].concat());
        assert_eq!(ran.status, 2, "{name}: {}", ran.out);
        assert!(ran.err.contains("--force"), "{}", ran.err);
        assert_eq!(fs::read(bench.path(name)).unwrap(), b"mine");
        for more in [&["--force"][..], &[]] {
            let ran = bench.run(&[arguments, &[name], more].concat());
            assert!(ran.status < 2, "{name} {more:?}: {}", ran.err);
        }
        assert_ne!(fs::read(bench.path(name)).unwrap(), b"mine");
    }
}

#[test]
fn a_program_and_its_listing_are_both_written_or_neither() {
    let bench = Bench::new();
    fs::create_dir(bench.path("test.lst")).unwrap();
    let ran = bench.run(&["emit", "harbour-256-plain", "--as", "program", "--out", "test.com"]);
    assert_eq!(ran.status, 2, "{}", ran.out);
    assert_eq!(bench.files(), ["test.lst"]);
    let ran = bench.run(&["frame", "harbour-256-plain", "--out", "one.png", "--memory-out", "./one.png"]);
    assert_eq!(ran.status, 2, "{}", ran.out);
    assert!(ran.err.contains("the same file as"), "{}", ran.err);
    assert_eq!(bench.files(), ["test.lst"]);
}

/// A folder is replaced only where every file in it is as this program left it.
#[test]
fn a_folder_with_frames_of_somebody_else_stays() {
    let bench = Bench::new();
    fs::create_dir(bench.path("frames")).unwrap();
    bench.write("frames/000001.png", "mine");
    let recording = ["record", "harbour-256-plain", "--frames", "2", "--out", "frames"];
    let running = ["run", "program-keys", "--frames", "2", "--out", "last.png", "--every", "frames"];
    for arguments in [&recording[..], &running] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{}", ran.out);
        assert!(ran.err.contains("000001.png"), "{}", ran.err);
        assert_eq!(fs::read(bench.path("frames/000001.png")).unwrap(), b"mine");
    }
    fs::remove_file(bench.path("frames/000001.png")).unwrap();
    assert_eq!(
        bench.run(&["run", "program-keys", "--frames", "3", "--out", "last.png", "--every", "frames"]).status,
        0
    );
    assert_eq!(bench.run(&running).status, 0);
    let frames = fs::read_dir(bench.path("frames")).unwrap().flatten();
    let frames = frames.filter(|entry| entry.path().extension().is_some_and(|ending| ending == "png"));
    assert_eq!(frames.count(), 2, "no frame of the longer run before");
}

/// Begins a long recording in a folder, and waits until it has a file under way.
#[cfg(unix)]
fn begun(bench: &Bench, out: &str) -> std::process::Child {
    let arguments = ["record", "harbour-256-plain", "--frames", "100000", "--out", out];
    let child = command(&bench.path(""), &arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let since = Instant::now();
    let mine = format!(".backporch-{}-", child.id());
    while !bench.files().iter().any(|name| name.starts_with(&mine)) {
        assert!(since.elapsed() < Duration::from_secs(120), "nothing was begun");
        std::thread::sleep(Duration::from_millis(20));
    }
    child
}

#[cfg(unix)]
fn signal(child: &std::process::Child, signal: &str) {
    assert!(Command::new("kill").args(["-s", signal, &child.id().to_string()]).status().unwrap().success());
}

#[cfg(unix)]
#[test]
fn told_to_end_it_leaves_nothing_behind() {
    use std::os::unix::process::ExitStatusExt;
    let bench = Bench::new();
    for (name, number) in [("INT", 2), ("TERM", 15), ("HUP", 1)] {
        for out in ["long.apng", "frames"] {
            let mut child = begun(&bench, out);
            signal(&child, name);
            assert_eq!(child.wait().unwrap().signal(), Some(number), "{name} {out}");
            assert!(bench.files().is_empty(), "{name} {out}: {:?}", bench.files());
        }
    }
}

#[cfg(unix)]
#[test]
fn what_a_killed_run_left_the_next_one_removes_and_what_is_under_way_stays() {
    let bench = Bench::new();
    for out in ["long.apng", "frames"] {
        let mut killed = begun(&bench, out);
        signal(&killed, "KILL");
        killed.wait().unwrap();
    }
    assert!(!bench.files().is_empty());
    let mut living = begun(&bench, "living.apng");
    let mine = |name: &String| name.starts_with(&format!(".backporch-{}-", living.id()));
    assert_eq!(bench.run(&["frame", "harbour-256-plain", "--out", "a.png"]).status, 0);
    let left: Vec<String> = bench.files().into_iter().filter(|name| name != "a.png").collect();
    assert!(left.len() == 1 && left.iter().all(mine), "{left:?}");
    signal(&living, "TERM");
    living.wait().unwrap();
    assert_eq!(bench.files(), ["a.png"]);
}

/// A full disk is named once, under the name that was asked for, and is the machine's failure.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_names_the_file() {
    let bench = Bench::new();
    for arguments in [
        &["frame", "harbour-256-plain", "--out", "/dev/full"][..],
        &["record", "harbour-256-plain", "--frames", "2", "--as", "apng", "--out", "/dev/full"],
        &["record", "harbour-256-plain", "--frames", "2", "--as", "gif", "--out", "/dev/full"],
    ] {
        let Ran { status, err, .. } = bench.run(arguments);
        assert_eq!(status, 3, "{arguments:?}: {err}");
        assert_eq!(
            err, "backporch: /dev/full: found a full disk, allowed a file that can be written\n",
            "{arguments:?}"
        );
    }
}

#[cfg(unix)]
#[test]
fn a_named_pipe_is_refused_instead_of_waited_for() {
    let bench = Bench::new();
    for name in ["pipe.ron", "pipe"] {
        assert!(Command::new("mkfifo").arg(bench.path(name)).status().unwrap().success());
    }
    for arguments in [
        &["frame", "pipe.ron"][..],
        &["frame", "--picture", "pipe.ron"],
        &["frame", "--quirk", "pipe.ron"],
        &["hazards", "harbour-256-plain", "--image", "pipe.ron"],
        &["frame", "--routine", "pipe.ron"],
        &["frame", "--out", "pipe", "--force"],
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains("pipe"), "{arguments:?}: {}", ran.err);
    }
    // One that is given open is read.
    let piped =
        command(&bench.path(""), &["signal", "/dev/stdin"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn();
    let mut piped = piped.unwrap();
    let mut input = piped.stdin.take().unwrap();
    std::io::Write::write_all(&mut input, b"(version: 1, adapter: \"linear-256\")").unwrap();
    drop(input);
    assert!(piped.wait_with_output().unwrap().status.success());
}

/// What `-v` names, and that paths are shown only to those who ask.
#[test]
fn files_read_and_written_are_named_when_asked() {
    let bench = case();
    let ran = bench.run(&["frame", "city.bench.ron", "--out", "x.png", "-v"]);
    assert!(ran.err.contains("wrote x.png") && ran.err.contains("city.png"), "{}", ran.err);
    let ran = bench.run(&["frame", "city.bench.ron", "--out", "x.png"]);
    assert!(ran.err.is_empty(), "{}", ran.err);
}

/// Same command, same bytes: on 1, 2 and 8 threads, twice.
#[test]
fn the_same_bytes_on_any_number_of_threads() {
    let commands: [&[&str]; 9] = [
        &["frame", "harbour-256", "--start", "4", "--beside", "--out", "o.png"],
        &["sweep", ROWS_BENCH, "--over", "start_address=0..20", "--out", "o.png"],
        &["compare", ROWS_BENCH, "--frames", "3", "--out", "o.png"],
        &["diagnose", "harbour-glance", "--probes", "1"],
        &["workaround", ROWS_BENCH, "--may-change", "start_address", "--starts", "1..9", "--art", "o.png"],
        &["hazards", "scroll-late", "--frames", "9", "--phases", "5", "--chart", "o.svg"],
        &["run", "program-torn", "--frames", "20", "--hazards", "--trace", "o.csv", "--out", "o.png"],
        &["record", "harbour-256", "--over", "start_address=0..4", "--caption", "--out", "o.apng"],
        &["report", ROWS_BENCH, "--over", "start_address=0..4", "--no-workarounds", "--out", "o.html"],
    ];
    for arguments in commands {
        let ran = |threads: &str| {
            let bench = Bench::new();
            let arguments: Vec<&str> = arguments.iter().copied().chain(["--format", "json"]).collect();
            let output = command(&bench.path(""), &arguments).env("RAYON_NUM_THREADS", threads).output().unwrap();
            assert!(output.status.code().is_some_and(|status| status < 2), "{arguments:?}: {output:?}");
            (output.stdout, contents(&bench))
        };
        let once = ran("1");
        for threads in ["1", "2", "8"] {
            assert!(ran(threads) == once, "{arguments:?} differs on {threads} threads");
        }
    }
}

/// Nothing absolute of this machine stands on a page.
#[test]
fn a_page_names_no_folder_of_this_machine() {
    let bench = case();
    let path = bench.path("city.bench.ron");
    let output =
        ["report", &path.display().to_string(), "--over", "start_address=0..2", "--no-workarounds", "--out", "p.html"]
            .map(str::to_string);
    let ran = bench.run(&output.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(ran.status < 2, "{}", ran.err);
    let page = fs::read_to_string(bench.path("p.html")).unwrap();
    let folder: &Path = path.parent().unwrap();
    assert!(!page.contains(&folder.display().to_string()), "the page names {}", folder.display());
}
