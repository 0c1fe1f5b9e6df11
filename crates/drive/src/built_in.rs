//! Names of the routines that are part of this program.

use backporch_bench::PROGRAMS;
use backporch_script::ROUTINES;

/// Names of the built-in routines: scripts, then programs.
pub fn routine_names() -> impl Iterator<Item = &'static str> {
    ROUTINES.names().chain(PROGRAMS.names())
}

/// Whether a routine of that name, script or program, is part of this program.
#[must_use]
pub fn is_built_in_routine(name: &str) -> bool {
    PROGRAMS.contains(name) || ROUTINES.contains(name)
}
