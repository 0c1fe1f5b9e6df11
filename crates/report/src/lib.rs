//! What Backporch hands on to people and to real machines.
//!
//! * [`emit`] turns register settings into what a real machine runs: tables of
//!   port writes for C and assembly, and whole test programs.
#![forbid(unsafe_code)]

pub mod emit;
