//! `report`: one self-contained HTML page.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_analysis::{Sweep, SweepAxis};
use backporch_answer::{DiagnoseAnswer, Document, HazardsAnswer, ReportAnswer};
use backporch_bench::{Bench, Outside, case_name};
use backporch_drive::checked_pack;
use backporch_input::{FileOfCase, Range, Source};
use backporch_report::page::{BenchPart, Embedded, HazardsPart, Page, RegisterValues, SignalPart, SweepPart};
use backporch_signal::SYNC_CAUTION;
use clap::Args;

use self::captures::ReadCaptures;
use self::compared::compared;
use self::workarounds::SearchedWorkarounds as Settings;
use super::diagnose::DiagnoseArgs;
use super::measure::{CaptureSettings, likeliest};
use super::suspects::{self, ReadDocument};
use super::sweep::swept;
use crate::args::{BenchArgs, known, ranging, steps_over, value};
use crate::output::{CheckResult, Output};
use crate::{files, progress};

mod answers;
mod captures;
mod compared;
mod ways;
mod workarounds;

#[derive(Debug, Args)]
pub struct ReportArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Register and range (twice for two registers)
    #[arg(long, value_name = "REGISTER=RANGE", value_parser = known::register(ranging), hide_possible_values = true, default_value = "start_address=0..64")]
    pub over: Vec<(String, Range)>,
    /// Frames a step is shown before it is judged
    #[arg(long, value_name = "FRAMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub hold: u32,
    /// Put suspects and probes on the page: the JSON answer of `diagnose`
    #[arg(long, value_name = "JSON", conflicts_with = "sightings")]
    pub diagnosis: Option<PathBuf>,
    /// The same from a sightings file, or built-in sightings, diagnosed on the way
    #[arg(long, value_name = "NAME|FILE")]
    pub sightings: Option<String>,
    /// Put a capture or photograph of the real screen on the page, with what `measure` reads on it; again for others.
    /// look-%d.png is every file numbered so. The files go into the page's case as they are
    #[arg(long = "capture", value_name = "CAPTURE")]
    pub captures: Vec<PathBuf>,
    /// What the register of the first --over held on the captures: once for all, or once for each in their order
    /// [default: the start address is found from the picture; of other registers the bench's own]
    #[arg(long, value_name = "STEP", value_parser = value, value_delimiter = ',', requires = "captures")]
    pub at: Vec<u64>,
    /// Captures show the test card of a session, whether its codes can be read or not
    #[arg(long, requires = "captures")]
    pub card: bool,
    /// Put these hazards on the page, in place of those of the bench's own routine: the JSON answer of `hazards`
    #[arg(long, value_name = "JSON")]
    pub hazards: Option<PathBuf>,
    /// Leave out the search for settings that hold
    #[arg(long)]
    pub no_workarounds: bool,
    /// What stands at the head of the page [default: the bench's title]
    #[arg(long, value_name = "TEXT")]
    pub title: Option<String>,
    /// Where the page goes; `-` for standard output [default: BENCH.html]
    #[arg(long, value_name = "HTML")]
    pub out: Option<PathBuf>,
}

pub fn run(args: &ReportArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["html", "htm"])?;
    let bench = args.bench.open()?;
    output.notes(&bench)?;
    let over = steps_over(&bench, &args.over)?;
    let diagnosis = diagnosis(args, output)?;
    let captures = captures(args, &bench, diagnosis.as_ref(), output)?;
    let sweep = swept(&bench, &over, args.hold, output)?;
    let page = page(args, &bench, &over, &sweep, diagnosis.as_ref(), captures.as_ref(), output)?;
    let html = page.html()?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".html"));
    files::write(output, &path, html.as_bytes())?;
    let damaged = sweep.bad().count();
    let hazards = page.hazards.as_ref().map(|hazards| hazards.count());
    if path.as_os_str() != "-" {
        let answer = ReportAnswer {
            board: bench.adapter().name().to_string(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            file: path.display().to_string(),
            bytes: html.len(),
            steps: sweep.steps.len(),
            damaged_steps: damaged,
            hazards,
            wrong_lines: captures.as_ref().map(|captures| captures.wrong),
        };
        output.answer(&answer, ReportAnswer::text)?;
    }
    let is_wrong = captures.is_some_and(|captures| captures.wrong > 0);
    Ok(if damaged > 0 || is_wrong || hazards.is_some_and(|count| count > 0) {
        CheckResult::Something
    } else {
        CheckResult::Nothing
    })
}

/// What captures show, where some were given; the suspects of a diagnosis come into question, too.
fn captures(
    args: &ReportArgs,
    bench: &Bench,
    diagnosis: Option<&ReadDocument<DiagnoseAnswer>>,
    output: &Output,
) -> Result<Option<ReadCaptures>> {
    let Some((over, _)) = args.over.first().filter(|_| !args.captures.is_empty()) else { return Ok(None) };
    args.bench.refuse_routine("none with captures: they are held against a board at rest")?;
    let suspects = diagnosis.map_or_else(|| Ok(Vec::new()), |diagnosis| likeliest(bench, diagnosis))?;
    let settings = CaptureSettings {
        captures: &args.captures,
        at: &args.at,
        steps: None,
        is_card: args.card,
        suspects: &suspects,
    };
    Ok(Some(ReadCaptures::read(settings, bench, bench.field(over)?, output)?))
}

/// The diagnosis to be shown: read, or made from sightings.
fn diagnosis(args: &ReportArgs, output: &Output) -> Result<Option<ReadDocument<DiagnoseAnswer>>> {
    let Some(sightings) = &args.sightings else {
        return suspects::read(args.diagnosis.as_deref());
    };
    let answer = DiagnoseArgs::of(sightings).diagnosis(output)?;
    let json = serde_json::to_string_pretty(&Document::new(&answer))?;
    Ok(Some(ReadDocument { source: Source::built_in("diagnosis.json", json), answer }))
}

/// The hazards to be shown in place of those of the bench's own routine.
fn hazards(path: Option<&Path>) -> Result<Option<ReadDocument<HazardsAnswer>>> {
    path.map(|path| suspects::document(path, "hazards")).transpose()
}

/// Fills the page.
fn page(
    args: &ReportArgs,
    bench: &Bench,
    over: &[SweepAxis],
    sweep: &Sweep,
    diagnosis: Option<&ReadDocument<DiagnoseAnswer>>,
    captures: Option<&ReadCaptures>,
    output: &Output,
) -> Result<Page> {
    let bar = progress::bar(output, "drawing frames", sweep.steps.len() as u64);
    let drawn = SweepPart::new(bench, over, sweep, args.hold, &|| bar.inc(1))?;
    bar.finish_and_clear();
    let given = hazards(args.hazards.as_deref())?;
    let sources =
        [("--diagnosis", diagnosis.map(|read| &read.source)), ("--hazards", given.as_ref().map(|read| &read.source))];
    let Again { case, files, command } = again(args, sources, captures)?;
    let settings = if args.no_workarounds { None } else { Settings::search(bench, diagnosis, output)? };
    let (workarounds, of_settings) = settings.map_or((None, Vec::new()), |found| (Some(found.part), found.tables));
    Ok(Page {
        title: args.title.clone().unwrap_or_else(|| title(bench)),
        made_by: concat!("backporch ", env!("CARGO_PKG_VERSION")).to_string(),
        bench: BenchPart::new(bench),
        signal: SignalPart::new(bench, bench.registers()),
        sweep: Some(drawn),
        comparison: compared(args, bench, over, sweep),
        captures: captures.map(|captures| captures.part.clone()),
        diagnosis: diagnosis.map(|read| (&read.answer).into()),
        workarounds,
        hazards: match given {
            Some(given) => {
                Some(HazardsPart::new(&given.answer, bench.adapter().signal(bench.registers()).ok().as_ref()))
            }
            None => answers::own_hazards(bench)?,
        },
        tables: std::iter::once(registers(bench)).chain(of_settings).collect(),
        cautions: vec![SYNC_CAUTION.to_string()],
        command,
        case,
        files,
    })
}

fn title(bench: &Bench) -> String {
    if bench.title().is_empty() {
        format!("{} in {}", bench.adapter().name(), bench.mode().name)
    } else {
        bench.title().to_string()
    }
}

/// What the page is made from, and how it is made again.
struct Again {
    case: Embedded,
    files: Vec<Embedded>,
    command: String,
}

/// The case from which the page can be made again, and the command that does so. The bench file has all overrides in it.
fn again(args: &ReportArgs, sources: [(&str, Option<&Source>); 2], captures: Option<&ReadCaptures>) -> Result<Again> {
    let name = &args.bench.bench;
    let answers = sources.iter().filter_map(|(_, source)| source.map(answers::handed));
    let handed = answers.chain(captures.into_iter().flat_map(ReadCaptures::handed)).collect();
    let pack = checked_pack(name, &args.bench.overrides(), &Outside::Named, handed)?;
    let case = case_name(name);
    let mut words = vec!["backporch".to_string(), "report".to_string(), quoted(&case)];
    for (name, range) in &args.over {
        words.extend(["--over".to_string(), quoted(&format!("{name}={range}"))]);
    }
    if args.hold != 1 {
        words.extend(["--hold".to_string(), args.hold.to_string()]);
    }
    for (option, source) in sources {
        let packed = source.and_then(|source| answers::packed(source, &pack));
        words.extend(packed.into_iter().flat_map(|name| [option.to_string(), quoted(&format!("{case}/{name}"))]));
    }
    for name in captures.into_iter().flat_map(|captures| captures.packed(&pack)) {
        words.extend(["--capture".to_string(), quoted(&format!("{case}/{name}"))]);
    }
    if !args.at.is_empty() {
        let steps: Vec<String> = args.at.iter().map(ToString::to_string).collect();
        words.extend(["--at".to_string(), steps.join(",")]);
    }
    if args.card {
        words.push("--card".to_string());
    }
    if args.no_workarounds {
        words.push("--no-workarounds".to_string());
    }
    if let Some(title) = &args.title {
        words.extend(["--title".to_string(), quoted(title)]);
    }
    let bytes = pack.case(&case)?;
    let file = |file: &FileOfCase| Embedded { name: file.name.clone(), bytes: file.bytes.clone() };
    let files = pack.files.iter().map(file).collect();
    Ok(Again { case: Embedded { name: case, bytes }, files, command: words.join(" ") })
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |sign: char| sign.is_ascii_alphanumeric() || "-_.,=/:+@%".contains(sign);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_string()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

/// Every named register as the bench sets it.
fn registers(bench: &Bench) -> RegisterValues {
    let adapter = bench.adapter();
    let fields = adapter.fields().filter(|(_, info)| info.access.writes());
    let text = fields.map(|(field, info)| {
        let value = adapter.get(bench.registers(), field);
        format!("{:22} {value:5}  {value:04X}h\n", info.name)
    });
    RegisterValues { title: "Registers as the bench sets them".to_string(), text: text.collect() }
}
