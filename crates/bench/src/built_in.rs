//! Benches, and real-mode programs for them, that are part of this program.

use backporch_input::Source;
use backporch_script::BUILT_IN_ROUTINES;

/// Built-in benches: name and RON text.
pub const BUILT_IN_BENCHES: &[(&str, &str)] = &[
    ("harbour-256", include_str!("../../../assets/benches/harbour-256.bench.ron")),
    ("harbour-256-rows", include_str!("../../../assets/benches/harbour-256-rows.bench.ron")),
    ("harbour-vga", include_str!("../../../assets/benches/harbour-vga.bench.ron")),
    ("harbour-cg", include_str!("../../../assets/benches/harbour-cg.bench.ron")),
    ("scroll-clean", include_str!("../../../assets/benches/scroll-clean.bench.ron")),
    ("scroll-late", include_str!("../../../assets/benches/scroll-late.bench.ron")),
    ("scroll-torn", include_str!("../../../assets/benches/scroll-torn.bench.ron")),
    ("scroll-early-column", include_str!("../../../assets/benches/scroll-early-column.bench.ron")),
    ("program-keys", include_str!("../../../assets/benches/program-keys.bench.ron")),
    ("program-torn", include_str!("../../../assets/benches/program-torn.bench.ron")),
];

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

/// The text of a built-in bench.
#[must_use]
pub fn built_in(name: &str) -> Option<Source> {
    let (name, text) = BUILT_IN_BENCHES.iter().find(|(known, _)| *known == name)?;
    Some(Source::built_in(*name, *text))
}
