//! `workaround` and `emit` as a user runs them.

use crate::program::Bench;
use backporch_test_tools::ROWS_BENCH;

/// The answer for the known fault of the class (derived table): 256 pixels,
/// 4 characters of border at each side, every start address clean.
#[test]
fn the_known_fault_has_its_known_way_round() {
    let bench = Bench::new();
    let answer = bench.json(&["workaround", ROWS_BENCH]);
    assert_eq!(answer["holds"], true);
    let first = &answer["candidates"][0];
    assert_eq!(first["registers"]["displayed"], 31);
    assert_eq!(first["registers"]["sync_position"], 38);
    for (field, value) in [("width_px", 256), ("height_px", 200), ("pitch_bytes", 256)] {
        assert_eq!(first[field], value, "{field}");
    }
    assert_eq!((&first["clean_starts"], &first["of_starts"]), (&32768.into(), &32768.into()));
    assert_eq!((&first["centred"], &first["border_dots"]), (&true.into(), &serde_json::json!([64, 64])));
    assert_eq!(first["probability_clean"], 1.0);
    assert_eq!(first["signal"]["monitor"]["accepts"], true);
    assert!(first["cost"].as_str().unwrap().contains("12800 pixels"));
    assert!(answer["caution"].as_str().unwrap().contains("switch off at once"));

    let text = bench.run(&["workaround", ROWS_BENCH]);
    assert_eq!(text.status, 0);
    assert!(text.out.contains("nothing wider than 256 pixels holds"), "{}", text.out);
    assert!(text.out.contains("lethal voltage"));
}

#[test]
fn needs_come_from_files_and_options_alike() {
    let bench = Bench::new();
    bench.write("routine.need.ron", "(version: 1, step_pixels: Some(64), least_width: Some(320))");
    let from_file = bench.json(&["workaround", ROWS_BENCH, "--need", "routine.need.ron"]);
    let from_options = bench.json(&["workaround", ROWS_BENCH, "--step", "64", "--least-width", "320"]);
    assert_eq!(from_file, from_options);
    assert_eq!(from_file["candidates"][0]["width_px"], 320);
    bench.write("wrong.need.ron", "(version: 1, may_change: Some([\"wheel\"]))");
    let wrong = bench.run(&["workaround", ROWS_BENCH, "--need", "wrong.need.ron"]);
    assert_eq!(wrong.status, 2);
    assert!(wrong.err.contains("wrong.need.ron:1") && wrong.err.contains("wheel"), "{}", wrong.err);
}

#[test]
fn what_cannot_be_is_told_in_words() {
    let bench = Bench::new();
    let asked: [(&[&str], &str); 6] = [
        (&["--step", "1"], "2 at a time"),
        (&["--keep-free", "4096"], "can be kept free"),
        (&["--starts", "0..50000"], "the same memory again"),
        (&["--least-width", "400"], "pixels"),
        (&["--monitor", "fixed-15"], "refuses every setting"),
        (&["--no-quirks"], "no fault to get around"),
    ];
    for (options, says) in asked {
        let arguments: Vec<&str> = ["workaround", ROWS_BENCH].iter().chain(options).copied().collect();
        let ran = bench.run(&arguments);
        assert_eq!(ran.status, 1, "{options:?}: {}", ran.err);
        assert!(ran.out.contains(says), "{options:?}: {}", ran.out);
        let json = bench.json(&arguments);
        assert_eq!((json["holds"].as_bool(), json["candidates"].as_array().map(Vec::len)), (Some(false), Some(0)));
    }
}

#[test]
fn partial_answers_say_which_start_addresses_fail() {
    let bench = Bench::new();
    let arguments = ["workaround", ROWS_BENCH, "--may-change", "start_address", "--starts", "1..32"];
    let answer = bench.json(&arguments);
    assert_eq!(answer["holds"], false);
    assert_eq!(answer["partial"][0]["failing"]["runs"], serde_json::json!([[1, 31]]));
    let art: Vec<&str> = arguments.iter().copied().chain(["--art", "plain.png"]).collect();
    let seen = bench.json(&art);
    assert_eq!(seen["art"]["settings"][0]["starts"].as_array().unwrap().len(), 31);
    assert!(bench.path("plain.png").exists());
}

#[test]
fn a_diagnosis_is_weighed() {
    let bench = Bench::new();
    bench.write(
        "diagnosis.json",
        r#"{"suspects":[
            {"quirk":"row-reload","parameters":{"row_bytes":256,"reloads":1},"probability":0.6,"explains":3,"contradicts":0},
            {"quirk":"row-reload","parameters":{"row_bytes":512,"reloads":1},"probability":0.4,"explains":3,"contradicts":0}],
            "indistinguishable":[],"probes":[{"registers":{"displayed":35,"start_address":7},"expected_information_bits":1.0,"outcomes":[]}]}"#,
    );
    let answer = bench.json(&["workaround", "harbour-256-plain", "--diagnosis", "diagnosis.json"]);
    assert_eq!(answer["holds"], true);
    assert_eq!(answer["candidates"][0]["width_px"], 256, "256-byte rows are the narrower need");
    let probe =
        bench.json(&["emit", "harbour-256-plain", "--diagnosis", "diagnosis.json", "--probe", "1", "--as", "csv"]);
    assert_eq!((&probe["registers"]["displayed"], &probe["registers"]["start_address"]), (&35.into(), &7.into()));
    let wrong = bench.run(&["emit", "harbour-256-plain", "--diagnosis", "diagnosis.json", "--probe", "2"]);
    assert_eq!(wrong.status, 2, "{}", wrong.err);
}

#[test]
fn every_form_is_emitted() {
    let bench = Bench::new();
    for (form, begins) in [("c", "/*"), ("assembly", ";"), ("csv", "order,"), ("trace", "dot,kind,")] {
        let emitted = bench.run(&["emit", ROWS_BENCH, "--workaround", "1", "--as", form]);
        assert_eq!(emitted.status, 0, "{form}: {}", emitted.err);
        assert!(emitted.out.starts_with(begins), "{form}: {}", emitted.out);
    }
    let program = bench.json(&["emit", ROWS_BENCH, "--workaround", "1", "--as", "program", "--over", "0..64"]);
    assert_eq!(program["steps"], 64);
    assert!(program["caution"].is_string());
    assert!(bench.path("harbour-rows.com").exists() && bench.path("harbour-rows.lst").exists());
    let none = bench.run(&["emit", ROWS_BENCH, "--workaround", "99"]);
    assert_eq!(none.status, 1, "{}", none.err);
}

/// By two-pixel steps the class as built holds 256 pixels by a table: with a border of 8 and 6 columns nothing is wrong.
#[test]
fn a_table_is_found_and_written_as_a_routine() {
    let bench = Bench::new();
    let answer = bench.json(&["workaround", "harbour-256"]);
    let first = &answer["tables"][0];
    assert_eq!((&first["clean"], &first["width_px"], &first["every"]), (&true.into(), &256.into(), &128.into()));
    assert_eq!(first["border_px"], serde_json::json!([8, 6]));
    let text = bench.run(&["workaround", "harbour-256"]);
    assert!(text.out.contains("124 to 127 shows +128"), "{}", text.out);
    for (form, begins) in [("routine", "; A scroller"), ("routine-c", "/*\n * A scroller")] {
        let emitted = bench.run(&["emit", "harbour-256", "--table", "1", "--as", form]);
        assert!(emitted.status == 0 && emitted.out.starts_with(begins), "{form}: {}{}", emitted.out, emitted.err);
    }
    // Its demonstration as a program: the mode is set first, by MOV AX and INT 10h (The 8086 Family User's Manual).
    let emitted = bench.run(&["emit", "harbour-256", "--table", "1", "--as", "routine", "--out", "scroller.com"]);
    let program = std::fs::read(bench.path("scroller.com")).unwrap();
    assert!(emitted.status == 0 && program.starts_with(&[0xB8, 0x13, 0, 0xCD, 0x10]), "{}", emitted.err);
    assert_eq!(bench.run(&["emit", "harbour-256", "--table", "99", "--as", "routine"]).status, 1);
    assert_eq!(bench.run(&["emit", "harbour-256", "--as", "routine"]).status, 2);
}

/// Writes beside the beam: at 320 pixels by steps of 16, with their room and how often a write falls inside it; no routine is
/// made of them.
#[test]
fn writes_within_a_frame_are_stated_with_their_room() {
    let bench = Bench::new();
    let need = ["--step", "16", "--least-width", "256"];
    let answer = bench.json(&[&["workaround", "harbour-256"], &need[..]].concat());
    let tables = answer["tables"].as_array().unwrap();
    let at = tables.iter().position(|table| table["within_frame"].is_object()).unwrap();
    let (table, within) = (&tables[at], &tables[at]["within_frame"]);
    assert_eq!((&table["worst_wrong_px"], &table["clean"]), (&0.into(), &false.into()));
    assert_eq!((&within["register"], &within["rest"], &within["lines"]), (&"displayed".into(), &39.into(), &50.into()));
    assert_eq!(within["blanked_px"], serde_json::json!(50 * 48));
    assert_eq!(
        (&within["set_dots"], &within["restore_dots"]),
        (&serde_json::json!([-15, 32]), &serde_json::json!([545, 784]))
    );
    let share = |name: &str| {
        let all = within["processors"].as_array().unwrap();
        all.iter().find(|one| one["processor"] == name).unwrap()["least"].as_f64().unwrap()
    };
    assert!(share("8bit-4.77") < share("16bit-8") && share("16bit-8") < share("286-8"), "{within}");
    let text = bench.run(&[&["workaround", "harbour-256"], &need[..]].concat());
    for part in ["displayed written at up to 50 lines, 39 again after each", "set at dots -15 to 32", "holds at"] {
        assert!(text.out.contains(part), "{part}: {}", text.out);
    }
    let number = (at + 1).to_string();
    let table = ["emit", "harbour-256", "--table", &number, "--as", "routine"];
    let refused = bench.run(&[&table, &need[..]].concat());
    assert!(refused.status != 0 && refused.err.contains("beside the beam"), "{}", refused.err);
}

/// Emitted scrollers make no mistake of timing or order on either of the first processors: border, table as it is, and copies.
#[test]
fn emitted_scrollers_have_no_hazards() {
    let bench = Bench::new();
    let answer = bench.json(&["workaround", "harbour-256"]);
    let mut ran = 0;
    for (number, table) in (1..).zip(answer["tables"].as_array().unwrap()) {
        let is_wide = table["width_px"] == 256 && table["jump_steps"] == 1;
        if !is_wide || table["mean_wrong_px"].as_f64().unwrap() > 100.0 {
            continue;
        }
        let (name, number) = (format!("table-{number}.com"), number.to_string());
        let emitted = bench.run(&["emit", "harbour-256", "--table", &number, "--as", "routine", "--out", &name]);
        assert_eq!(emitted.status, 0, "{}", emitted.err);
        for cpu in ["8bit-4.77", "16bit-8"] {
            let routine = ["--routine", &name, "--cpu", cpu, "--frames", "400", "--phases", "0", "--no-advice"];
            let found = bench.json(&[&["hazards", "harbour-256"], &routine[..]].concat());
            // Below a picture of 127 lines the chip shows two lines of other memory.
            let shown = 2 * table["height_px"].as_u64().unwrap();
            let all = found["hazards"].as_array().unwrap();
            let mut mistakes = all.iter().filter(|hazard| hazard["line"].as_u64().unwrap() < shown);
            assert!(mistakes.next().is_none(), "{name} {cpu}: {found}");
        }
        ran += 1;
    }
    assert_eq!(ran, 3);
}

/// A family of one's own goes from the diagnosis to the ways round it.
#[test]
fn a_family_of_ones_own_is_got_round() {
    let bench = Bench::new();
    bench.write(
        "mine.ron",
        "(version: 1, name: \"mine\", title: \"Rows of 96 bytes\", cause: \"c\", looks: \"l\", standing: Conjectured, prior: 8, \
         effects: [(when: Every(of: Line, count: 6, phase: 2), does: Address(Moved(bytes: 20)))])",
    );
    bench.write(
        "seen.sightings.ron",
        "(version: 1, bench: \"harbour-256-plain\", experiments: [(seen: [(at: \"0..=9\", saw: \"every sixth line from 2, shifted left by 20\")])])",
    );
    let output =
        bench.run(&["diagnose", "seen.sightings.ron", "--quirk", "mine.ron", "--format", "json", "--probes", "0"]);
    bench.write("diagnosis.json", &output.out);
    let found: serde_json::Value = serde_json::from_str(&output.out).unwrap();
    assert_eq!(found["suspects"][0]["quirk"], "mine", "{}", found["says"]);
    std::fs::remove_file(bench.path("mine.ron")).unwrap();
    let around = bench.json(&["workaround", "harbour-256-plain", "--diagnosis", "diagnosis.json"]);
    assert!(around.to_string().contains("mine"), "{around}");
    let stranger = output.out.replace("\"quirk\":\"mine\",\"text\"", "\"quirk\":\"other\",\"text\"");
    bench.write("stranger.json", stranger.replace("name: \\\"mine\\\"", "name: \\\"other\\\""));
    let refused = bench.run(&["workaround", "harbour-256-plain", "--diagnosis", "stranger.json"]);
    assert!(
        refused.status == 2 && refused.err.contains("stranger.json") && refused.err.contains("mine"),
        "{}",
        refused.err
    );
}

/// The limit is kept by searches that render every start address, and what was left out is said.
#[test]
fn a_time_limit_ends_a_search_and_says_so() {
    let bench = Bench::new();
    let ran = bench.run(&["workaround", "harbour-vga", "--quirk", "start-torn", "--time-limit", "0.1"]);
    assert!(ran.out.contains("the time limit ended the search"), "{} {}", ran.out, ran.err);
    for limit in ["0", "-1", "x", "86401", "nan"] {
        let ran = bench.run(&["workaround", "harbour-256", &format!("--time-limit={limit}")]);
        assert_eq!(ran.status, 2, "{limit}");
        assert!(ran.err.contains("allowed seconds above 0, up to 86400"), "{}", ran.err);
    }
}

/// The page has the tables as rows, each with its worst steps: the best one that shows all 256 pixels has eight columns of the
/// bouncing steps a line off at the left (derived from the schematic of the class's controller).
#[test]
fn the_page_shows_the_worst_steps_of_tables() {
    let bench = Bench::new();
    bench.run(&["report", "harbour-256", "--over", "start_address=0..2", "--out", "page.html"]);
    let page = std::fs::read_to_string(bench.path("page.html")).unwrap();
    let (_, ways) = page.split_once("<ol class=\"ways\">").expect("tables");
    let (ways, _) = ways.split_once("</ol>").unwrap();
    assert!(ways.matches("<figure>").count() >= 4 && ways.matches("data:image/png;base64").count() >= 4);
    assert!(ways.contains("memory for 2 copies of the picture") && ways.contains("nothing wrong"), "no clean way");
    assert!(ways.contains("position 124 shows start address 252: 1600 pixels wrong"), "eight columns of 200 lines");
    assert!(page.contains("lethal voltage"));
}
