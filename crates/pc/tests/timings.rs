//! The machines against execution times people measured (published: *Zen of Assembly Language: Volume I, Knowledge*,
//! 1990; rows and programs in `data/measured.txt`). `cargo bench --bench timings` prints every row.

#[path = "timings/mod.rs"]
mod measured;
#[path = "../../../tests/programs.rs"]
mod programs;

use std::collections::BTreeSet;

use measured::{Errors, Measured, rows, run};

/// A part of the rows, the short ones: the table whole is the bench's.
#[test]
fn a_pc_takes_the_time_that_was_measured() {
    if programs::of_source("ret").is_none() {
        return;
    }
    let rows = rows();
    assert_eq!(rows.iter().map(|row| &row.id).collect::<BTreeSet<_>>().len(), rows.len(), "a row is listed twice");
    let mut errors = Errors::default();
    for row in rows.iter().filter(|row| row.machine == Measured::Pc && row.microseconds < 5000.0) {
        let computed = run::microseconds(row, programs::of_text).unwrap_or_else(|| panic!("{}", row.id));
        errors.add(computed, row.microseconds);
    }
    assert!(errors.count() > 30, "only {} rows were run", errors.count());
    assert!(errors.median() <= 2.0, "median error {:.2} %", errors.median());
    assert!(errors.ninth_decile() <= 5.0, "nine in ten within {:.2} %", errors.ninth_decile());
    assert!(errors.largest() <= 12.0, "largest error {:.2} %", errors.largest());
}

/// An AT, and an EGA in both machines.
#[test]
fn an_at_and_an_ega_take_the_time_that_was_measured() {
    if programs::of_source("ret").is_none() {
        return;
    }
    for row in rows().iter().filter(|row| row.machine != Measured::Pc) {
        let computed = run::microseconds(row, programs::of_text).unwrap_or_else(|| panic!("{}", row.id));
        let error = Errors::default().add(computed, row.microseconds);
        assert!(error.abs() <= 5.0, "{}: {computed:.1} us, measured {:.1}", row.id, row.microseconds);
    }
}
