//! Tables with a start address for every step, for the page: what each gives up, and its worst steps as a filmstrip.

use anyhow::Result;
use backporch_answer::StepTableAnswer;
use backporch_bench::Bench;
use backporch_picture::mark::Mark;
use backporch_picture::record::ScreenShape;
use backporch_quirk::QuirkStack;
use backporch_raster::View;
use backporch_report::page::{EmbeddedPicture, FilmStep, Way, way_facts, way_title};
use backporch_workaround::{StepTable, StepView, TableSearch, TableStep};

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
    let usual = bench.adapter().signal(&bench.adapter().start_up(bench.mode()));
    let film = table.worst_steps(MOST_STEPS).into_iter().filter_map(|step| {
        let view = table.view(bench, step, suspect)?;
        Some(marked(&view, table.height).map(|picture| FilmStep { picture, says: says(table, step) }))
    });
    Ok(Way {
        title: way_title(&answer),
        facts: way_facts(&answer),
        film: film.collect::<Result<_>>()?,
        shape: usual.map_or(4.0 / 3.0, |usual| ScreenShape::shape(&usual, &table.fit.signal)),
    })
}

/// Which step it is, and what is wrong in it.
fn says(table: &StepTable, step: &TableStep) -> String {
    let (position, start) = (step.position, table.start(step));
    let shows = if position == start { String::new() } else { format!(" shows start address {start}") };
    match step.wrong.pixels {
        0 => format!("position {position}{shows}: nothing wrong"),
        pixels => format!("position {position}{shows}: {pixels} pixels wrong"),
    }
}

/// What is shown of the picture's lines; what is not as meant has the colour of damage.
fn marked(view: &StepView, height: u32) -> Result<EmbeddedPicture> {
    let (meant, mut shown) = (view.meant.picture(View::Picture), view.shown.picture(View::Picture));
    shown.rgba.truncate((shown.width * height) as usize);
    let [red, green, blue] = Mark::Broken.colour();
    for (pixel, meant) in shown.rgba.iter_mut().zip(&meant.rgba) {
        if pixel != meant {
            *pixel = [red, green, blue, 255];
        }
    }
    Ok(EmbeddedPicture::of(&shown.rgba, shown.width)?)
}
