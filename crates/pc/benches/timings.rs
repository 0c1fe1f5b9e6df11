//! Execution times as people measured them, and as our machines come to them.
//!
//!     cargo bench -p backporch-pc --bench timings [-- PART_OF_AN_ID]
//!
//! Needs nasm. One row a measurement, errors in per cent, then a summary by machine. Sources stand in
//! `tests/data/measured.txt`.

#[path = "../../../tests/programs.rs"]
mod programs;
#[path = "../tests/timings/mod.rs"]
mod timings;

use std::process::ExitCode;

use timings::{Errors, Measured, rows, run};

fn name(measured: Measured) -> &'static str {
    match measured {
        Measured::Pc => "PC",
        Measured::PcEga => "PC with EGA",
        Measured::At => "AT",
        Measured::AtEga => "AT with EGA",
    }
}

fn main() -> ExitCode {
    let part = std::env::args().skip(1).find(|argument| !argument.starts_with('-')).unwrap_or_default();
    let machines = [Measured::Pc, Measured::PcEga, Measured::At, Measured::AtEga];
    let mut all = Errors::default();
    let mut summaries = Vec::new();
    for measured in machines {
        let mut errors = Errors::default();
        for row in rows().iter().filter(|row| row.machine == measured && row.id.contains(&part)) {
            let Some(computed) = run::microseconds(row, programs::of_text) else {
                println!("{:<26} could not be run", row.id);
                continue;
            };
            let error = errors.add(computed, row.microseconds);
            all.add(computed, row.microseconds);
            println!("{:<26} {:>9.1} us measured, {computed:>9.1} computed: {error:>+6.2} %", row.id, row.microseconds);
        }
        summaries.push((name(measured), errors));
    }
    summaries.push(("all", all));
    for (name, errors) in summaries.iter().filter(|(_, errors)| errors.count() > 0) {
        let (count, median, decile, largest) =
            (errors.count(), errors.median(), errors.ninth_decile(), errors.largest());
        println!(
            "{name:<12} {count:>3} rows: median {median:.2} %, nine in ten within {decile:.2} %, largest {largest:.2} %"
        );
    }
    ExitCode::SUCCESS
}
