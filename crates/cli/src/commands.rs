//! The commands, one a module: its options, and what it does.

use anyhow::Result;
use backporch_input::InputError;
use clap::{CommandFactory, Subcommand};
use clap_mangen::Man;

use crate::args::Arguments;
use crate::output::{CheckResult, Output};

mod art;
mod boards;
mod built_in;
mod calibrate;
mod compare;
mod demo;
mod diagnose;
mod emit;
mod frame;
mod hazards;
mod measure;
mod modes;
mod pack;
mod quirks;
mod record;
mod report;
mod run;
mod schema;
mod signal;
mod suspects;
mod sweep;
mod unpack;
#[cfg(feature = "window")]
mod window;
mod workaround;

#[derive(Debug, Subcommand)]
pub enum CliCommand {
    /// Run the whole story on built-in data
    Demo(demo::DemoArgs),
    /// List the adapter profiles, or show one in full
    Boards(boards::BoardsArgs),
    /// List the quirk library, show one quirk in full, or check quirk files
    Quirks(quirks::QuirksArgs),
    /// List the built-in benches
    Benches,
    /// List the built-in monitors
    Monitors,
    /// List the built-in processor models
    Processors,
    /// List the built-in routines: scripts and real-mode programs
    Routines,
    /// List the built-in sightings
    Sightings,
    /// Draw one frame
    Frame(frame::FrameArgs),
    /// Step registers through ranges, a verdict a step
    Sweep(sweep::SweepArgs),
    /// Line and frame rate, porches, sync, and whether the monitor takes them
    Signal(signal::SignalArgs),
    /// Record a run or a sweep as APNG, GIF or a folder of PNG frames
    Record(record::RecordArgs),
    /// Run a bench on several boards: which differ, where, and where the fault lies
    Compare(compare::CompareArgs),
    /// Rank the faults that may be behind what was seen, and name the experiments worth making next
    Diagnose(diagnose::DiagnoseArgs),
    /// Read captures or photographs of a real screen: what each line shows, and sightings for `diagnose`
    Measure(measure::MeasureArgs),
    /// Hold a survey of a real machine against the profiles: a processor model and an adapter profile that every command takes
    Calibrate(calibrate::CalibrateArgs),
    /// Register settings that hold against the bench's quirks or a diagnosis
    Workaround(workaround::WorkaroundArgs),
    /// Register settings for a picture of a wanted size, rate and number of colours, on a monitor
    Modes(modes::ModesArgs),
    /// Write one self-contained HTML page: sweep, boards, signal, registers, and the bench to do it again
    Report(report::ReportArgs),
    /// Put a bench and all that belongs to it into one file, a case, which every command opens as a bench
    Pack(pack::PackArgs),
    /// Put what lies in a case into a folder
    Unpack(unpack::UnpackArgs),
    /// Run the bench's routine and list its mistakes of timing and order, how often they strike, and the cure
    Hazards(hazards::HazardsArgs),
    /// Run a real-mode program against the bench's board
    Run(run::RunArgs),
    /// Hand register settings back to the real machine
    Emit(emit::EmitArgs),
    /// Open the live window
    #[cfg(feature = "window")]
    Window(window::WindowArgs),
    /// Print the JSON Schema of a command's answer
    Schema(schema::SchemaArgs),
    /// Print shell completions
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page of the program, or of one of its commands
    Manual {
        /// The command
        #[arg(value_name = "COMMAND")]
        command: Option<String>,
    },
}

/// Runs the command that was asked for.
pub fn run(arguments: &Arguments, output: &mut Output) -> Result<CheckResult> {
    match &arguments.command {
        CliCommand::Demo(args) => demo::run(args, output),
        CliCommand::Boards(args) => boards::run(args, output),
        CliCommand::Quirks(args) => quirks::run(args, output),
        CliCommand::Benches => built_in::benches(output),
        CliCommand::Monitors => built_in::monitors(output),
        CliCommand::Processors => built_in::processors(output),
        CliCommand::Routines => built_in::routines(output),
        CliCommand::Sightings => built_in::sightings(output),
        CliCommand::Frame(args) => frame::run(args, output),
        CliCommand::Sweep(args) => sweep::run(args, output),
        CliCommand::Signal(args) => signal::run(args, output),
        #[cfg(feature = "window")]
        CliCommand::Window(args) => window::run(args, output),
        CliCommand::Record(args) => record::run(args, output),
        CliCommand::Compare(args) => compare::run(args, output),
        CliCommand::Diagnose(args) => diagnose::run(args, output),
        CliCommand::Measure(args) => measure::run(args, output),
        CliCommand::Calibrate(args) => calibrate::run(args, output),
        CliCommand::Workaround(args) => workaround::run(args, output),
        CliCommand::Modes(args) => modes::run(args, output),
        CliCommand::Report(args) => report::run(args, output),
        CliCommand::Pack(args) => pack::run(args, output),
        CliCommand::Unpack(args) => unpack::run(args, output),
        CliCommand::Hazards(args) => hazards::run(args, output),
        CliCommand::Run(args) => run::run(args, output),
        CliCommand::Emit(args) => emit::run(args, output),
        CliCommand::Schema(args) => schema::run(args, output),
        CliCommand::Completions { shell } => {
            let mut text = Vec::new();
            clap_complete::generate(*shell, &mut Arguments::command(), "backporch", &mut text);
            output.bytes(&text)?;
            Ok(CheckResult::Nothing)
        }
        CliCommand::Manual { command } => {
            let mut text = Vec::new();
            page_of(command.as_deref())?.render(&mut text)?;
            output.bytes(&text)?;
            Ok(CheckResult::Nothing)
        }
    }
}

/// The manual page of the program, or of one of its commands.
fn page_of(name: Option<&str>) -> Result<Man> {
    // Built, so that a command's page has the options of all commands, too.
    let mut program = Arguments::command();
    program.build();
    let Some(name) = name else { return Ok(Man::new(program)) };
    let names: Vec<String> = program.get_subcommands().map(|command| command.get_name().to_string()).collect();
    let found = program.find_subcommand(name).cloned();
    let command = found.ok_or_else(|| {
        let known = names.iter().map(String::as_str);
        InputError::new("manual", name, names.join(", ")).with_nearest(name, known)
    })?;
    // A page is found by the name it is kept under.
    Ok(Man::new(command.display_name(format!("backporch-{name}"))).title(format!("backporch-{name}")))
}
