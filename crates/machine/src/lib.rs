//! Real-mode programs against a board: the user's own routine, unchanged, with
//! the beam where it would really be.
#![forbid(unsafe_code)]

pub mod alu;
mod bus;
mod cache;
pub mod clocks;
pub mod decode;
mod execute;
pub mod instruction;
mod model;
mod processor;
pub mod registers;

pub use bus::Bus;
pub use model::Model;
pub use processor::{Processor, StackEnd, Step, Table, vector};
pub use registers::{Far, Registers};
