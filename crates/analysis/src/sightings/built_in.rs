//! Sightings that are part of the program.

use backporch_input::Source;

/// Built-in sightings: name and RON text.
pub const BUILT_IN_SIGHTINGS: &[(&str, &str)] = &[
    ("harbour-glance", include_str!("../../../../assets/sightings/harbour-glance.sightings.ron")),
    ("harbour-sweep", include_str!("../../../../assets/sightings/harbour-sweep.sightings.ron")),
    ("harbour-widths", include_str!("../../../../assets/sightings/harbour-widths.sightings.ron")),
];

/// The text of built-in sightings.
pub(super) fn source(name: &str) -> Option<Source> {
    let (name, text) = BUILT_IN_SIGHTINGS.iter().find(|(known, _)| *known == name)?;
    Some(Source::built_in(*name, *text))
}
