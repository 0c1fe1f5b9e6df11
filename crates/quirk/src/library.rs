//! The built-in families: the folder `quirks/`, one fault a file, named like its file.

macro_rules! library {
    ($($name:literal),+ $(,)?) => {
        &[$( ($name, include_str!(concat!("../../../quirks/", $name, ".ron"))) ),+]
    };
}

/// Names and texts, in the order of the pipeline.
pub(crate) const LIBRARY: &[(&str, &str)] = library![
    "start-bits-stuck",
    "start-late-frames",
    "start-late-lines",
    "row-reload",
    "carry-broken",
    "row-carry-broken",
];
