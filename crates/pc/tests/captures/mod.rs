//! Captures of real processors, and ours beside them.

// The tests and the bench each use a part.
#![allow(dead_code)]

pub mod capture;
pub mod run;
pub mod score;
