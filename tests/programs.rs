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
    compiled_from(&sources().join(name), definitions)
}

fn compiled_from(source: &Path, definitions: &[&str]) -> Option<Vec<u8>> {
    let folder = tempfile::tempdir().expect("a folder");
    let (object, output) = (folder.path().join("program.o"), folder.path().join("program.com"));
    let mut compiler = Command::new("bcc");
    compiler.args(["-0", "-c"]).args(defined(definitions)).arg("-o").arg(&object).arg(source);
    made(compiler)?;
    let mut linker = Command::new("ld86");
    linker.args(["-d", "-s", "-T", "0x100", "-o"]).arg(&output).arg(object);
    made(linker)?;
    Some(std::fs::read(output).expect("linked"))
}

fn defined(definitions: &[&str]) -> Vec<String> {
    definitions.iter().map(|definition| format!("-D{definition}")).collect()
}

/// A program and where its labels stand.
pub struct Labelled {
    pub bytes: Vec<u8>,
    labels: Vec<(String, u16)>,
}

impl Labelled {
    /// The offset of a label.
    pub fn offset(&self, label: &str) -> u16 {
        let found = self.labels.iter().find(|(name, _)| name.trim_start_matches("..@") == label);
        found.unwrap_or_else(|| panic!("no label {label} among {:?}", self.labels)).1
    }
}

/// A program of `tests/programs`, assembled with definitions, and its labels. In C the label `culprit` stands after three
/// instructions that do nothing.
pub fn labelled(name: &str, definitions: &[&str]) -> Option<Labelled> {
    labelled_at(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/programs").join(name), definitions)
}

/// The same of any program of ours.
pub fn labelled_at(source: &Path, definitions: &[&str]) -> Option<Labelled> {
    if source.extension().is_some_and(|ending| ending == "c") {
        let bytes = compiled_from(source, definitions)?;
        let culprit = bytes.windows(3).position(|three| three == [0x90; 3]).map(|at| at as u16 + 0x103);
        return Some(Labelled { labels: culprit.map(|at| ("culprit".to_owned(), at)).into_iter().collect(), bytes });
    }
    let folder = source.parent().expect("a folder");
    let scratch = tempfile::tempdir().expect("a folder");
    let (output, map) = (scratch.path().join("program.com"), scratch.path().join("program.map"));
    let mut nasm = Command::new("nasm");
    nasm.args(["-f", "bin", "-I"]).arg(sources()).arg("-I").arg(folder).args(defined(definitions));
    nasm.arg("--before").arg(format!("[map symbols {}]", map.display())).arg("-o").arg(&output).arg(source);
    made(nasm)?;
    let map = std::fs::read_to_string(map).expect("a map");
    let bytes = std::fs::read(output).expect("assembled");
    // Labels of a program file count from its header on, which is not loaded.
    let header = if bytes.starts_with(b"MZ") { u16::from(bytes[8]) * 16 } else { 0 };
    let labels = map.lines().filter_map(label).map(|(name, at)| (name, at.wrapping_sub(header))).collect();
    Some(Labelled { bytes, labels })
}

/// A line of the assembler's map: two addresses, of which the second counts, and a name.
fn label(line: &str) -> Option<(String, u16)> {
    let mut words = line.split_whitespace();
    let (_, address, name) = (words.next()?, words.next()?, words.next()?);
    Some((name.to_owned(), u16::from_str_radix(address, 16).ok()?))
}

/// Runs a tool that is installed; a program it refuses is a failure.
fn made(mut tool: Command) -> Option<()> {
    let status = backporch_test_tools::started(&mut tool, Command::status)?;
    assert!(status.success(), "{} refused the program", tool.get_program().to_string_lossy());
    Some(())
}
