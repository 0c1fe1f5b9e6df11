//! Running the program in a folder of its own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// A scratch folder and the program in it.
pub struct Bench {
    folder: tempfile::TempDir,
}

/// What a run came to.
pub struct Ran {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Bench {
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }

    pub fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    pub fn run(&self, arguments: &[&str]) -> Ran {
        let output = command(self.folder.path(), arguments).output().unwrap();
        Ran::from(output)
    }

    /// Runs with `--format json` and reads the answer; the status may be 0 or 1.
    pub fn json(&self, arguments: &[&str]) -> Value {
        let arguments: Vec<&str> = arguments.iter().copied().chain(["--format", "json"]).collect();
        let ran = self.run(&arguments);
        assert!(ran.status < 2, "{arguments:?}: {}", ran.err);
        serde_json::from_str(&ran.out).unwrap_or_else(|error| panic!("{arguments:?}: {error}: {}", ran.out))
    }
}

pub fn command(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_backporch"));
    command.args(arguments).current_dir(folder).env("NO_COLOR", "1");
    command
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            status: output.status.code().unwrap_or(-1),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}
