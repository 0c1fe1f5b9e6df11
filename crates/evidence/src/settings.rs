//! The registers an experiment of a file sets, and the one it steps.

use std::collections::BTreeMap;

use backporch_adapter::FieldId;
use backporch_bench::Bench;
use backporch_input::{InputError, Number, Source};

/// Registers by field with their stored values, and the register stepped: the start address where none is named.
pub(crate) fn of_file(
    source: &Source,
    experiment: &str,
    bench: &Bench,
    registers: &BTreeMap<String, Number>,
    over: Option<&str>,
) -> Result<(Vec<(FieldId, u32)>, FieldId), InputError> {
    let adapter = bench.adapter();
    let named = |path: &[&str], name: &str| {
        bench.field(name).map_err(|error| source.fault(path, error.found(), error.allowed()))
    };
    let over = match over {
        Some(name) => named(&["experiments", experiment, "over"], name)?,
        None => adapter.start_address(),
    };
    let mut settings = Vec::new();
    for (name, value) in registers {
        let path = ["experiments", experiment, "registers", name.as_str()];
        let field = named(&path, name)?;
        let max = adapter.field_info(field).max();
        match u32::try_from(value.get()) {
            Ok(value) if value <= max => settings.push((field, value)),
            _ => return Err(source.fault(&path, value, format!("0..={max}"))),
        }
    }
    Ok((settings, over))
}
