//! Agreement with captures of a real processor, by opcode group.
//!
//!     cargo bench -p backporch-pc --bench captures [-- FILE.jsonl.gz]
//!
//! Without a file, the captures of the tests; a file whose name has 80286 in it is taken for one of that processor.
//! Opcodes whose clocks and results agree throughout are only counted. *Nearly* is within one clock for the 8086, two
//! for the 80286.

#[path = "../tests/captures/mod.rs"]
mod captures;

use std::collections::BTreeMap;
use std::process::ExitCode;

use captures::score::{Score, Test, captures_8086, captures_80286};

fn print(name: &str, tests: &[Test], add: impl Fn(&mut Score, &Test)) {
    let (mut groups, mut all) = (BTreeMap::<String, Score>::new(), Score::default());
    for test in tests {
        add(groups.entry(test.capture.opcode.clone()).or_default(), test);
        add(&mut all, test);
    }
    let agrees = |score: &Score| score.clocks_equal == score.tests && score.different.is_empty();
    for (opcode, score) in groups.iter().filter(|(_, score)| !agrees(score)) {
        println!("{name} {opcode:<5} {score}");
    }
    let agreeing = groups.values().filter(|score| agrees(score)).count();
    println!("{name}: {agreeing} of {} opcodes agree throughout", groups.len());
    println!("{name} {all}");
}

fn main() -> ExitCode {
    let files: Vec<String> = std::env::args().skip(1).filter(|argument| argument.ends_with(".gz")).collect();
    if files.is_empty() {
        print("8086 ", &captures_8086(include_bytes!("../tests/data/8086.jsonl.gz")), Score::add_8086);
        print("80286", &captures_80286(include_bytes!("../tests/data/80286.jsonl.gz")), Score::add_80286);
    }
    for file in files {
        let compressed = match std::fs::read(&file) {
            Ok(bytes) => bytes,
            Err(error) => {
                eprintln!("{file} could not be read: {error}");
                return ExitCode::from(3);
            }
        };
        if file.contains("80286") {
            print("80286", &captures_80286(&compressed), Score::add_80286);
        } else {
            print("8086 ", &captures_8086(&compressed), Score::add_8086);
        }
    }
    ExitCode::SUCCESS
}
