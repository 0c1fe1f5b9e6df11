//! The guide's worked case: its commands print what the chapter says, its file is the one it shows.

use crate::program::Bench;

const CHAPTER: &str = include_str!("../../docs/diagnose.md");
const SWEEP: &str = include_str!("../../assets/sightings/harbour-sweep.sightings.ron");

/// The contents of the chapter's blocks of one kind.
fn blocks(kind: &str) -> impl Iterator<Item = &'static str> {
    let opening = format!("```{kind}\n");
    let inside = |rest: &'static str| rest.split("```").next().unwrap_or("");
    CHAPTER
        .match_indices(&opening)
        .map(|(at, found)| inside(&CHAPTER[at + found.len()..]))
        .collect::<Vec<_>>()
        .into_iter()
}

#[test]
fn the_commands_of_the_worked_case_print_what_it_says() {
    let bench = Bench::new();
    let mut ran = 0;
    for block in blocks("console") {
        for part in block.split("$ backporch ").skip(1) {
            let (line, printed) = part.split_once('\n').unwrap();
            let (typed, file) = line.split_once(" > ").map_or((line, None), |(typed, file)| (typed, Some(file)));
            let arguments: Vec<&str> = typed.split_whitespace().collect();
            let told = bench.run(&arguments);
            assert!(told.status < 2, "{line}: {}", told.err);
            match file {
                Some(file) => drop(bench.write(file, told.out)),
                None => assert_eq!(told.out, printed, "{line}"),
            }
            ran += 1;
        }
    }
    assert!(ran >= 6, "{ran} commands were found");
}

#[test]
fn the_sightings_shown_are_the_built_in_ones() {
    let bare = |text: &str| -> Vec<String> {
        let lines = text.lines().filter(|line| !line.trim_start().starts_with("//"));
        lines.map(str::to_string).collect()
    };
    let shown = blocks("ron").next().expect("a sightings file");
    assert_eq!(bare(shown), bare(SWEEP));
}
