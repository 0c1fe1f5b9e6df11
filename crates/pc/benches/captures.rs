//! Agreement with captures of a real processor, by opcode group.
//!
//!     cargo bench -p backporch-pc --bench captures [-- FILE.jsonl.gz]
//!
//! Without a file, the captures of the tests. Opcodes that agree throughout are only counted.

#[path = "../tests/captures/mod.rs"]
mod captures;

use std::collections::BTreeMap;
use std::process::ExitCode;

use captures::score::{Score, captures_8086};

fn main() -> ExitCode {
    let file = std::env::args().skip(1).find(|argument| argument.ends_with(".gz"));
    let compressed = match file.map(std::fs::read) {
        None => include_bytes!("../tests/data/8086.jsonl.gz").to_vec(),
        Some(Ok(bytes)) => bytes,
        Some(Err(error)) => {
            eprintln!("the captures could not be read: {error}");
            return ExitCode::from(3);
        }
    };
    let (mut groups, mut all) = (BTreeMap::<String, Score>::new(), Score::default());
    for test in captures_8086(&compressed) {
        groups.entry(test.capture.opcode.clone()).or_default().add_8086(&test);
        all.add_8086(&test);
    }
    let agrees =
        |score: &Score| [score.clocks_equal, score.cycles_equal] == [score.tests; 2] && score.different.is_empty();
    for (opcode, score) in groups.iter().filter(|(_, score)| !agrees(score)) {
        println!("{opcode:<5} {score}");
    }
    println!("{} of {} opcodes agree throughout", groups.values().filter(|score| agrees(score)).count(), groups.len());
    println!("8086  {all}");
    ExitCode::SUCCESS
}
