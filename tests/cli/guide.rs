//! The guides: their commands print what the chapters say, their files are the ones they show.
//!
//! `UPDATE_GUIDES=1` writes what the program prints today into the chapters; look at what it changed.

use crate::program::Bench;

const README: &str = include_str!("../../README.md");
const DIAGNOSE: &str = include_str!("../../docs/diagnose.md");
const HAZARDS: &str = include_str!("../../docs/hazards.md");
const MEASURE: &str = include_str!("../../docs/measure.md");
const RUN: &str = include_str!("../../docs/run.md");
const CASE: &str = include_str!("../../docs/case.md");
const AT_THE_MACHINE: &str = include_str!("../../docs/at-the-machine.md");
const LOOKS: &str = include_str!("../../assets/sightings/harbour-as-built.sightings.ron");

/// The contents of a chapter's blocks of one kind.
fn blocks(chapter: &'static str, kind: &str) -> Vec<&'static str> {
    let opening = format!("```{kind}\n");
    let inside = |at: usize| chapter[at + opening.len()..].split("```").next().unwrap_or("");
    chapter.match_indices(&opening).map(|(at, _)| inside(at)).collect()
}

/// Whether a command printed what the chapter printed, lines of `…` standing for any number of lines.
fn says(printed: &str, output: &str) -> bool {
    let parts: Vec<&str> = printed.split("…\n").collect();
    let [first, between @ .., last] = parts.as_slice() else { return printed == output };
    let Some(mut rest) = output.strip_prefix(first) else { return false };
    for part in between {
        let Some(at) = rest.find(part) else { return false };
        rest = &rest[at + part.len()..];
    }
    rest.ends_with(last)
}

/// What a command printed, with as many of its first and last lines as the chapter has around its first and last line of `…`.
fn cut(output: &str, printed: &str) -> String {
    let (Some((first, _)), Some((_, last))) = (printed.split_once("…\n"), printed.rsplit_once("…\n")) else {
        return output.to_string();
    };
    let lines: Vec<&str> = output.split_inclusive('\n').collect();
    let (first, last) = (first.lines().count(), last.lines().count());
    let tail = lines[lines.len().saturating_sub(last)..].iter();
    lines.iter().take(first).chain(&["…\n"]).chain(tail).copied().collect()
}

/// Runs the console blocks of a chapter of the documents in one folder, and counts their commands.
fn run(name: &str, chapter: &'static str) -> usize {
    run_on(&Bench::new(), name, chapter)
}

/// The same, on a bench with files of its own.
fn run_on(bench: &Bench, name: &str, chapter: &'static str) -> usize {
    let updates = std::env::var_os("UPDATE_GUIDES").is_some();
    let mut renewed = chapter.to_string();
    // mov dx, 201h; in al, dx; int 20h
    bench.write("stray.com", [0xBA, 0x01, 0x02, 0xEC, 0xCD, 0x20]);
    let mut ran = 0;
    for part in blocks(chapter, "console").iter().flat_map(|block| block.split("$ backporch ").skip(1)) {
        let (line, printed) = part.split_once('\n').unwrap();
        let arguments: Vec<&str> = line.split_whitespace().collect();
        let output = bench.run(&arguments);
        assert!(output.status < 2, "{line}: {}", output.err);
        if updates {
            let (old, new) =
                (format!("$ backporch {part}"), format!("$ backporch {line}\n{}", cut(&output.out, printed)));
            renewed = renewed.replacen(&old, &new, 1);
        } else {
            assert!(says(printed, &output.out), "{line}: the chapter has\n{printed}\nthe program says\n{}", output.out);
        }
        ran += 1;
    }
    if renewed != chapter {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(name);
        std::fs::write(path, renewed).unwrap();
    }
    ran
}

#[test]
fn the_readme_prints_what_the_program_does() {
    assert!(run("README.md", README) >= 8);
}

#[test]
fn the_worked_case_prints_what_the_program_does() {
    assert!(run("docs/diagnose.md", DIAGNOSE) >= 5);
}

#[test]
fn the_way_over_the_disk_prints_what_the_program_does() {
    assert!(run("docs/at-the-machine.md", AT_THE_MACHINE) >= 3);
    let bench = Bench::new();
    let plans: Vec<&str> =
        blocks(AT_THE_MACHINE, "").into_iter().filter(|block| block.contains("experiments: [")).collect();
    let [plan] = plans.as_slice() else { panic!("{plans:?}") };
    bench.write("narrow.plan.ron", plan);
    let output =
        bench.run(&["emit", "harbour-256", "--as", "session", "--plan", "narrow.plan.ron", "--out", "narrow.com"]);
    assert_eq!((output.status, output.err.as_str()), (0, ""));
    assert!(output.out.contains("a session of 8 looks"), "{}", output.out);
}

#[test]
fn the_chapter_on_cases_prints_what_the_program_does() {
    let bench = Bench::new();
    let [file, seen] = blocks(CASE, "ron")[..] else { panic!("two files") };
    bench.write("quay.bench.ron", file);
    bench.write("seen.sightings.ron", seen);
    std::fs::create_dir(bench.path("faults")).unwrap();
    bench.write("faults/mine.ron", include_str!("../../quirks/row-reload.ron"));
    assert!(run_on(&bench, "docs/case.md", CASE) >= 5);
    // The list that is shown is the one that is written, but for lengths and check sums.
    let bytes = std::fs::read(bench.path("quay.case.zip")).unwrap();
    let head = String::from_utf8_lossy(&bytes[..4096.min(bytes.len())]).into_owned();
    let list = blocks(CASE, "").into_iter().find(|block| block.contains("holds: Bench")).unwrap();
    for line in list.lines() {
        let part = line.split(", bytes:").next().unwrap();
        assert!(head.contains(part), "{part}: {head}");
    }
}

#[test]
fn the_chapters_on_hazards_and_programs_print_what_the_program_does() {
    assert!(run("docs/hazards.md", HAZARDS) >= 1);
    assert!(run("docs/run.md", RUN) >= 2);
}

#[test]
fn the_chapter_on_reading_the_screen_prints_what_the_program_does() {
    assert!(run("docs/measure.md", MEASURE) >= 3);
}

#[test]
fn the_sightings_shown_are_the_built_in_ones() {
    let bare = |text: &str| -> Vec<String> {
        let lines = text.lines().filter(|line| !line.trim_start().starts_with("//"));
        lines.map(str::to_string).collect()
    };
    assert_eq!(bare(blocks(DIAGNOSE, "ron")[0]), bare(LOOKS));
}
