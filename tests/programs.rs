//! Our own real-mode programs, made anew for the tests that run them.
//!
//! The assembler is `nasm`; C is compiled by `bcc` and linked by `ld86`. `tests/run` installs them.

#![allow(dead_code)]

use std::path::{Path, PathBuf};
use std::process::Command;

/// The folder of the programs' sources.
pub fn sources() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/programs")
}

/// A program of `assets/programs`, assembled with definitions such as `LATE` or `FRAMES=20`.
pub fn assembled(name: &str, definitions: &[&str]) -> Option<Vec<u8>> {
    let source = std::fs::read_to_string(sources().join(name)).expect("a program of ours");
    assemble(&source, definitions)
}

/// A program given by its source, 8086 code at 100h.
pub fn of_source(text: &str) -> Option<Vec<u8>> {
    assemble(&format!("cpu 8086\norg 100h\n{text}\n"), &[])
}

/// A program given by its whole source.
pub fn of_text(text: &str) -> Option<Vec<u8>> {
    assemble(text, &[])
}

fn assemble(source: &str, definitions: &[&str]) -> Option<Vec<u8>> {
    let folder = tempfile::tempdir().expect("a folder");
    let (input, output) = (folder.path().join("program.asm"), folder.path().join("program.com"));
    std::fs::write(&input, source).expect("written");
    let mut nasm = Command::new("nasm");
    nasm.args(["-f", "bin", "-I"]).arg(sources()).args(defined(definitions)).arg("-o").arg(&output).arg(input);
    made(nasm)?;
    Some(std::fs::read(output).expect("assembled"))
}

/// A program of `assets/programs` in C, compiled with definitions.
pub fn compiled(name: &str, definitions: &[&str]) -> Option<Vec<u8>> {
    let folder = tempfile::tempdir().expect("a folder");
    let (object, output) = (folder.path().join("program.o"), folder.path().join("program.com"));
    let mut compiler = Command::new("bcc");
    compiler.args(["-0", "-c"]).args(defined(definitions)).arg("-o").arg(&object).arg(sources().join(name));
    made(compiler)?;
    let mut linker = Command::new("ld86");
    linker.args(["-d", "-s", "-T", "0x100", "-o"]).arg(&output).arg(object);
    made(linker)?;
    Some(std::fs::read(output).expect("linked"))
}

fn defined(definitions: &[&str]) -> Vec<String> {
    definitions.iter().map(|definition| format!("-D{definition}")).collect()
}

/// Runs a tool that is installed; a program it refuses is a failure.
fn made(mut tool: Command) -> Option<()> {
    let status = backporch_test_tools::started(&mut tool, Command::status)?;
    assert!(status.success(), "{} refused the program", tool.get_program().to_string_lossy());
    Some(())
}
