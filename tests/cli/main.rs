//! End-to-end tests: the built program, run as a user runs it.

mod bad_input;
mod calibrate;
mod case;
mod commands;
mod diagnose;
mod facts;
mod file_forms;
mod guide;
mod hazards;
mod measure;
mod modes;
mod outputs;
mod passing_on;
mod program;
#[path = "../programs.rs"]
mod programs;
mod refusals;
mod run;
mod schema;
mod workaround;
