//! The language: what a quirk file can say. Values, quantities, conditions,
//! and the actions of each stage, whose tables stand beside what they do.

mod action;
mod condition;
mod quantity;
mod table;
mod value;

pub use action::Action;
pub use condition::{Condition, Each};
pub use quantity::{DecisionPoint, Quantity};
pub use table::ActionEntry;
pub use value::{Limits, Value};

pub(crate) use condition::KINDS;
pub(crate) use quantity::MOST_BYTES;
pub(crate) use table::actions;
pub(crate) use value::is_name;
