//! Arguments that mostly name something built in: the shell is given the names, and any other text does as well.

use std::ffi::OsStr;
use std::sync::LazyLock;

use backporch_adapter::{ADAPTERS, Adapter};
use backporch_bench::{BENCHES, ResourceKind};
use clap::builder::{PossibleValue, StringValueParser, TypedValueParser};
use clap::error::ErrorKind;

/// Reads an argument, and knows names that a shell may offer for it.
#[derive(Clone)]
pub struct Known<T> {
    names: fn() -> Vec<&'static str>,
    read: fn(&str) -> Result<T, String>,
}

impl<T: Clone + Send + Sync + 'static> TypedValueParser for Known<T> {
    type Value = T;

    fn parse_ref(
        &self,
        command: &clap::Command,
        argument: Option<&clap::Arg>,
        value: &OsStr,
    ) -> Result<T, clap::Error> {
        let text = StringValueParser::new().parse_ref(command, argument, value)?;
        (self.read)(&text).map_err(|error| {
            let name = argument.map_or_else(String::new, ToString::to_string);
            let said = format!("invalid value '{text}' for '{name}': {error}\n\nFor more information, try '--help'.\n");
            clap::Error::raw(ErrorKind::ValueValidation, said).with_cmd(command)
        })
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        Some(Box::new((self.names)().into_iter().map(PossibleValue::new)))
    }
}

fn named(names: fn() -> Vec<&'static str>) -> Known<String> {
    Known { names, read: |text| Ok(text.to_string()) }
}

/// A bench.
pub fn bench() -> Known<String> {
    named(|| BENCHES.names().collect())
}

/// An adapter profile.
pub fn board() -> Known<String> {
    named(|| ResourceKind::Adapter.built_in())
}

/// A quirk.
pub fn quirk() -> Known<String> {
    named(|| ResourceKind::Quirk.built_in())
}

/// A monitor.
pub fn monitor() -> Known<String> {
    named(|| ResourceKind::Monitor.built_in())
}

/// A routine.
pub fn routine() -> Known<String> {
    named(|| ResourceKind::Routine.built_in())
}

/// A processor model.
pub fn processor() -> Known<String> {
    named(|| ResourceKind::Processor.built_in())
}

/// A register with what it is set to; any board's registers are offered.
pub fn register<T>(read: fn(&str) -> Result<T, String>) -> Known<T> {
    Known { names: registers, read }
}

fn registers() -> Vec<&'static str> {
    static NAMES: LazyLock<Vec<String>> = LazyLock::new(|| {
        let mut names = Vec::new();
        for board in ADAPTERS.names().filter_map(Adapter::built_in) {
            names.extend(board.fields().map(|(_, field)| format!("{}=", field.name)));
        }
        names.sort();
        names.dedup();
        names
    });
    NAMES.iter().map(String::as_str).collect()
}
