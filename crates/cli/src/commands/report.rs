//! `report`: one self-contained HTML page.

use anyhow::Result;
use backporch_analysis::{Over, Sweep, sweep};
use backporch_bench::{Bench, Packed, Wishes, adapter_names, pack};
use backporch_picture::mark::Mark;
use backporch_report::page::{BenchPart, Compared, Comparison, Embedded, Page, SignalPart, SweepPart, Table};
use backporch_signal::SYNC_CAUTION;
use serde::Serialize;

use super::sweep::{mark, swept};
use crate::answer::{Answer, Found};
use crate::args::ReportArgs;
use crate::{files, progress};

/// The JSON form.
#[derive(Debug, Serialize)]
struct ReportAnswer {
    board: String,
    quirks: Vec<String>,
    file: String,
    bytes: usize,
    steps: usize,
    damaged_steps: usize,
}

pub fn run(args: &ReportArgs, answer: &mut Answer) -> Result<Found> {
    let wishes = args.bench.wishes();
    let bench = Bench::open(&args.bench.bench, &wishes)?;
    super::frame::say_notes(&bench, answer)?;
    let over = ranges(&bench, args)?;
    let sweep = swept(&bench, &over, args.hold, answer)?;
    let page = page(args, &bench, &over, &sweep, answer)?;
    let html = page.html()?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".html"));
    files::write(answer, &path, html.as_bytes())?;
    let damaged = sweep.bad().count();
    if path.as_os_str() != "-" {
        let told = ReportAnswer {
            board: bench.adapter().name().to_string(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            file: path.display().to_string(),
            bytes: html.len(),
            steps: sweep.steps.len(),
            damaged_steps: damaged,
        };
        answer.give(&told, ReportAnswer::text)?;
    }
    Ok(if damaged > 0 { Found::Something } else { Found::Nothing })
}

fn ranges(bench: &Bench, args: &ReportArgs) -> Result<Vec<Over>> {
    let over = args.over.iter().map(|(name, range)| {
        let field = bench.field(name)?;
        Ok(Over::new(bench.adapter(), field, range.iter())?)
    });
    over.collect()
}

/// Fills the page.
pub fn page(args: &ReportArgs, bench: &Bench, over: &[Over], sweep: &Sweep, answer: &Answer) -> Result<Page> {
    let bar = progress::bar(answer, "drawing frames", sweep.steps.len() as u64);
    let drawn = SweepPart::new(bench, over, sweep, args.hold, &|| bar.inc(1))?;
    bar.finish_and_clear();
    let packed = pack(&args.bench.bench, &args.bench.wishes())?;
    Ok(Page {
        title: args.title.clone().unwrap_or_else(|| title(bench)),
        made_by: concat!("backporch ", env!("CARGO_PKG_VERSION")).to_string(),
        bench: BenchPart::new(bench),
        signal: SignalPart::new(bench, bench.registers()),
        sweep: Some(drawn),
        comparison: compared(args, bench, over, sweep),
        diagnosis: None,
        workarounds: None,
        hazards: None,
        tables: vec![registers(bench)],
        cautions: vec![SYNC_CAUTION.to_string()],
        command: command(args, &packed),
        files: packed.into_iter().map(|Packed { name, bytes }| Embedded { name, bytes }).collect(),
    })
}

fn title(bench: &Bench) -> String {
    match bench.title().is_empty() {
        true => format!("{} in {}", bench.adapter().name(), bench.mode().name),
        false => bench.title().to_string(),
    }
}

/// The command that makes the page again from the packed bench, whose file has all wishes in it.
fn command(args: &ReportArgs, packed: &[Packed]) -> String {
    let bench = packed.first().map_or("", |file| file.name.as_str());
    let mut words = vec!["backporch".to_string(), "report".to_string(), quoted(bench)];
    for (name, range) in &args.over {
        words.extend(["--over".to_string(), quoted(&format!("{name}={range}"))]);
    }
    if args.hold != 1 {
        words.extend(["--hold".to_string(), args.hold.to_string()]);
    }
    if let Some(title) = &args.title {
        words.extend(["--title".to_string(), quoted(title)]);
    }
    words.join(" ")
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

/// The same sweep on a healthy board of the class, and on healthy boards of every other class that can run it.
fn compared(args: &ReportArgs, bench: &Bench, over: &[Over], sweep: &Sweep) -> Option<Comparison> {
    let mut boards = vec![told(&super::frame::caption(bench), bench, sweep)];
    if !bench.quirks().is_empty() {
        let healthy = bench.with_quirks(Vec::new());
        boards.extend(run_on(&healthy, over, args.hold));
    }
    for name in adapter_names().filter(|name| *name != bench.adapter().name()) {
        let wishes = Wishes {
            board: Some(name.to_string()),
            no_quirks: true,
            quirks: Vec::new(),
            monitor: None,
            ..args.bench.wishes()
        };
        // Registers and pictures that another class cannot take make no comparison.
        let Ok(other) = Bench::open(&args.bench.bench, &wishes) else {
            continue;
        };
        let again: Option<Vec<Over>> = args
            .over
            .iter()
            .map(|(name, range)| Over::new(other.adapter(), other.field(name).ok()?, range.iter()).ok())
            .collect();
        boards.extend(again.and_then(|over| run_on(&other, &over, args.hold)));
    }
    (boards.len() > 1).then(|| Comparison { conclusion: conclusion(&boards), boards })
}

fn run_on(bench: &Bench, over: &[Over], hold: u32) -> Option<Compared> {
    let swept = sweep(bench, over, hold, &|| ()).ok()?;
    Some(told("healthy", bench, &swept))
}

fn told(faults: &str, bench: &Bench, sweep: &Sweep) -> Compared {
    let first = sweep.bad().next().map(|step| {
        let values: Vec<String> =
            sweep.names.iter().zip(&step.values).map(|(name, value)| format!("{name} {value}")).collect();
        let x = step.damage.x.as_ref().map_or(String::new(), |x| format!(", pixels {} to {}", x.start(), x.end()));
        format!("{}{x}", values.join(", "))
    });
    Compared {
        name: format!("{}, {faults}", bench.adapter().name()),
        verdicts: sweep.steps.iter().map(|step| mark(step.verdict)).collect(),
        first: first.unwrap_or_default(),
    }
}

fn conclusion(boards: &[Compared]) -> String {
    let clean = |board: &Compared| board.worst() == Mark::Clean;
    let Some((own, others)) = boards.split_first() else {
        return String::new();
    };
    match (clean(own), others.iter().all(clean)) {
        (true, true) => "Every board runs it clean.",
        (true, false) => "This board runs it clean; not every other one does.",
        (false, true) => {
            "Registers, memory and steps are the same for all; the other boards run them clean. It is not the routine, it \
             is this adapter."
        }
        (false, false) => "Other boards show damage under the same registers, too: look at each.",
    }
    .to_string()
}

impl ReportAnswer {
    fn text(&self) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        format!(
            "{}, {quirks}: {} of {} steps damaged\n{}: {:.2} MB, opens in any browser\n",
            self.board,
            self.damaged_steps,
            self.steps,
            self.file,
            self.bytes as f64 / 1e6
        )
    }
}
