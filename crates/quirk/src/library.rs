//! The built-in families: the folder `quirks/`, one fault a file, named like its file.

use backporch_input::Catalogue;

macro_rules! library {
    ($($name:literal),+ $(,)?) => {
        &[$( ($name, include_str!(concat!("../../../quirks/", $name, ".ron"))) ),+]
    };
}

/// Built-in quirk families, as RON texts, in the order of the pipeline.
pub const QUIRKS: Catalogue = Catalogue::new(
    "quirk",
    library![
        "port-upper-half-lost",
        "port-slow",
        "port-index-forgotten",
        "port-data-bit-stuck",
        "port-register-dead",
        "port-protect-open",
        "port-protect-shut",
        "port-start-near-latch-lost",
        "start-bits-stuck",
        "start-bits-dropped",
        "start-late-frames",
        "start-late-lines",
        "start-torn",
        "start-missed-when-fresh",
        "start-every-nth-frame",
        "start-at-frame-start",
        "start-on-every-first-line",
        "row-transfer",
        "row-reload",
        "row-reload-then-shift",
        "carry-broken",
        "row-carry-broken",
        "address-bit-stuck",
        "address-bits-swapped",
        "address-wrap",
        "pitch-rounded",
        "first-character-off",
        "line-group-off",
        "bank-wrong",
        "row-shown-again",
        "data-bit-stuck",
        "byte-stale-after-pause",
        "byte-stale-at-crossing",
        "line-buffer-underrun",
        "line-buffer-short",
        "byte-pairs-swapped",
        "snow",
        "data-noise",
        "panning-off",
        "pixel-pairs-swapped",
        "last-character-cut",
        "first-character-repeated",
        "line-jitter",
        "plane-dead",
        "palette-write-shows",
        "level-bits-missing",
        "red-dead",
        "red-blue-swapped",
        "palette-index-short",
        "brown-yellow",
        "border-black",
        "sync-position-rounded",
        "sync-width-limited",
        "start-write-bounce",
        "frame-jitter",
        "display-short",
    ],
);
