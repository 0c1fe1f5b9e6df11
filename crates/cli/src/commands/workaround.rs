//! `workaround`: register settings that hold, what they cost, and how far from the monitor's limits they lie.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use anyhow::Result;
use backporch_answer::{NoWorkaroundAnswer, WorkaroundAnswer, WorkaroundsAnswer};
use backporch_bench::Bench;
use backporch_workaround::{Infeasible, Progress, Requirements, SearchResult, TableSearch, search, step_tables};
use clap::Args;

use super::art;
use super::suspects::{self, Faults};
use crate::args::{BenchArgs, NeedArgs};
use crate::output::{CheckResult, Output};
use crate::{files, progress};

#[derive(Debug, Args)]
pub struct WorkaroundArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    #[command(flatten)]
    pub need: NeedArgs,
    /// Suspects and their probabilities, as `diagnose --format json` gives them
    #[arg(long, value_name = "JSON")]
    pub diagnosis: Option<PathBuf>,
    /// Candidates printed
    #[arg(long, value_name = "NUMBER", default_value_t = 8)]
    pub most: usize,
    /// Seconds after which the search ends with what it has found by then
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub time_limit: Option<Duration>,
    /// Where to draw where art should be plain, under the bench's own settings
    #[arg(long, value_name = "PNG")]
    pub art: Option<PathBuf>,
}

pub fn run(args: &WorkaroundArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--art", args.art.as_deref(), &["png"])?;
    args.bench.refuse_routine("frame, record, hazards or run for a routine")?;
    let (bench, mut need) = args.need.open(&args.bench)?;
    let began = Instant::now();
    // Half of the time for settings; tables have what is left.
    need.until = args.time_limit.map(|limit| began + limit / 2);
    output.notes(&bench)?;
    let faults = suspects::faults(&bench, suspects::read(args.diagnosis.as_deref())?.as_ref())?;
    let answer = match searched(&bench, &need, &faults, output) {
        Ok(found) => {
            let mut answer = WorkaroundAnswer::new(&bench, &need, &faults.names, &found);
            need.until = args.time_limit.map(|limit| began + limit);
            // Whatever hinders a setting hinders a table, and was reported already.
            if let Ok(tables) = tabled(&bench, &need, &faults, output) {
                answer = answer.with_tables(&bench, &tables);
            }
            if let Some(path) = &args.art {
                answer.art = art::checked(&bench, &need, &faults, &found, path, output)?;
            }
            WorkaroundsAnswer::Searched(Box::new(answer))
        }
        Err(reason) => {
            let board = bench.adapter().name().to_string();
            WorkaroundsAnswer::Impossible(NoWorkaroundAnswer { board, holds: false, candidates: Vec::new(), reason })
        }
    };
    output.answer(&answer, |answer| answer.text(args.most))?;
    Ok(if answer.holds() { CheckResult::Nothing } else { CheckResult::Something })
}

/// Seconds, with a fraction where one likes, up to a day.
fn seconds(text: &str) -> Result<Duration, String> {
    let most = 86_400.0;
    let seconds = text.parse::<f64>().ok().filter(|seconds| *seconds > 0.0 && *seconds <= most);
    let seconds = seconds.ok_or_else(|| format!("allowed seconds above 0, up to {most}"))?;
    Ok(Duration::from_secs_f64(seconds))
}

/// Searches with progress; a need that cannot be met gives the reason.
pub fn searched(bench: &Bench, need: &Requirements, faults: &Faults, output: &Output) -> Result<SearchResult, String> {
    under_way(output, "judging settings", |progress| search(bench, need, &faults.suspects, progress))
}

/// Searches for tables with progress; a need that cannot be met gives the reason.
pub fn tabled(bench: &Bench, need: &Requirements, faults: &Faults, output: &Output) -> Result<TableSearch, String> {
    under_way(output, "choosing start addresses", |progress| step_tables(bench, need, &faults.suspects, progress))
}

/// Shows how far a search is while it goes on.
fn under_way<T>(
    output: &Output,
    doing: &'static str,
    search: impl FnOnce(&Progress<'_>) -> Result<T, Infeasible>,
) -> Result<T, String> {
    let bar = progress::bar(output, doing, 0);
    let found = search(&|done, of| {
        bar.set_length(of);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    found.map_err(|impossible| impossible.to_string())
}
