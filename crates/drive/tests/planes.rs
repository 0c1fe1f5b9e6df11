//! Copies from a picture into planes: a routine script that draws plane by plane shows what the bench lays.

use backporch_bench::{Bench, Overrides};
use backporch_drive::Driven;
use backporch_raster::Frame;

/// The rows of a frame's picture, pixel value by pixel value.
fn values(frame: &Frame) -> Vec<Vec<u8>> {
    let row = |line| {
        let segments = frame.segments_of(line).iter();
        segments.flat_map(|segment| frame.values_of(segment.kind)).copied().collect()
    };
    frame.picture_lines().map(row).collect()
}

/// The last of some frames of a bench under a routine, and one of the bench at rest.
fn drawn(board: &str, mode: &str, registers: &str, steps: &str) -> [Vec<Vec<u8>>; 2] {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("r.routine.ron"), format!("(version: 1, once: [{steps}], each_frame: [Wait(RetraceStart)])"))
        .unwrap();
    let bench = |routine: &str| {
        let text = format!(
            "(version: 1, adapter: \"{board}\", mode: \"{mode}\", registers: {{{registers}}}, picture: (source: \"harbour\") {routine})"
        );
        std::fs::write(path("b.bench.ron"), text).unwrap();
        Bench::open(path("b.bench.ron").to_str().unwrap(), &Overrides::default()).unwrap()
    };
    let own = bench(", routine: \"r.routine.ron\"");
    let mut driven = Driven::of(&own, own.plain(own.registers())).unwrap();
    let frames: Vec<Frame> = (0..40).map(|_| driven.next_frame()).collect();
    let rest = bench("");
    [values(frames.last().unwrap()), values(&rest.plain(rest.registers()).run_frame())]
}

#[test]
fn a_picture_is_copied_plane_by_plane() {
    // 0 first, so that what is shown is the routine's work. Rows of the picture are 96 bytes of a plane.
    let planar = "Fill(to: 0, bytes: 30000, value: 0), Set(register: \"map_mask\", value: 1), \
        Copy(from: Picture, plane: 0, to: 0, bytes: 19200), Set(register: \"map_mask\", value: 2), \
        Copy(from: Picture, plane: 1, to: 0, bytes: 19200), Set(register: \"map_mask\", value: 4), \
        Copy(from: Picture, plane: 2, to: 0, bytes: 19200), Set(register: \"map_mask\", value: 8), \
        Copy(from: Picture, plane: 3, to: 0, bytes: 19200)";
    let [shown, wanted] = drawn("vga", "320x200x16", "\"offset\": 48", planar);
    assert!(shown.len() == 200 && shown == wanted);
}

#[test]
fn columns_are_drawn_plane_by_plane() {
    // The whole screen as one column of 80 bytes a plane, unchained.
    let column = |plane: u8| {
        format!(
            "Set(register: \"map_mask\", value: {}), \
             Column(column: 0, plane: {plane}, start: 0, x: 0, bytes: 80, rows: 200)",
            1 << plane
        )
    };
    let steps: Vec<String> = (0..4).map(column).collect();
    let steps = format!("Fill(to: 0, bytes: 65000, value: 0), {}", steps.join(", "));
    let [shown, wanted] = drawn("vga", "320x200x256-planar", "", &steps);
    assert!(shown.len() == 200 && shown == wanted);
    // Chained, bytes lie as pixels do.
    let chained = "Fill(to: 0, bytes: 64000, value: 0), Column(column: 0, start: 0, x: 0, bytes: 320, rows: 200)";
    let [shown, wanted] = drawn("vga", "320x200x256", "", chained);
    assert!(shown.len() == 200 && shown == wanted);
}
