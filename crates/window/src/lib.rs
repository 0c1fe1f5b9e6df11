//! The live window: frames as they change, a sweep by hand, and a finger on
//! every pixel, byte and register.
#![forbid(unsafe_code)]

mod command;
pub mod panels;
pub mod session;

pub use command::{Command, ViewCommand};
