//! Settings that hold against the bench's quirks, for the page: what each costs, how it looks, its tables.

use anyhow::Result;
use backporch_answer::{CandidateAnswer, DiagnoseAnswer};
use backporch_bench::Bench;
use backporch_emit::WriteTable as RegisterTable;
use backporch_picture::record::ScreenShape;
use backporch_raster::View;
use backporch_report::page::{
    CandidatePart as Shown, EmbeddedPicture, Gauge, NamedValue, RegisterValues, WorkaroundsPart as Part,
    candidate_facts, candidate_title,
};
use backporch_signal::SYNC_CAUTION;
use backporch_workaround::{Candidate, Requirements, SearchResult};

use crate::commands::suspects::{self, Faults, ReadDocument};
use crate::commands::workaround::searched;
use crate::output::Output;

/// Settings on the page at most.
const MOST: usize = 3;

/// What goes on the page.
pub struct SearchedWorkarounds {
    pub part: Part,
    /// Tables of the best setting.
    pub tables: Vec<RegisterValues>,
}

impl SearchedWorkarounds {
    /// Searches with progress, against a diagnosis where there is one; a plain board has nothing to get around.
    pub fn search(
        bench: &Bench,
        diagnosis: Option<&ReadDocument<DiagnoseAnswer>>,
        output: &Output,
    ) -> Result<Option<Self>> {
        if bench.layers().is_plain() && diagnosis.is_none() {
            return Ok(None);
        }
        let (need, faults) = (Requirements::default(), suspects::faults(bench, diagnosis)?);
        let part = match searched(bench, &need, &faults, output) {
            Ok(found) => return Ok(Some(Self::new(bench, &need, &faults, &found)?)),
            Err(reason) => Part { against: format!("Nothing was searched: {reason}."), ..Part::default() },
        };
        Ok(Some(Self { part, tables: Vec::new() }))
    }

    fn new(bench: &Bench, need: &Requirements, faults: &Faults, found: &SearchResult) -> Result<Self> {
        let (candidates, opening) = if found.holds() {
            (&found.candidates, "These settings hold against")
        } else {
            (&found.partial, "No setting holds everywhere. These come nearest, against")
        };
        let shown = &candidates[..candidates.len().min(MOST)];
        let answers: Vec<CandidateAnswer> =
            shown.iter().map(|candidate| CandidateAnswer::new(bench, need, candidate)).collect();
        let remarks = match candidates.len() - shown.len() {
            0 => Vec::new(),
            left => vec![format!("And {left} more: backporch workaround lists them all.")],
        };
        Ok(Self {
            tables: shown.iter().zip(&answers).next().map_or(Vec::new(), |(best, answer)| tables(bench, best, answer)),
            part: Part {
                against: format!("{opening} {}, the routine otherwise as it is.", faults.names.join(", ")),
                caution: shown
                    .iter()
                    .any(|one| bench.adapter().changes_signal(bench.registers(), &one.registers))
                    .then(|| SYNC_CAUTION.to_string()),
                candidates: shown
                    .iter()
                    .zip(answers)
                    .map(|(candidate, answer)| setting(bench, candidate, &answer))
                    .collect::<Result<_>>()?,
                remarks,
            },
        })
    }
}

fn setting(bench: &Bench, candidate: &Candidate, answer: &CandidateAnswer) -> Result<Shown> {
    let adapter = bench.adapter();
    let frame = bench.faulty(&candidate.registers).run_frame().picture(View::Picture);
    let usual = adapter.signal(&adapter.start_up(bench.mode()));
    Ok(Shown {
        title: candidate_title(answer),
        registers: answer.registers.iter().map(|(name, value)| NamedValue::new(name, value.to_string())).collect(),
        facts: candidate_facts(answer),
        gauges: candidate.fit.judgement.as_ref().map_or(Vec::new(), Gauge::all),
        picture: if frame.rgba.is_empty() { None } else { Some(EmbeddedPicture::of(&frame.rgba, frame.width)?) },
        shape: usual.map_or(4.0 / 3.0, |usual| ScreenShape::shape(&usual, &candidate.fit.signal)),
    })
}

/// The writes that set it, in the forms that routines are written in.
fn tables(bench: &Bench, candidate: &Candidate, answer: &CandidateAnswer) -> Vec<RegisterValues> {
    let table = RegisterTable::new(bench.adapter(), bench.mode(), &candidate.registers);
    let (title, name) = (candidate_title(answer), "backporch_setting");
    vec![
        RegisterValues { title: format!("{title}: C header"), text: table.to_c(name) },
        RegisterValues { title: format!("{title}: assembly include"), text: table.to_assembly(name) },
        RegisterValues { title: format!("{title}: CSV"), text: table.to_csv() },
    ]
}
