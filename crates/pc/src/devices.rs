//! The devices of the machine beside its board: timer, interrupt controller, keyboard, mouse.
//!
//! Each knows its registers and its time and nothing of ports or processor;
//! [`Hardware`](crate::hardware::Hardware) gives them their addresses.

pub mod clock_memory;
pub mod controller;
pub mod keyboard;
pub mod keys;
pub mod mouse;
pub mod timer;
