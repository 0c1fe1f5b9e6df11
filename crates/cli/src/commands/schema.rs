//! `schema`: the JSON Schema of what a command prints with `--format json`.

use anyhow::Result;
use backporch_input::InputError;
use clap::Args;

use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct SchemaArgs {
    /// The command; without one, the commands are listed
    #[arg(value_name = "COMMAND", num_args = 0..)]
    pub command: Vec<String>,
}

pub fn run(args: &SchemaArgs, output: &mut Output) -> Result<CheckResult> {
    let schemas = backporch_answer::schemas();
    if args.command.is_empty() {
        schemas.iter().try_for_each(|schema| output.line(schema.command))?;
        return Ok(CheckResult::Nothing);
    }
    let command = args.command.join(" ");
    let Some(schema) = schemas.iter().find(|schema| schema.command == command) else {
        let known: Vec<&str> = schemas.iter().map(|schema| schema.command).collect();
        return Err(InputError::new("schema", command, known.join(", ")).into());
    };
    output.json(&schema.schema)?;
    Ok(CheckResult::Nothing)
}
