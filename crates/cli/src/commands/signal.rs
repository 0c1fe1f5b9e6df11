//! `signal`: rates, porches, sync, and whether the monitor takes them.

use anyhow::Result;
use backporch_answer::SignalsAnswer;
use clap::Args;

use crate::args::BenchArgs;
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct SignalArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
}

pub fn run(args: &SignalArgs, output: &mut Output) -> Result<CheckResult> {
    args.bench.refuse_routine("frame, record, hazards or run for a routine")?;
    let bench = args.bench.open()?;
    output.notes(&bench)?;
    let answer = SignalsAnswer::new(&bench);
    output.answer(&answer, SignalsAnswer::text)?;
    Ok(if answer.is_accepted() { CheckResult::Nothing } else { CheckResult::Something })
}
