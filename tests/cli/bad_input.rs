//! Unusable input: one clear error, exit status 2, nothing written.

use std::io::{Seek, SeekFrom, Write};

use crate::program::Bench;

const GOOD_BENCH: &str =
    "(\n    version: 1,\n    adapter: \"linear-256\",\n    registers: {\"start_address\": 3},\n)\n";

/// Runs a command that must be refused, and gives what it said.
fn refused(bench: &Bench, arguments: &[&str]) -> String {
    let before = bench.files();
    let ran = bench.run(arguments);
    assert_eq!(ran.status, 2, "{arguments:?}: {}{}", ran.out, ran.err);
    assert!(ran.out.is_empty(), "{arguments:?} printed: {}", ran.out);
    let lines: Vec<&str> = ran.err.lines().collect();
    assert!(!lines.is_empty() && lines.len() <= 2, "{arguments:?}: {}", ran.err);
    assert!(lines[1..].iter().all(|line| line.starts_with("  help: ")), "{arguments:?}: {}", ran.err);
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    assert_eq!(bench.files(), before, "{arguments:?} left something behind");
    ran.err
}

fn refused_bench(text: impl AsRef<[u8]>) -> String {
    let bench = Bench::new();
    bench.write("mine.bench.ron", text);
    refused(&bench, &["frame", "mine.bench.ron", "--out", "never.png"])
}

#[test]
fn the_good_bench_is_good() {
    let bench = Bench::new();
    bench.write("mine.bench.ron", GOOD_BENCH);
    assert_eq!(bench.run(&["frame", "mine.bench.ron"]).status, 0);
}

#[test]
fn faults_in_a_bench_are_placed() {
    let cases = [
        (GOOD_BENCH.replace("adapter", "adaptor"), "mine.bench.ron:3:5"),
        (GOOD_BENCH.replace("    adapter: \"linear-256\",\n", ""), "adapter"),
        (GOOD_BENCH.replace("\"linear-256\"", "256"), "mine.bench.ron:3:14"),
        (GOOD_BENCH.replace("linear-256", "linear-265"), "mine.bench.ron:3:14"),
        (GOOD_BENCH.replace("version: 1", "version: 2"), "mine.bench.ron:2:14"),
        (
            GOOD_BENCH.replace(": 3}", ": 65536}"),
            "mine.bench.ron:4:34: registers.start_address: found 65536, allowed 0..=65535",
        ),
        (GOOD_BENCH.replace("start_address", "start_adress"), "mine.bench.ron:4:"),
        (GOOD_BENCH.replace(")\n", ""), "mine.bench.ron"),
        (String::new(), "mine.bench.ron"),
    ];
    for (text, expected) in cases {
        let said = refused_bench(&text);
        assert!(said.contains(expected), "{expected} is not in {said} for\n{text}");
    }
}

#[test]
fn what_is_no_text_is_no_bench() {
    assert!(refused_bench(b"(version: 1, adapter: \"\xFF\xFE\")").contains("mine.bench.ron:1:24"));
    assert!(refused_bench(vec![0; 4096]).contains("mine.bench.ron"));
}

/// A file of 100 MB of zeros, as a sparse file.
fn zeros(bench: &Bench, name: &str) {
    let mut file = std::fs::File::create(bench.path(name)).unwrap();
    file.seek(SeekFrom::Start(100 << 20)).unwrap();
    file.write_all(&[0]).unwrap();
}

/// Every file form: given as a folder, as 100 MB of zeros, as nothing at all.
#[test]
fn every_file_form_refuses_what_is_no_file_of_its_kind() {
    let forms: [&[&str]; 6] = [
        &["frame", "FILE"],
        &["frame", "--board", "FILE"],
        &["frame", "--quirk", "FILE"],
        &["frame", "--monitor", "FILE"],
        &["frame", "--picture", "FILE"],
        &["quirks", "check", "FILE"],
    ];
    for form in forms {
        for name in ["folder.ron", "zeros.ron", "absent.ron", "empty.ron", "binary.ron"] {
            let bench = Bench::new();
            std::fs::create_dir(bench.path("folder.ron")).unwrap();
            zeros(&bench, "zeros.ron");
            bench.write("empty.ron", "");
            bench.write("binary.ron", [0xC3, 0x28, 0xFF]);
            let arguments: Vec<&str> = form.iter().map(|part| if *part == "FILE" { name } else { part }).collect();
            assert!(refused(&bench, &arguments).contains(name), "{arguments:?}");
        }
    }
}

/// Every field of every file form: misnamed, left out and of the wrong kind.
#[test]
fn every_field_of_every_form_is_checked() {
    let forms: [(&str, &[&str]); 4] = [
        ("assets/adapters/linear-256.ron", &["frame", "--board", "form.ron"]),
        ("assets/monitors/fixed-31.ron", &["frame", "--monitor", "form.ron"]),
        ("tests/benches/harbour-rows.bench.ron", &["frame", "form.ron"]),
        ("quirks/row-reload.ron", &["frame", "--quirk", "form.ron"]),
    ];
    for (file, arguments) in forms {
        let text = std::fs::read_to_string(format!("{}/../../{file}", env!("CARGO_MANIFEST_DIR"))).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        let fields = lines.iter().enumerate().filter_map(|(at, line)| {
            let name = line.strip_prefix("    ")?.split_once(": ")?.0;
            name.chars().all(|c| c.is_ascii_lowercase() || c == '_').then_some((at, name))
        });
        let mut seen = 0;
        for (at, name) in fields {
            seen += 1;
            let with = |line: String| {
                let mut changed: Vec<String> = lines.iter().map(ToString::to_string).collect();
                changed[at] = line;
                changed.join("\n")
            };
            let misnamed = with(lines[at].replacen(name, "no_such_field", 1));
            let bench = Bench::new();
            bench.write("form.ron", &misnamed);
            let said = refused(&bench, arguments);
            let place = format!("form.ron:{}:5", at + 1);
            assert!(said.contains(&place) && said.contains("no_such_field"), "{file} {name}: {said}");

            if lines[at].ends_with(',') {
                bench.write("form.ron", with(format!("    {name}: Some([-1.5, true]),")));
                assert!(refused(&bench, arguments).contains(&format!("form.ron:{}", at + 1)), "{file} {name}");
            }
        }
        assert!(seen >= 4, "{file} has {seen} fields");
    }
}

/// Every built-in form, cut off anywhere, is refused and never panics.
#[test]
fn forms_cut_short_are_refused() {
    let text = include_str!("../../assets/adapters/linear-256.ron");
    let bench = Bench::new();
    for cut in (0..text.len()).step_by(397).filter(|cut| text.is_char_boundary(*cut)) {
        bench.write("form.ron", &text[..cut]);
        assert!(refused(&bench, &["boards", "form.ron"]).contains("form.ron"));
    }
}

#[test]
fn a_memory_image_must_fit() {
    let bench = Bench::new();
    zeros(&bench, "big.mem");
    bench.write("mine.bench.ron", GOOD_BENCH.replace("registers", "memory: \"big.mem\",\n    registers"));
    assert!(refused(&bench, &["frame", "mine.bench.ron"]).contains("65536 bytes"));
}

/// The head of a PNG of this size, with no pixels behind it.
fn png_head(width: u32, height: u32) -> Vec<u8> {
    let mut head = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut body = b"IHDR".to_vec();
    body.extend(width.to_be_bytes());
    body.extend(height.to_be_bytes());
    body.extend([8, 2, 0, 0, 0]);
    head.extend(13u32.to_be_bytes());
    let crc = crc(&body);
    head.extend(body);
    head.extend(crc.to_be_bytes());
    head
}

/// The checksum of PNG chunks (PNG specification, annex D).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| (crc >> 1) ^ if crc & 1 != 0 { 0xEDB8_8320 } else { 0 })
    })
}

#[test]
fn pictures_of_no_or_monstrous_size_are_refused() {
    for (width, height) in [(0, 0), (0, 10), (30_000, 30_000), (u32::MAX, u32::MAX)] {
        let bench = Bench::new();
        bench.write("odd.png", png_head(width, height));
        assert!(refused(&bench, &["frame", "--picture", "odd.png"]).contains("odd.png"), "{width} x {height}");
    }
}

#[test]
fn arguments_out_of_range_are_refused() {
    let cases: [(&[&str], &str); 9] = [
        (&["frame", "--set", "displayed=256"], "allowed 0..=255"),
        (&["frame", "--set", "displayd=3"], "did you mean displayed"),
        (&["frame", "harbour-265"], "did you mean harbour-256"),
        (&["frame", "--mode", "text"], "320x200x256"),
        (&["frame", "--at", "320,0"], "0..320"),
        (&["frame", "--quirk", "row-relod"], "did you mean row-reload"),
        (&["sweep", "--over", "start_address=0..=65536"], "allowed 0..=65535"),
        (&["sweep", "--over", "displayed=0..=255", "--over", "start_address=0..=65535"], "steps"),
        (&["boards", "linear-255"], "did you mean linear-256"),
    ];
    for (arguments, expected) in cases {
        let said = refused(&Bench::new(), arguments);
        assert!(said.contains(expected), "{expected} is not in {said}");
    }
}

/// A folder that is not there is an unusable argument; a full device is the machine's failure.
#[test]
fn what_cannot_be_written_is_said() {
    assert!(refused(&Bench::new(), &["frame", "--out", "nowhere/at/all.png"]).contains("nowhere"));
    let bench = Bench::new();
    let full = bench.run(&["frame", "--out", "/dev/full"]);
    assert_eq!(full.status, 3, "{}", full.err);
    assert!(bench.files().is_empty());
}
