//! Benches and programs that are part of this program.

use backporch_input::Catalogue;

/// Built-in benches, as RON texts.
pub const BENCHES: Catalogue = Catalogue::new(
    "bench",
    &[
        ("harbour-256", include_str!("../../../assets/benches/harbour-256.bench.ron")),
        ("harbour-256-plain", include_str!("../../../assets/benches/harbour-256-plain.bench.ron")),
        ("harbour-vga", include_str!("../../../assets/benches/harbour-vga.bench.ron")),
        ("harbour-cg", include_str!("../../../assets/benches/harbour-cg.bench.ron")),
        ("scroll-clean", include_str!("../../../assets/benches/scroll-clean.bench.ron")),
        ("scroll-late", include_str!("../../../assets/benches/scroll-late.bench.ron")),
        ("scroll-torn", include_str!("../../../assets/benches/scroll-torn.bench.ron")),
        ("scroll-early-column", include_str!("../../../assets/benches/scroll-early-column.bench.ron")),
        ("program-keys", include_str!("../../../assets/benches/program-keys.bench.ron")),
        ("program-torn", include_str!("../../../assets/benches/program-torn.bench.ron")),
    ],
);

/// Built-in real-mode programs: images assembled from `assets/programs`.
pub const PROGRAMS: Catalogue<&[u8]> = Catalogue::new(
    "program",
    &[
        ("program-keys", include_bytes!("../../../assets/programs/keys.com")),
        ("program-torn", include_bytes!("../../../assets/programs/torn.com")),
    ],
);
