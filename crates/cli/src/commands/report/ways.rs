//! Tables with a start address for every step, for the page: what each gives up, and its worst steps as a filmstrip.

use anyhow::Result;
use backporch_answer::StepTableAnswer;
use backporch_bench::Bench;
use backporch_picture::mark::Mark;
use backporch_picture::record::ScreenShape;
use backporch_quirk::QuirkStack;
use backporch_report::page::{EmbeddedPicture, FilmStep, Way, way_facts, way_title};
use backporch_workaround::{StepTable, TableSearch};

use crate::commands::suspects::Faults;

/// Tables on the page at most.
const MOST: usize = 8;
/// Steps of a filmstrip at most.
const MOST_STEPS: usize = 4;

/// The tables, the best first, under the likeliest suspect that each holds under.
pub fn shown(bench: &Bench, faults: &Faults, found: &TableSearch) -> Result<Vec<Way>> {
    let way = |table: &StepTable| {
        let suspect = table.holds_under.first().and_then(|at| faults.suspects.get(*at))?;
        Some(shown_way(bench, table, &suspect.tap))
    };
    found.tables.iter().take(MOST).filter_map(way).collect()
}

fn shown_way(bench: &Bench, table: &StepTable, suspect: &QuirkStack) -> Result<Way> {
    let answer = StepTableAnswer::new(bench, table);
    let [red, green, blue] = Mark::Broken.colour();
    let usual = bench.adapter().signal(&bench.adapter().start_up(bench.mode()));
    let film = table.worst_steps(MOST_STEPS).into_iter().filter_map(|step| {
        let view = table.view(bench, step, suspect)?;
        let shown = view.marked(table.height, [red, green, blue, 255]);
        Some(EmbeddedPicture::of(&shown.rgba, shown.width).map(|picture| FilmStep { picture, says: table.says(step) }))
    });
    Ok(Way {
        title: way_title(&answer),
        facts: way_facts(&answer),
        film: film.collect::<Result<_, _>>()?,
        shape: usual.map_or(4.0 / 3.0, |usual| ScreenShape::shape(&usual, &table.fit.signal)),
    })
}
