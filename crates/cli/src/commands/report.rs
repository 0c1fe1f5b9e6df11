//! `report`: one self-contained HTML page.

use anyhow::Result;
use backporch_analysis::{Sweep, SweepAxis};
use backporch_bench::{Bench, Packed, pack};
use backporch_input::Source;
use backporch_report::page::{BenchPart, Embedded, Page, SignalPart, SweepPart, Table};
use backporch_signal::SYNC_CAUTION;
use serde::Serialize;

use self::compared::compared;
use self::workarounds::Found as Settings;
use super::suspects;
use super::sweep::swept;
use crate::answer::{Answer, Found};
use crate::args::{DiagnoseArgs, ReportArgs};
use crate::{files, progress};

mod answers;
mod compared;
mod workarounds;

/// The JSON form.
#[derive(Debug, Serialize)]
struct ReportAnswer {
    board: String,
    quirks: Vec<String>,
    file: String,
    bytes: usize,
    steps: usize,
    damaged_steps: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    hazards: Option<usize>,
}

pub fn run(args: &ReportArgs, answer: &mut Answer) -> Result<Found> {
    let overrides = args.bench.overrides();
    let bench = Bench::open(&args.bench.bench, &overrides)?;
    super::frame::say_notes(&bench, answer)?;
    let over = ranges(&bench, args)?;
    let sweep = swept(&bench, &over, args.hold, answer)?;
    let diagnosis = diagnosis(args, answer)?;
    let page = page(args, &bench, &over, &sweep, diagnosis.as_ref(), answer)?;
    let html = page.html()?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".html"));
    files::write(answer, &path, html.as_bytes())?;
    let damaged = sweep.bad().count();
    let hazards = page.hazards.as_ref().map(|hazards| hazards.count());
    if path.as_os_str() != "-" {
        let told = ReportAnswer {
            board: bench.adapter().name().to_string(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            file: path.display().to_string(),
            bytes: html.len(),
            steps: sweep.steps.len(),
            damaged_steps: damaged,
            hazards,
        };
        answer.give(&told, ReportAnswer::text)?;
    }
    Ok(if damaged > 0 || hazards.is_some_and(|count| count > 0) { Found::Something } else { Found::Nothing })
}

fn ranges(bench: &Bench, args: &ReportArgs) -> Result<Vec<SweepAxis>> {
    let over = args.over.iter().map(|(name, range)| {
        let field = bench.field(name)?;
        Ok(SweepAxis::new(bench.adapter(), field, range.iter())?)
    });
    over.collect()
}

/// The diagnosis to be shown: read, or made from sightings.
fn diagnosis(args: &ReportArgs, answer: &Answer) -> Result<Option<Source>> {
    let Some(sightings) = &args.sightings else {
        return suspects::source(args.diagnosis.as_deref());
    };
    let (told, _) = DiagnoseArgs::of(sightings).diagnosis(answer)?;
    Ok(Some(Source::built_in("diagnosis.json", serde_json::to_string_pretty(&told)?)))
}

/// Fills the page.
fn page(
    args: &ReportArgs,
    bench: &Bench,
    over: &[SweepAxis],
    sweep: &Sweep,
    diagnosis: Option<&Source>,
    answer: &Answer,
) -> Result<Page> {
    let bar = progress::bar(answer, "drawing frames", sweep.steps.len() as u64);
    let drawn = SweepPart::new(bench, over, sweep, args.hold, &|| bar.inc(1))?;
    bar.finish_and_clear();
    let (files, command) = again(args, diagnosis)?;
    let settings = if args.no_workarounds { None } else { Settings::search(bench, diagnosis, answer)? };
    let (workarounds, of_settings) = settings.map_or((None, Vec::new()), |found| (Some(found.part), found.tables));
    Ok(Page {
        title: args.title.clone().unwrap_or_else(|| title(bench)),
        made_by: concat!("backporch ", env!("CARGO_PKG_VERSION")).to_string(),
        bench: BenchPart::new(bench),
        signal: SignalPart::new(bench, bench.registers()),
        sweep: Some(drawn),
        comparison: compared(args, bench, over, sweep),
        diagnosis: diagnosis.map(answers::diagnosis).transpose()?,
        workarounds,
        hazards: match args.hazards.as_deref() {
            Some(path) => Some(answers::hazards(path, bench)?),
            None => answers::own_hazards(bench)?,
        },
        tables: std::iter::once(registers(bench)).chain(of_settings).collect(),
        cautions: vec![SYNC_CAUTION.to_string()],
        command,
        files,
    })
}

fn title(bench: &Bench) -> String {
    match bench.title().is_empty() {
        true => format!("{} in {}", bench.adapter().name(), bench.mode().name),
        false => bench.title().to_string(),
    }
}

/// The files from which the page can be made again, and the command that does so. The bench file has all overrides in it.
fn again(args: &ReportArgs, diagnosis: Option<&Source>) -> Result<(Vec<Embedded>, String)> {
    let packed = pack(&args.bench.bench, &args.bench.overrides())?;
    let mut files: Vec<Embedded> = packed.into_iter().map(|Packed { name, bytes }| Embedded { name, bytes }).collect();
    let mut words = vec!["backporch".to_string(), "report".to_string()];
    words.extend(files.first().map(|bench| quoted(&bench.name)));
    for (name, range) in &args.over {
        words.extend(["--over".to_string(), quoted(&format!("{name}={range}"))]);
    }
    if args.hold != 1 {
        words.extend(["--hold".to_string(), args.hold.to_string()]);
    }
    let hazards = args.hazards.as_deref().map(Source::read).transpose()?;
    for (option, source) in [("--diagnosis", diagnosis), ("--hazards", hazards.as_ref())] {
        if let Some(source) = source {
            let file = answers::embedded(source, &files);
            words.extend([option.to_string(), quoted(&file.name)]);
            files.push(file);
        }
    }
    if args.no_workarounds {
        words.push("--no-workarounds".to_string());
    }
    if let Some(title) = &args.title {
        words.extend(["--title".to_string(), quoted(title)]);
    }
    Ok((files, words.join(" ")))
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |sign: char| sign.is_ascii_alphanumeric() || "-_.,=/:+@%".contains(sign);
    match !word.is_empty() && word.chars().all(plain) {
        true => word.to_string(),
        false => format!("'{}'", word.replace('\'', r"'\''")),
    }
}

/// Every named register as the bench sets it.
fn registers(bench: &Bench) -> Table {
    let adapter = bench.adapter();
    let fields = adapter.fields().filter(|(_, info)| info.access.writes());
    let text = fields.map(|(field, info)| {
        let value = adapter.get(bench.registers(), field);
        format!("{:22} {value:5}  {value:04X}h\n", info.name)
    });
    Table { title: "Registers as the bench sets them".to_string(), text: text.collect() }
}

impl ReportAnswer {
    fn text(&self) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        let hazards = self.hazards.map_or_else(String::new, |count| format!(", {count} hazards of the routine"));
        format!(
            "{}, {quirks}: {} of {} steps damaged{hazards}\n{}: {:.2} MB, opens in any browser\n",
            self.board,
            self.damaged_steps,
            self.steps,
            self.file,
            self.bytes as f64 / 1e6
        )
    }
}
