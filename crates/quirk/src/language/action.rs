//! Actions: what a quirk does, and at which stage of the pipeline.

use serde::{Deserialize, Serialize};

use super::{Knows, Limits, Value};
use crate::stage::{AddressAction, LatchAction};

/// What a quirk does, under the name of the stage it does it at.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Action<V> {
    /// Taking over the start address.
    Latch(LatchAction<V>),
    /// Address of each byte.
    Address(AddressAction<V>),
}

/// Applies an expression to the action of whichever stage.
macro_rules! at_stage {
    ($action:expr, $inner:ident => $does:expr) => {
        match $action {
            Action::Latch($inner) => $does,
            Action::Address($inner) => $does,
        }
    };
}

impl<V> Action<V> {
    /// Its values under their names, with what they may be.
    pub(crate) fn fields(&self) -> Vec<(&'static str, &V, Limits)> {
        at_stage!(self, action => action.fields())
    }

    /// What is known where it decides whether to act.
    pub(crate) fn knows(&self) -> Knows {
        at_stage!(self, action => action.knows())
    }

    /// The same action with other values.
    pub(crate) fn map<W>(&self, each: &mut dyn FnMut(&V) -> W) -> Action<W> {
        match self {
            Self::Latch(action) => Action::Latch(action.map(each)),
            Self::Address(action) => Action::Address(action.map(each)),
        }
    }

    /// The stage's name.
    pub(crate) fn stage(&self) -> &'static str {
        match self {
            Self::Latch(_) => "latch",
            Self::Address(_) => "address",
        }
    }
}

impl Action<Value> {
    /// What it does, in plain words.
    pub(crate) fn words(&self) -> String {
        at_stage!(self, action => action.words())
    }
}
