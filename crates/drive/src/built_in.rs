//! Real-mode programs that are part of this program.

use backporch_script::BUILT_IN_ROUTINES;

/// Built-in real-mode programs: name and image, assembled from `assets/programs`.
pub const BUILT_IN_PROGRAMS: [(&str, &[u8]); 2] = [
    ("program-keys", include_bytes!("../../../assets/programs/keys.com")),
    ("program-torn", include_bytes!("../../../assets/programs/torn.com")),
];

/// The image of a built-in program.
pub(crate) fn built_in_program(name: &str) -> Option<&'static [u8]> {
    BUILT_IN_PROGRAMS.iter().find(|(known, _)| *known == name).map(|(_, image)| *image)
}

/// Whether a routine of that name, script or program, is part of this program.
#[must_use]
pub fn is_built_in_routine(name: &str) -> bool {
    built_in_program(name).is_some() || BUILT_IN_ROUTINES.iter().any(|(known, _)| *known == name)
}
