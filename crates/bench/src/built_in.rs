//! Benches that are part of this program.

use backporch_input::Source;

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

/// The text of a built-in bench.
#[must_use]
pub fn built_in(name: &str) -> Option<Source> {
    let (name, text) = BUILT_IN_BENCHES.iter().find(|(known, _)| *known == name)?;
    Some(Source::built_in(*name, *text))
}
