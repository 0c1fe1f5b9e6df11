//! Impressions of predicted frames.

use std::sync::Arc;

use backporch_analysis::{Conditions, ExperimentSetup};
use backporch_bench::{Bench, Overrides};
use backporch_evidence::Impression;
use backporch_quirk::{Family, QuirkStack};

/// The table of facts for memory rows of 256 bytes reloaded once a line (derived), in the words of an observer.
#[test]
fn the_row_table_reads_in_words() {
    let bench = Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap());
    let rows = QuirkStack::new(vec![Family::built_in("row-reload").unwrap().member(0).unwrap()], 0);
    let start_address = bench.adapter().start_address();
    let words = |start: u32| {
        let setup = ExperimentSetup::new(Arc::clone(&bench), &[(start_address, start)], Conditions::default());
        Impression::of(&setup.signature(&rows)).words()
    };
    for start in [1, 16, 33] {
        assert_eq!(words(start), "damaged, every fourth line, at the right edge", "step {start}");
    }
    assert_eq!(words(31), "damaged, every fourth line, on the right");
    for start in [0, 32, 64] {
        assert_eq!(words(start), "clean");
    }
}
