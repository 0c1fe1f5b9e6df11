//! Real-mode programs that are part of this program.

use backporch_input::Catalogue;
use backporch_script::ROUTINES;

/// Built-in real-mode programs: images assembled from `assets/programs`.
pub const PROGRAMS: Catalogue<&[u8]> = Catalogue::new(
    "program",
    &[
        ("program-keys", include_bytes!("../../../assets/programs/keys.com")),
        ("program-torn", include_bytes!("../../../assets/programs/torn.com")),
    ],
);

/// Names of the built-in routines: scripts, then programs.
pub fn routine_names() -> impl Iterator<Item = &'static str> {
    ROUTINES.names().chain(PROGRAMS.names())
}

/// Whether a routine of that name, script or program, is part of this program.
#[must_use]
pub fn is_built_in_routine(name: &str) -> bool {
    PROGRAMS.contains(name) || ROUTINES.contains(name)
}
