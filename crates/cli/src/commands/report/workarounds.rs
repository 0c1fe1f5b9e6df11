//! Settings that hold against the bench's quirks, for the page: what each costs, how it looks, its tables.

use anyhow::Result;
use backporch_bench::Bench;
use backporch_input::Source;
use backporch_picture::record::Screen;
use backporch_raster::View;
use backporch_report::emit;
use backporch_report::page::{Candidate as Shown, Gauge, Image, Row, Table, Workarounds as Part};
use backporch_signal::SYNC_CAUTION;
use backporch_workaround::{Candidate, Requirements, SearchResult};

use crate::answer::Answer;
use crate::commands::suspects::{self, Faults};
use crate::commands::workaround::{cost, searched};

/// Settings on the page at most.
const MOST: usize = 3;

/// What goes on the page.
pub struct Found {
    pub part: Part,
    /// Tables of the best setting.
    pub tables: Vec<Table>,
}

impl Found {
    /// Searches with progress, against a diagnosis where there is one; a healthy bench has nothing to get around.
    pub fn search(bench: &Bench, diagnosis: Option<&Source>, answer: &Answer) -> Result<Option<Self>> {
        if bench.quirks().is_empty() && diagnosis.is_none() {
            return Ok(None);
        }
        let (need, faults) = (Requirements::default(), suspects::faults(bench, diagnosis)?);
        let part = match searched(bench, &need, &faults, answer) {
            Ok(found) => return Ok(Some(Self::new(bench, &need, &faults, &found)?)),
            Err(reason) => Part { against: format!("Nothing was searched: {reason}."), ..Part::default() },
        };
        Ok(Some(Self { part, tables: Vec::new() }))
    }

    fn new(bench: &Bench, need: &Requirements, faults: &Faults, found: &SearchResult) -> Result<Self> {
        let (candidates, opening) = match found.holds() {
            true => (&found.candidates, "These settings hold against"),
            false => (&found.partial, "No setting holds everywhere. These come nearest, against"),
        };
        let shown = &candidates[..candidates.len().min(MOST)];
        let advised = shown.iter().any(|one| bench.adapter().changes_signal(bench.registers(), &one.registers));
        let mut remarks = Vec::new();
        match candidates.len() - shown.len() {
            0 => {}
            left => remarks.push(format!("And {left} more: backporch workaround tells them all.")),
        }
        Ok(Self {
            part: Part {
                against: format!("{opening} {}, the routine otherwise as it is.", faults.names.join(", ")),
                candidates: shown.iter().map(|one| setting(bench, need, one)).collect::<Result<_>>()?,
                remarks,
                caution: advised.then(|| SYNC_CAUTION.to_string()),
            },
            tables: shown.first().map_or(Vec::new(), |best| tables(bench, best)),
        })
    }
}

fn setting(bench: &Bench, need: &Requirements, candidate: &Candidate) -> Result<Shown> {
    let adapter = bench.adapter();
    let frame = bench.faulty(&candidate.registers).run_frame().picture(View::Picture);
    let usual = adapter.signal(&adapter.start_up(bench.mode()));
    let changes = candidate.changes(adapter, bench.registers());
    Ok(Shown {
        title: title(candidate),
        registers: changes.into_iter().map(|(name, value)| Row::new(name, value.to_string())).collect(),
        facts: facts(bench, need, candidate),
        gauges: candidate.fit.judgement.as_ref().map_or(Vec::new(), Gauge::all),
        picture: if frame.rgba.is_empty() { None } else { Some(Image::of(&frame.rgba, frame.width)?) },
        shape: usual.map_or(4.0 / 3.0, |usual| Screen::shape(&usual, &candidate.fit.signal)),
    })
}

fn title(candidate: &Candidate) -> String {
    format!("{} × {}, {}", candidate.width, candidate.height, steps(candidate))
}

/// How far a step moves the picture.
fn steps(candidate: &Candidate) -> String {
    match (candidate.cost.step_pixels, candidate.cost.step_lines) {
        (pixels, 0) => format!("by {pixels} pixels"),
        (0, lines) => format!("by {lines} lines"),
        (pixels, lines) => format!("by {pixels} pixels and {lines} lines"),
    }
}

fn facts(bench: &Bench, need: &Requirements, candidate: &Candidate) -> Vec<Row> {
    let adapter = bench.adapter();
    let dots = u32::from(adapter.format(adapter.format_index(&candidate.registers)).char_dots);
    let per_row = adapter.timing(&candidate.registers).lines_per_row();
    let fit = &candidate.fit;
    let place = match candidate.centred(dots, per_row) {
        true => "in the middle".to_string(),
        false => format!("{} dots and {} lines off the middle", fit.off_dots, fit.off_lines),
    };
    let mut facts = vec![
        Row::new("gives up", cost(need, candidate)),
        Row::new("clean start addresses", format!("{} of {}", candidate.clean_starts, candidate.of_starts)),
        Row::new("picture", place),
        Row::new("border", format!("{} dots left, {} right", fit.border_dots.0, fit.border_dots.1)),
        Row::new("pitch", format!("{} bytes", candidate.pitch_bytes)),
        Row::new("a step redraws", candidate.redraw.to_string()),
    ];
    if candidate.probability_clean < 1.0 {
        facts.insert(2, Row::new("probability", format!("{:.3}", candidate.probability_clean)));
    }
    if let Some(failing) = &candidate.failing {
        facts.push(Row::new("fails at", failing.to_string()));
    }
    facts
}

/// The writes that set it, in the forms that routines are written in.
fn tables(bench: &Bench, candidate: &Candidate) -> Vec<Table> {
    let table = emit::Table::new(bench.adapter(), bench.mode(), &candidate.registers);
    let (title, name) = (title(candidate), "backporch_setting");
    vec![
        Table { title: format!("{title}: C header"), text: table.to_c(name) },
        Table { title: format!("{title}: assembly include"), text: table.to_assembly(name) },
        Table { title: format!("{title}: CSV"), text: table.to_csv() },
    ]
}
