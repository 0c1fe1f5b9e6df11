//! The page of file forms: its examples are read by the commands that it names, and its tables have just the fields that the
//! program says it allows.

use std::collections::BTreeSet;

use crate::program::Bench;

const PAGE: &str = include_str!("../../docs/files.md");

/// What stands for the file in a command.
const FILE: &str = "FILE";

/// A heading of the page, a file's name, the command that reads it, and a file of that form with a field that no form has.
struct Form {
    heading: &'static str,
    name: &'static str,
    command: &'static [&'static str],
    unknown: &'static str,
}

const BENCH: &[&str] = &["frame", FILE, "--at", "1,1"];
const NEED: &[&str] = &["workaround", "harbour-256", "--need", FILE];
const SIGHTINGS: &[&str] = &["diagnose", FILE, "--probes", "0"];
const PLAN: &[&str] = &["emit", "harbour-256", "--as", "session", "--plan", FILE, "--out", "asked.com"];
const ROUTINE: &[&str] = &["hazards", "scroll-clean", "--frames", "3", "--routine", FILE];
const PROCESSOR: &[&str] = &["hazards", "scroll-clean", "--frames", "3", "--cpu", FILE];
const MONITOR: &[&str] = &["signal", "harbour-256", "--monitor", FILE];
const QUIRK: &[&str] = &["quirks", "check", FILE];
const PROFILE: &[&str] = &["boards", FILE];

const fn form(
    heading: &'static str,
    name: &'static str,
    command: &'static [&'static str],
    unknown: &'static str,
) -> Form {
    Form { heading, name, command, unknown }
}

const FORMS: &[Form] = &[
    form("## Bench", "a.bench.ron", BENCH, "(unknown: 1)"),
    form("### A quirk on a bench", "a.bench.ron", BENCH, "(quirks: [(unknown: 1)])"),
    form("### The picture on a bench", "a.bench.ron", BENCH, "(picture: (unknown: 1))"),
    form("### A picture laid over it", "a.bench.ron", BENCH, "(overlays: [Picture(unknown: 1)])"),
    form("### A text laid over it", "a.bench.ron", BENCH, "(overlays: [Text(unknown: 1)])"),
    form("### A place", "a.bench.ron", BENCH, "(overlays: [Picture(place: (unknown: 1))])"),
    form("### The machine on a bench", "a.bench.ron", BENCH, "(machine: (unknown: 1))"),
    form("## Requirements", "a.need.ron", NEED, "(unknown: 1)"),
    form("### A size", "a.need.ron", NEED, "(size: (unknown: 1))"),
    form("## Sightings", "a.sightings.ron", SIGHTINGS, "(unknown: 1)"),
    form("### An experiment", "a.sightings.ron", SIGHTINGS, "(experiments: [(unknown: 1)])"),
    form("### A sighting", "a.sightings.ron", SIGHTINGS, "(experiments: [(seen: [(unknown: 1)])])"),
    form("## Plan", "a.plan.ron", PLAN, "(unknown: 1)"),
    form("### A planned experiment", "a.plan.ron", PLAN, "(experiments: [(unknown: 1)])"),
    form("## Routine", "a.routine.ron", ROUTINE, "(unknown: 1)"),
    form("### A counter", "a.routine.ron", ROUTINE, "(counters: {\"one\": (unknown: 1)})"),
    form("## Write trace", "a.csv", ROUTINE, ""),
    form("## Processor", "a.ron", PROCESSOR, "(unknown: 1)"),
    form("### A bus", "a.ron", PROCESSOR, "(bus: (unknown: 1))"),
    form("### A table of clocks", "a.ron", PROCESSOR, "(clocks: Listed((unknown: 1)))"),
    form("## Monitor", "a.ron", MONITOR, "(unknown: 1)"),
    form("## Quirk", "a.ron", QUIRK, "(unknown: 1)"),
    form("### An effect", "a.ron", QUIRK, "(effects: [(unknown: 1)])"),
    form("## Adapter profile", "a.ron", PROFILE, "(based_on: \"vga\", unknown: 1)"),
    form("### A profile whole", "a.ron", PROFILE, "(unknown: 1)"),
];

/// What stands under a heading, up to the next one.
fn section(heading: &str) -> &'static str {
    let from = PAGE.find(&format!("\n{heading}\n")).unwrap_or_else(|| panic!("{heading} is missing")) + 1;
    let rest = &PAGE[from + heading.len()..];
    rest.find("\n##").map_or(rest, |end| &rest[..end])
}

/// The example under a heading, where there is one.
fn example(section: &str) -> Option<&str> {
    let (_, rest) = section.split_once("```ron\n").or_else(|| section.split_once("```csv\n"))?;
    Some(rest.split_once("```").unwrap().0)
}

/// The fields in the table under a heading.
fn documented(section: &str) -> BTreeSet<&str> {
    let rows = section.lines().skip_while(|line| !line.starts_with("| field |"));
    let rows = rows.take_while(|line| line.starts_with('|')).skip(2);
    rows.map(|row| row.split('`').nth(1).unwrap_or_else(|| panic!("{row}"))).collect()
}

fn arguments(form: &Form) -> Vec<&'static str> {
    form.command.iter().map(|argument| if *argument == FILE { form.name } else { argument }).collect()
}

#[test]
fn every_example_of_the_page_is_read() {
    for form in FORMS {
        let Some(example) = example(section(form.heading)) else { continue };
        let bench = Bench::new();
        bench.write(form.name, example);
        let ran = bench.run(&arguments(form));
        assert!(ran.status == 0 || ran.status == 1, "{}: {} {}", form.heading, ran.status, ran.err);
    }
    let sections = PAGE.matches("\n## ").count();
    let examples = FORMS.iter().filter(|form| form.heading.starts_with("## ")).count();
    assert_eq!(sections, examples, "every file has its example");
}

#[test]
fn the_tables_have_the_fields_that_are_allowed() {
    for form in FORMS.iter().filter(|form| !form.unknown.is_empty()) {
        let bench = Bench::new();
        bench.write(form.name, form.unknown);
        let ran = bench.run(&arguments(form));
        assert_eq!(ran.status, 2, "{}", form.heading);
        let (_, allowed) = ran.err.trim().split_once("found an unknown field, allowed ").unwrap_or_else(|| {
            panic!("{}: {}", form.heading, ran.err);
        });
        assert_eq!(documented(section(form.heading)), allowed.split(", ").collect(), "{}", form.heading);
    }
    let tables = PAGE.matches("| field |").count();
    assert_eq!(tables, FORMS.iter().filter(|form| !form.unknown.is_empty()).count(), "every table is checked");
}
