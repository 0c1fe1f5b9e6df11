//! Actions: what a quirk does, and at which stage of the pipeline.

use serde::{Deserialize, Serialize};

use super::{ActionEntry, DecisionPoint, Limits, Value};
use crate::stage::{AddressAction, ColourAction, FetchAction, LatchAction, PixelAction, PortAction, SyncAction};

/// Makes the enum of all stages, each with its own actions.
macro_rules! stages {
    ($( $(#[$doc:meta])* $stage:ident($actions:ident) $name:literal; )+) => {
        /// What a quirk does, under the name of the stage it does it at.
        #[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Action<V> {
            $( $(#[$doc])* $stage($actions<V>), )+
        }

        impl<V> Action<V> {
            /// The stages and the tables of their actions.
            pub(crate) const STAGES: &'static [(&'static str, &'static [ActionEntry])] =
                &[$( (stringify!($stage), $actions::<V>::TABLE) ),+];

            /// Its values under their names, with what they may be.
            pub(crate) fn fields(&self) -> Vec<(&'static str, &V, Limits)> {
                match self {
                    $( Self::$stage(action) => action.fields(), )+
                }
            }

            /// What is known where it decides whether to act.
            #[must_use]
            pub fn decides_at(&self) -> DecisionPoint {
                match self {
                    $( Self::$stage(action) => action.decides_at(), )+
                }
            }

            /// The same action with other values.
            pub(crate) fn map<W>(&self, each: &mut dyn FnMut(&V) -> W) -> Action<W> {
                match self {
                    $( Self::$stage(action) => Action::$stage(action.map(each)), )+
                }
            }

            /// The stage's name in plain words.
            #[must_use]
            pub fn stage(&self) -> &'static str {
                match self {
                    $( Self::$stage(_) => $name, )+
                }
            }
        }

        impl Action<i32> {
            /// What it does, in plain words.
            pub(crate) fn closed_words(&self) -> String {
                self.map(&mut |number: &i32| Value::Number((*number).into())).words()
            }
        }

        impl Action<Value> {
            /// What it does, in plain words.
            pub(crate) fn words(&self) -> String {
                match self {
                    $( Self::$stage(action) => action.words(), )+
                }
            }
        }
    };
}

stages! {
    /// A byte on its way to a port.
    Port(PortAction) "port";
    /// Taking over the start address.
    Latch(LatchAction) "latch";
    /// Address of each byte.
    Address(AddressAction) "address";
    /// Bytes fetched.
    Fetch(FetchAction) "fetch";
    /// Pixel values.
    Pixel(PixelAction) "pixel";
    /// Colours.
    Colour(ColourAction) "colour";
    /// Sync, and where the picture stands.
    Sync(SyncAction) "sync";
}
