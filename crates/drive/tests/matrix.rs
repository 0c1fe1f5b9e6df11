//! Every program of ours on every board, right and wrong forms alike: it need not look right on a board it was not written for,
//! but nothing panics or hangs, the end is said plainly, and memory stays bounded.

mod common;

use std::collections::BTreeSet;
use std::path::PathBuf;

use backporch_adapter::ADAPTERS;
use backporch_pc::Stop;
use common::{Around, OF_32_BITS, USUAL, programs, run_made};

/// Different things a run may list as asked for (one each, with an end).
const MOST_ASKED: usize = 64;

/// Milliseconds of each run: a few frames; in the long run as many as most programs take.
const SHORT: u64 = 30;
const LONG: u64 = 1500;

/// All programs: those that are handed out and those of the trade.
fn names() -> Vec<PathBuf> {
    let folder = programs::sources();
    let folders = [folder.clone(), folder.join("../../tests/programs")];
    let files = folders.iter().flat_map(|folder| std::fs::read_dir(folder).unwrap()).map(|entry| entry.unwrap().path());
    let is_program = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "asm" || ending == "c");
    let mut names: Vec<PathBuf> = files.filter(is_program).collect();
    names.sort();
    names
}

/// What a source asks for by `%ifdef` or `#ifdef`: none of it, and each alone.
fn forms(source: &str) -> Vec<Vec<String>> {
    let word = |line: &str| Some(line.trim_start().strip_prefix("%ifdef")?.split_whitespace().next()?.to_owned());
    let in_c = |line: &str| Some(line.trim_start().strip_prefix("#ifdef")?.split_whitespace().next()?.to_owned());
    let words: BTreeSet<String> = source.lines().filter_map(|line| word(line).or_else(|| in_c(line))).collect();
    let one = |word: String| vec![word];
    std::iter::once(Vec::new()).chain(words.into_iter().map(one)).collect()
}

/// The most memory this process has had, in KiB, where the system tells.
fn peak() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:")?.split_whitespace().next()?.parse().ok())
}

#[test]
fn every_program_on_every_board_comes_to_a_plain_end() {
    let is_long = std::env::var("BACKPORCH_ROUNDS").is_ok();
    let (until, processors) = if is_long { (LONG, vec![USUAL, OF_32_BITS]) } else { (SHORT, vec![USUAL]) };
    let boards: Vec<&str> = ADAPTERS.names().collect();
    let mut ends = BTreeSet::new();
    let mut runs = 0;
    for path in names() {
        let source = std::fs::read_to_string(&path).unwrap();
        let shown = path.file_name().unwrap().to_string_lossy().into_owned();
        for (number, form) in forms(&source).into_iter().enumerate() {
            let definitions: Vec<&str> = form.iter().map(String::as_str).collect();
            let Some(made) = programs::labelled_at(&path, &definitions) else { return };
            for (at, board) in boards.iter().enumerate() {
                // In the ordinary run a wrong form takes its turn of the boards.
                if !is_long && number > 0 && (at + number + shown.len()) % boards.len() > 1 {
                    continue;
                }
                for processor in &processors {
                    let around = Around { until, ..Around::default() };
                    let mut ran = run_made(*processor, board, &made, &around);
                    let what = format!("{shown} {definitions:?} on {board}");
                    assert!(ran.machine.nanoseconds() < (until + 50) * 1_000_000, "{what} goes on");
                    assert!(ran.machine.asked().len() <= MOST_ASKED && ran.machine.recorded().is_empty(), "{what}");
                    let end = match &ran.stop {
                        Stop::Exit(_) => "ended",
                        Stop::WaitsForKey => "waits for a key",
                        Stop::TimeOver => "runs on",
                        Stop::Trouble(report) => {
                            let text = report.to_string();
                            let says = format!("stopped at {}: the program {}", report.at, report.trouble);
                            assert!(text.starts_with(&says) && !report.last.is_empty(), "{what}: {text}");
                            "in trouble"
                        }
                        stop => panic!("{what}: {stop:?}"),
                    };
                    if is_long && let Some(wait) = ran.machine.stuck_wait() {
                        assert!(!wait.cause.to_string().is_empty(), "{what}");
                    }
                    ends.insert(end);
                    runs += 1;
                }
            }
        }
    }
    println!("{runs} runs: {ends:?}");
    assert!(runs >= 600 && ends.contains("ended") && ends.contains("runs on"), "{runs} runs: {ends:?}");
    // A machine, its boards and some frames are a few megabytes each.
    assert!(peak().is_none_or(|kilobytes| kilobytes < 600 * 1024), "{:?} KiB at most", peak());
}
