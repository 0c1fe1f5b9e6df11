//! The form in which a stage lists its actions: one table that is at once the
//! type, the file form, the limits of every value and the plain words.

use super::{DecisionPoint, Limits};

/// Makes the enum of one stage's actions, generic over what its values are:
/// [`Value`](crate::Value) in a file, `i32` in a closed quirk.
macro_rules! actions {
    (
        $(#[$outer:meta])*
        pub enum $stage:ident {
            $(
                $(#[$meta:meta])*
                $name:ident $( { $( $field:ident: $limits:expr ),+ $(,)? } )?
                    => $decides_at:ident, $words:literal;
            )+
        }
    ) => {
        $(#[$outer])*
        #[derive(Clone, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        pub enum $stage<V> {
            $(
                $(#[$meta])*
                $name $( { $(
                    #[doc = concat!("Allowed: `", stringify!($limits), "`.")]
                    $field: V
                ),+ } )?,
            )+
        }

        impl<V> $stage<V> {
            /// All actions of the stage.
            pub(crate) const TABLE: &'static [$crate::language::ActionEntry] = {
                #[allow(unused_imports)]
                use $crate::language::Limits::{Between, PowerOfTwo};
                &[$(
                    $crate::language::ActionEntry {
                        name: stringify!($name),
                        fields: &[$( $( (stringify!($field), $limits) ),+ )?],
                        decides_at: $crate::language::DecisionPoint::$decides_at,
                        words: $words,
                    }
                ),+]
            };

            /// The values under their names, with what they may be.
            pub(crate) fn fields(&self) -> Vec<(&'static str, &V, $crate::language::Limits)> {
                #[allow(unused_imports)]
                use $crate::language::Limits::{Between, PowerOfTwo};
                match self {
                    $( Self::$name $( { $($field),+ } )? => vec![$( $( (stringify!($field), $field, $limits) ),+ )?], )+
                }
            }

            /// The same action with other values.
            pub(crate) fn map<W>(&self, each: &mut dyn FnMut(&V) -> W) -> $stage<W> {
                let _ = &each;
                match self {
                    $( Self::$name $( { $($field),+ } )? => $stage::$name $( { $($field: each($field)),+ } )?, )+
                }
            }

            /// What is known where the action decides whether to act.
            pub(crate) fn decides_at(&self) -> $crate::language::DecisionPoint {
                match self {
                    $( Self::$name $( { $($field: _),+ } )? => $crate::language::DecisionPoint::$decides_at, )+
                }
            }
        }

        impl $stage<$crate::language::Value> {
            /// What the action does, in plain words.
            pub(crate) fn words(&self) -> String {
                match self {
                    $( Self::$name $( { $($field),+ } )? => {
                        $( $( let _ = $field; )+ )?
                        format!($words)
                    } )+
                }
            }
        }
    };
}

pub(crate) use actions;

/// One action, as the language's reference lists it.
#[derive(Clone, Copy, Debug)]
pub struct ActionEntry {
    /// Name in a file.
    pub name: &'static str,
    /// Names of its values, and what they may be.
    pub fields: &'static [(&'static str, Limits)],
    /// What is known where it decides whether to act.
    pub decides_at: DecisionPoint,
    /// What it does, in plain words around the names of its values.
    pub words: &'static str,
}
