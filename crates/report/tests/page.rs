//! The page as a whole: what it shows is what the boards show, nothing of a user's becomes markup, it stays small
//! and comes out the same every time.

use backporch_analysis::{SweepAxis, sweep};
use backporch_bench::{Bench, Library, Overrides};
use backporch_input::Source;
use backporch_picture::mark::Mark;
use backporch_raster::View;
use backporch_report::page::{
    BenchPart, CandidatePart, Compared, ComparisonPart, DiagnosisPart, Embedded, EmbeddedPicture, FilmStep, Gauge,
    HazardPart, HazardsPart, NamedValue, Page, ProbePart, QuirkPart, RegisterValues, SightingPart, SignalPart,
    SuspectPart, SweepPart, Way, WorkaroundsPart,
};
use backporch_test_tools::ROWS_BENCH;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::RgbaImage;
use proptest::prelude::*;
use serde_json::Value;

fn over(bench: &Bench, register: &str, values: std::ops::Range<u64>) -> Vec<SweepAxis> {
    let field = bench.field(register).expect("a register");
    vec![SweepAxis::new(bench.adapter(), field, values).expect("fits")]
}

fn swept(bench: &Bench, over: &[SweepAxis]) -> SweepPart {
    let found = sweep(bench, over, 1, &|| ()).expect("sweeps");
    SweepPart::new(bench, over, &found, 1, &|| ()).expect("draws")
}

fn page_of(bench: &Bench, sweep: Option<SweepPart>) -> Page {
    Page {
        title: "a title".to_string(),
        made_by: "the tests".to_string(),
        bench: BenchPart::new(bench),
        signal: SignalPart::new(bench, bench.registers()),
        sweep,
        comparison: None,
        captures: None,
        diagnosis: None,
        workarounds: None,
        hazards: None,
        tables: Vec::new(),
        cautions: Vec::new(),
        command: "backporch".to_string(),
        case: Embedded { name: "a.case.zip".to_string(), bytes: b"PK".to_vec() },
        files: Vec::new(),
    }
}

/// The demo's sweep: 64 start addresses on the board with 256-byte rows.
fn demo() -> (Bench, String) {
    let bench = Bench::open(ROWS_BENCH, &Overrides::default()).expect("opens");
    let sweep = swept(&bench, &over(&bench, "start_address", 0..64));
    let html = page_of(&bench, Some(sweep)).html().expect("fills");
    (bench, html)
}

/// What the page tells its script.
fn embedded(html: &str) -> Value {
    let (_, after) = html.split_once("id=\"steps\">").expect("has steps");
    let (json, _) = after.split_once("</script>").expect("ends");
    serde_json::from_str(json).expect("JSON")
}

fn picture(embedded: &Value, place: &Value) -> RgbaImage {
    let base64 = embedded["pictures"][place.as_u64().expect("a place") as usize].as_str().expect("text");
    let bytes = STANDARD.decode(base64).expect("base64");
    image::load_from_memory(&bytes).expect("a picture").into_rgba8()
}

/// Plain and faulty frame of a step, put together as the page's script does.
fn frames(embedded: &Value, step: &Value) -> (RgbaImage, RgbaImage) {
    let plain = picture(embedded, &step["plain"]);
    let mut faulty = plain.clone();
    if !step["faulty"].is_null() {
        let other = picture(embedded, &step["faulty"]);
        if step["whole"].as_bool().expect("a switch") {
            faulty = other
        } else {
            image::imageops::overlay(&mut faulty, &other, 0, 0)
        }
    }
    (plain, faulty)
}

#[test]
fn the_demo_page_is_below_three_megabytes_and_needs_nothing_else() {
    let (_, html) = demo();
    assert!(html.len() < 3_000_000, "{} bytes", html.len());
    for address in ["http:", "https:", "src=\"//", "@import", "url("] {
        assert!(!html.contains(address), "{address}");
    }
}

#[test]
fn every_step_shows_what_the_boards_show() {
    let (bench, html) = demo();
    let embedded = embedded(&html);
    let steps = embedded["steps"].as_array().expect("steps");
    assert_eq!(steps.len(), 64);
    for (start, step) in steps.iter().enumerate() {
        let mut registers = bench.registers().clone();
        bench.adapter().set(&mut registers, bench.adapter().start_address(), start as u64).expect("fits");
        let (plain, faulty) = frames(&embedded, step);
        let right = bench.plain(&registers).run_frame().picture(View::Picture);
        let wrong = bench.faulty(&registers).run_frame().picture(View::Picture);
        assert!(plain.as_raw() == right.bytes(), "plain, step {start}");
        assert!(faulty.as_raw() == wrong.bytes(), "faulty, step {start}");
    }
}

#[test]
fn a_page_is_the_same_every_time_on_any_number_of_threads() {
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool").install(demo).1;
    let many = rayon::ThreadPoolBuilder::new().num_threads(5).build().expect("a pool").install(demo).1;
    assert!(alone == many);
}

#[test]
fn the_demo_is_summed_up_in_a_sentence() {
    let (_, html) = demo();
    assert!(html.contains("62 of 64 steps are damaged, on every 4th line, at the right-hand end."));
    assert!(html.contains("The pattern comes back every 32 steps."));
}

#[test]
fn a_clean_sweep_and_one_that_shows_nothing_make_pages() {
    let bench = Bench::open("harbour-cg", &Overrides::default()).expect("opens");
    let clean = page_of(&bench, Some(swept(&bench, &over(&bench, "start_address", 0..3)))).html().expect("fills");
    assert!(clean.contains("All 3 steps show what the plain board shows."));
    // Nothing is displayed in the first step.
    let narrow = page_of(&bench, Some(swept(&bench, &over(&bench, "displayed", 0..3)))).html().expect("fills");
    assert_eq!(embedded(&narrow)["steps"].as_array().map(Vec::len), Some(3));
}

#[test]
fn a_long_sweep_keeps_within_the_page() {
    let bench = Bench::open(ROWS_BENCH, &Overrides::default()).expect("opens");
    let html = page_of(&bench, Some(swept(&bench, &over(&bench, "start_address", 0..600)))).html().expect("fills");
    assert!(html.len() < 3_000_000, "{} bytes", html.len());
    assert!(embedded(&html)["steps"].as_array().is_some_and(|steps| steps.len() >= 32));
}

/// A bench whose own texts are hostile.
fn hostile_bench(text: &str) -> Bench {
    let quoted = format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""));
    let form = format!(
        "(version: 1, title: {quoted}, adapter: \"linear-256\", registers: {{\"displayed\": 31}}, routine: {quoted}, \
         picture: (source: \"harbour\"), monitor: \"fixed-31\")"
    );
    Bench::from_source(&Source::built_in("hostile", form), "hostile", &Library::default(), &Overrides::default())
        .expect("opens")
}

/// A page every text of which is `text`.
fn page_of_text(text: &str) -> Page {
    let bench = hostile_bench(text);
    let say = || text.to_string();
    let row = || NamedValue::new(text, text);
    let mut gauges = SignalPart::new(&bench, bench.registers()).gauges;
    for Gauge { what, value, margin, .. } in &mut gauges {
        (*what, *value, *margin) = (say(), say(), say());
    }
    let mut page = page_of(&bench, Some(swept(&bench, &over(&bench, "start_address", 0..2))));
    page.title = say();
    page.made_by = say();
    page.bench.title = format!("of the bench: {text}");
    page.bench.notes = vec![say()];
    page.bench.quirks = vec![QuirkPart {
        name: say(),
        about: say(),
        cause: say(),
        looks: say(),
        does: vec![say()],
        parameters: vec![row()],
    }];
    page.signal.rows = vec![row()];
    page.signal.unstable = Some(say());
    page.signal.monitor = Some((say(), true));
    page.signal.gauges = gauges.clone();
    page.comparison = Some(ComparisonPart {
        boards: vec![Compared { name: say(), verdicts: Mark::ALL.to_vec(), first: say() }],
        conclusion: say(),
    });
    page.diagnosis = Some(DiagnosisPart {
        says: say(),
        seen: vec![SightingPart { setting: say(), seen: say() }],
        suspects: vec![SuspectPart {
            name: say(),
            about: say(),
            parameters: vec![row()],
            probability: f64::NAN,
            explains: 1,
            contradicts: 2,
        }],
        indistinguishable: vec![say()],
        probes: vec![ProbePart { setting: vec![row()], bits: f64::INFINITY, outcomes: vec![row()] }],
    });
    page.workarounds = Some(WorkaroundsPart {
        against: say(),
        candidates: vec![CandidatePart {
            title: say(),
            registers: vec![row()],
            facts: vec![row()],
            gauges,
            picture: EmbeddedPicture::of(&[[1, 2, 3, 255]], 1).ok(),
            shape: 1.0,
        }],
        ways: vec![Way {
            title: say(),
            facts: vec![row()],
            film: EmbeddedPicture::of(&[[1, 2, 3, 255]], 1)
                .ok()
                .map(|picture| FilmStep { picture, says: say() })
                .into_iter()
                .collect(),
            shape: 1.0,
        }],
        remarks: vec![say()],
        caution: Some(say()),
    });
    page.hazards = Some(HazardsPart {
        frames: 3,
        drawn: None,
        hazards: vec![HazardPart { kind: say(), frame: 1, line: 2, dot: 3, what: say(), cure: say(), again: 0 }],
        chart: None,
    });
    page.tables = vec![RegisterValues { title: say(), text: say() }];
    page.cautions = vec![say()];
    page.command = say();
    page.case = Embedded { name: say(), bytes: text.as_bytes().to_vec() };
    page.files = vec![Embedded { name: say(), bytes: text.as_bytes().to_vec() }];
    page
}

/// The first word of everything between `<` and `>`, as a reader of HTML that knows nothing of us would see it.
fn elements(html: &str) -> Vec<&str> {
    let tags = html.split('<').skip(1).filter_map(|part| part.split('>').next());
    tags.map(|tag| tag.split([' ', '\n']).next().unwrap_or_default()).collect()
}

#[test]
fn texts_with_markup_stay_text() {
    let hostile =
        "</script></style></title></pre><script>own()</script><img src=x onerror=own()>\" onload=\"own()\" '&lt;";
    let (plain, html) = (page_of_text("plain").html().expect("fills"), page_of_text(hostile).html().expect("fills"));
    for markup in ["<script>own", "<img src=x", "\" onload", "' onload"] {
        assert!(!html.contains(markup), "{markup}");
    }
    assert!(html.contains("onerror=own()"), "the text is there, but not as markup");
    // The same elements in the same order, whatever the texts say.
    assert_eq!(elements(&plain), elements(&html));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn no_text_changes_the_elements_of_a_page(text in "[ -~äß]{1,40}") {
        let of = |text: &str| page_of_text(text).html().expect("fills");
        prop_assert_eq!(elements(&of(&text)).len(), elements(&of("plain")).len());
    }
}
