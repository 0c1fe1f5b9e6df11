//! The program of a survey: its parts put together.

use std::sync::Arc;

use backporch_adapter::{Adapter, Mode};
use iced_x86::IcedError;

use super::facts::SurveyFacts;
use super::flow::{self, SurveyPages};
use super::layout::{ROOM, SurveyRoutines, SurveyVariables};
use super::output::{self, Texts};
use super::tables::SurveyTables;
use super::{SurveyError, SurveyProgram, beam, take_over, timing};
use crate::draft::{Data, Draft, FIRST_GUESS};
use crate::program::{Code, DataPart, LOADED_AT};

/// Code with its notes, data, and the address behind everything.
struct Drafted {
    bytes: Vec<u8>,
    notes: Vec<(usize, String)>,
    parts: Vec<DataPart>,
    end: u32,
}

/// Makes the program.
pub(super) fn program(adapter: &Arc<Adapter>, modes: &[&Mode]) -> Result<SurveyProgram, SurveyError> {
    let facts = SurveyFacts::new(adapter, modes)?;
    let length = draft(&facts, FIRST_GUESS)?.bytes.len();
    let Drafted { bytes, notes, parts, end } = draft(&facts, u32::from(LOADED_AT) + length as u32)?;
    if bytes.len() != length {
        return Err(SurveyError::Assembler("the code's length depends on its data's addresses".to_string()));
    }
    if end > ROOM {
        let allowed = ROOM as usize - usize::from(LOADED_AT);
        return Err(SurveyError::TooLong { found: end as usize - usize::from(LOADED_AT), allowed });
    }
    let head = [
        format!("Survey of a machine with a board of the {} class.", adapter.name()),
        "It measures processor, memory, ports and board, and writes what it finds to SURVEY.TXT.".to_string(),
    ];
    let modes = facts.modes.iter().map(|mode| mode.name.clone()).collect();
    Ok(SurveyProgram { code: Code::new(bytes, notes, parts, &head), modes })
}

/// All of it, the data from an address on.
fn draft(facts: &SurveyFacts<'_>, begin: u32) -> Result<Drafted, SurveyError> {
    let refused = |error: IcedError| SurveyError::Assembler(error.to_string());
    let mut data = Data::from(begin);
    let pages = SurveyPages::put(&mut data, facts);
    let head = format!("backporch survey 1\r\nboard {}\r\n", facts.adapter.name());
    let texts = Texts::put(&mut data, &head);
    // Tables name variables, which stand behind all that is written down: their place is reckoned once without.
    let guess = SurveyVariables::put(&mut Data::from(data.end()));
    let mut measured = Data::from(data.end());
    SurveyTables::put(&mut measured, facts, &guess);
    let variables = SurveyVariables::put(&mut Data::from(measured.end()));
    let tables = SurveyTables::put(&mut data, facts, &variables);
    let variables = SurveyVariables::put(&mut data);
    let mut draft = Draft::new().map_err(refused)?;
    write(&mut draft, facts, &variables, (&pages, &texts, &tables)).map_err(refused)?;
    let bytes = draft.asm.assemble(u64::from(LOADED_AT)).map_err(refused)?;
    Ok(Drafted { bytes, notes: draft.notes, parts: data.parts, end: variables.end })
}

fn write(
    d: &mut Draft,
    facts: &SurveyFacts<'_>,
    v: &SurveyVariables,
    (pages, texts, tables): (&SurveyPages, &Texts, &SurveyTables),
) -> Result<(), IcedError> {
    let mut r = SurveyRoutines::new(d);
    flow::write(d, &mut r, v, facts, (pages, texts, tables))?;
    timing::write(d, &mut r, v, &pages.timing)?;
    beam::write(d, &mut r, v, facts, &pages.beam)?;
    take_over::write(d, &mut r, v, facts, &pages.take_over)?;
    output::write(d, &mut r, v, texts)
}
