//! What was once accepted and wrong: refused, with its place and a cure.

use crate::program::{Bench, command};

/// Runs what must be refused and gives what was said.
fn refused(bench: &Bench, arguments: &[&str]) -> String {
    let before = bench.files();
    let ran = bench.run(arguments);
    assert_eq!(ran.status, 2, "{arguments:?}: {}{}", ran.out, ran.err);
    assert_eq!(bench.files(), before, "{arguments:?} left something behind");
    assert!(!ran.err.contains("os error") && !ran.err.contains("invalid digit"), "{}", ran.err);
    ran.err
}

/// A bench with this field more.
fn bench_with(field: &str) -> Bench {
    let bench = Bench::new();
    bench.write("mine.bench.ron", format!("(\n    version: 1,\n    adapter: \"linear-256\",\n    {field},\n)\n"));
    bench
}

#[test]
fn keys_stand_once_in_every_form() {
    let bench = bench_with("registers: {\"displayed\": 3, \"displayed\": 4}");
    assert!(
        refused(&bench, &["signal", "mine.bench.ron"])
            .contains("mine.bench.ron:4:33: displayed: found displayed a second time")
    );
    let bench = Bench::new();
    let quirk = include_str!("../../quirks/row-reload.ron");
    let at = quirk.find("parameters: {").expect("a family with parameters") + "parameters: {".len();
    let entry = quirk[at..].trim_start().lines().next().expect("a parameter");
    bench.write("own.ron", format!("{}{entry}{}", &quirk[..at], &quirk[at..]));
    assert!(refused(&bench, &["quirks", "check", "own.ron"]).contains("row_bytes"));
    bench.write("found.json", "{\"suspects\": [{\"quirk\": \"row-reload\", \"parameters\": {\"reloads\": 1, \"reloads\": 2}, \"probability\": 1, \"explains\": 1, \"contradicts\": 0}]}");
    let said = refused(&bench, &["workaround", "harbour-256", "--diagnosis", "found.json"]);
    assert!(said.contains("found.json:1:") && said.contains("reloads a second time"), "{said}");
}

#[test]
fn slips_in_a_trace_are_placed() {
    for (row, said) in [
        ("9,port,0x3D5,300", "trace.csv:2:14: value: found 300"),
        ("9,port,0x3D5,0x1FF", "trace.csv:2:14: value: found 0x1FF"),
        ("9,port,0x300,0", "trace.csv:2:8: address: found port 300h"),
        ("9,memroy,0,0", "did you mean memory?"),
        ("9,memory,0,xyz", "trace.csv:2:12: value: found xyz"),
    ] {
        let bench = Bench::new();
        bench.write("trace.csv", format!("dot,kind,address,value\n{row}\n"));
        let found = refused(&bench, &["frame", "harbour-256-plain", "--routine", "trace.csv"]);
        assert!(found.contains(said), "{row}: {found}");
    }
}

#[test]
fn options_that_cannot_be_meant_are_refused() {
    let listed = "(basis: Assumed, out_dx: 8, in_dx: 8, mov_reg_imm: 4, load_accumulator: 10, store_accumulator: 10, \
                  add_reg_imm: 4, inc_reg: 2, test_imm: 4, jump: 15, jump_taken: 16, jump_not_taken: 4, loop_taken: 17, \
                  loop_done: 5, movs: 18, rep_movs: (start: 9, each: 17), rep_stos: (start: 9, each: 10), lods: 12)";
    let model = include_str!("../../assets/cpus/16bit-8.ron");
    let model = model.replace("Published(\"8086\")", &format!("Listed({listed})")).replace("16bit-8", "listed");
    let cases: [(&[&str], &str); 17] = [
        (&["sweep", "--over", "displayed=1..3", "--over", "displayed=1..3"], "--over: found displayed twice"),
        (&["run", "program-keys", "--break-line", "9999"], "--break-line: found 9999, allowed 0..449"),
        (&["frame", "--out", "a.gif"], "--out: found .gif, allowed .png"),
        (&["sweep", "--out", "a.html"], "--out: found .html, allowed .png"),
        (&["compare", "--out", "a.jpg"], "--out: found .jpg, allowed .png"),
        (&["report", "--out", "a.png"], "--out: found .png, allowed .html or .htm"),
        (&["emit", "--as", "csv", "--out", "a.com"], "--out: found .com, allowed .csv"),
        (&["emit", "--as", "program", "--out", "a.exe"], "--out: found .exe, allowed .com"),
        (&["record", "--frames", "1", "--as", "gif", "--out", "a.apng"], "--out: found .apng, allowed .gif"),
        (&["sweep", "--routine", "scroll-late"], "--routine: found scroll-late, which would not run"),
        (&["signal", "--routine", "scroll-late"], "--routine: found scroll-late, which would not run"),
        (&["workaround", "--routine", "scroll-late"], "--routine: found scroll-late, which would not run"),
        (&["emit", "--routine", "scroll-late"], "--routine: found scroll-late, which would not run"),
        (&["hazards", "program-torn", "--cpu", "listed.cpu.ron"], "found listed, whose clocks are a list"),
        (&["hazards", "scroll-late", "--cpu", "16bit-9"], "--cpu: found 16bit-9"),
        (&["frame", "--board", "linear-265"], "--board: found linear-265"),
        (&["frame", "--monitor", "fixed-13"], "--monitor: found fixed-13"),
    ];
    for (arguments, said) in cases {
        let bench = Bench::new();
        bench.write("listed.cpu.ron", &model);
        let found = refused(&bench, arguments);
        assert!(found.contains(said), "{arguments:?}: {found}");
    }
}

#[test]
fn a_memory_image_holds_the_picture() {
    let bench = Bench::new();
    bench.write("none.mem", "");
    bench.write("junk.mem", include_bytes!("../../assets/programs/torn.com"));
    for name in ["none.mem", "junk.mem"] {
        let said = refused(&bench, &["hazards", "harbour-256-plain", "--image", name]);
        assert!(said.contains(name) && said.contains("bench's picture"), "{said}");
    }
    let drawn = bench.run(&["frame", "harbour-256-plain", "--memory-out", "whole.mem", "--out", "a.png"]);
    assert_eq!(drawn.status, 0, "{}", drawn.err);
    let held = bench.run(&["hazards", "harbour-256-plain", "--image", "whole.mem"]);
    assert_eq!(held.status, 0, "{}{}", held.out, held.err);
}

#[test]
fn what_is_missing_is_named_with_the_field_that_named_it() {
    for (field, place) in [
        ("picture: (source: \"gone.png\")", "mine.bench.ron:4:23: picture.source: found gone.png: no such file"),
        ("memory: \"gone.mem\"", "mine.bench.ron:4:13: memory: found gone.mem: no such file"),
        ("routine: \"gone.csv\"", "mine.bench.ron:4:14: routine: found gone.csv: no such file"),
        ("routine: \"gone.com\"", "mine.bench.ron:4:14: routine: found gone.com: no such file"),
    ] {
        let said = refused(&bench_with(field), &["frame", "mine.bench.ron"]);
        assert!(said.contains(place), "{said}");
    }
    let said = refused(&Bench::new(), &["hazards", "harbour-256-plain", "--image", "gone.mem"]);
    assert!(said.starts_with("backporch: gone.mem: found no such file"), "{said}");
}

#[test]
fn a_binary_in_place_of_a_text_points_to_run() {
    let bench = Bench::new();
    bench.write("torn.com", include_bytes!("../../assets/programs/torn.com"));
    bench.write("torn.bin", include_bytes!("../../assets/programs/torn.com"));
    for arguments in [&["frame", "torn.com"][..], &["frame", "harbour-256-plain", "--routine", "torn.bin"]] {
        let said = refused(&bench, arguments);
        assert!(said.contains("backporch run torn"), "{said}");
    }
}

#[test]
fn near_names_are_guessed_in_files_too() {
    for (field, guess) in [
        ("registers: {\"start_adress\": 3}", "did you mean start_address?"),
        ("mode: \"320x200x265\"", "did you mean 320x200x256?"),
        ("quirks: [(name: \"row-relod\")]", "did you mean row-reload?"),
        ("monitor: \"fixed-13\"", "did you mean fixed-"),
    ] {
        let said = refused(&bench_with(field), &["signal", "mine.bench.ron"]);
        assert!(said.contains(guess) && said.contains("mine.bench.ron:4:"), "{said}");
    }
}

/// A bench from others reads from its own folder, and takes nothing along from elsewhere.
#[test]
fn a_bench_reads_from_its_own_folder() {
    let bench = Bench::new();
    bench.write("secret.mem", "SECRET-BYTES");
    std::fs::create_dir(bench.path("theirs")).unwrap();
    let text = "(version: 1, adapter: \"linear-256\", memory: \"../secret.mem\")";
    bench.write("theirs/mine.bench.ron", text);
    let page =
        ["report", "theirs/mine.bench.ron", "--over", "start_address=0..2", "--no-workarounds", "--out", "p.html"];
    let said = refused(&bench, &page);
    assert!(said.contains("mine.bench.ron:1:") && said.contains("memory: found ../secret.mem"), "{said}");
    assert!(said.contains("help: --allow "), "{said}");
    let ran = bench.run(&[&page[..], &["--allow", "secret.mem"]].concat());
    assert!(ran.status < 2, "{}", ran.err);
    assert!(ran.out.contains("../secret.mem was read from outside the bench's folder"), "{}", ran.out);
    // The picture of the page shows no byte of it as a file: "SECRET-BYTES" in base64.
    let html = std::fs::read_to_string(bench.path("p.html")).unwrap();
    assert!(!html.contains("U0VDUkVULUJZVEVT") && !html.contains("SECRET-BYTES"));
}

/// What nothing checked goes into no page.
#[test]
fn only_what_was_checked_is_passed_on() {
    let bench = bench_with("routine: \"notes.txt\"");
    bench.write("notes.txt", "my notes");
    bench.write("hazards.json", "{\"frames\": 9, \"hazards\": []}");
    let page = ["report", "mine.bench.ron", "--over", "start_address=0..2", "--no-workarounds", "--out", "p.html"];
    let said = refused(&bench, &[&page[..], &["--hazards", "hazards.json"]].concat());
    assert!(said.contains("notes.txt"), "{said}");
}

#[test]
fn hidden_characters_are_refused_in_names_and_escaped_in_errors() {
    for hidden in ["\\u{1b}[31m", "\\n", "\\u{202e}", "\u{202e}"] {
        let said = refused(&bench_with(&format!("title: \"x{hidden}y\"")), &["signal", "mine.bench.ron"]);
        assert!(said.contains("mine.bench.ron:4:12: title: found a text with the character U+"), "{said:?}");
    }
    let said = refused(&Bench::new(), &["frame", "no\u{1b}[31m/such\u{202e}.ron"]);
    assert!(!said.contains(['\u{1b}', '\u{202e}']), "{said:?}");
}

/// What a program prints is shown, not obeyed: mov ah,9; mov dx,10Ah; int 21h; ret, and a text with an escape sequence.
#[test]
fn what_a_program_prints_is_shown_not_obeyed() {
    let bench = Bench::new();
    let code = b"\xB4\x09\xBA\x08\x01\xCD\x21\xC3a\x1B[31mb$";
    bench.write("print.com", code);
    let ran = bench.run(&["run", "print.com", "--frames", "3"]);
    assert!(ran.status < 2, "{}", ran.err);
    assert!(ran.out.contains("a\\u{1b}[31mb") && !ran.out.contains('\u{1b}'), "{:?}", ran.out);
}

#[test]
fn every_command_has_its_manual_page_and_shells_know_the_names() {
    let bench = Bench::new();
    let help = bench.run(&["--help"]).out;
    let listed = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let names: Vec<&str> = listed.lines().filter_map(|line| line.strip_prefix("  ")?.split(' ').next()).collect();
    let names: Vec<&str> = names.into_iter().filter(|name| !name.is_empty() && *name != "help").collect();
    assert!(names.len() > 20, "{names:?}");
    for name in names {
        let page = bench.run(&["manual", name]);
        assert_eq!(page.status, 0, "{name}: {}", page.err);
        assert!(page.out.contains(&format!("backporch\\-{name}")), "{name}: {}", page.out);
    }
    assert!(bench.run(&["manual"]).out.contains("SUBCOMMANDS"));
    assert!(refused(&bench, &["manual", "fram"]).contains("did you mean frame?"));
    for shell in ["bash", "zsh", "fish"] {
        let output = command(&bench.path(""), &["completions", shell]).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        // Names of benches stand alone, and this shell's script offers nothing there.
        let benches = if shell == "fish" { &[][..] } else { &["harbour-256-plain"] };
        for name in ["colour-graphics", "row-reload", "fixed-31", "start_address"].iter().chain(benches) {
            assert!(text.contains(name), "{shell} does not offer {name}");
        }
    }
}

/// Columns of texts never run into one another.
#[test]
fn columns_are_kept_apart() {
    let bench = Bench::new();
    let over = ["sweep", "harbour-256", "--over", "displayed=38..=39", "--over", "start_address=4..=5"];
    let ran = bench.run(&over);
    let steps: Vec<&str> = ran.out.lines().filter(|line| line.starts_with("  displayed")).collect();
    assert!(!steps.is_empty(), "{}", ran.out);
    assert!(steps.iter().all(|line| line.contains("  broken  ") || line.contains("  edge-damaged  ")), "{}", ran.out);
}
