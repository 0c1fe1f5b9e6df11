//! What is read and kept: benches, pictures, sightings, and what follows from them.

use super::*;

#[test]
fn a_broken_file_is_shown_and_the_last_good_state_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let good = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\", scroll: Redrawn))";
    fs::write(&path, good).unwrap();
    let mut session = open(path.to_str().unwrap());
    session.set_active_register(4);
    let picture = shown(&session);

    fs::write(&path, "(version: 1,\n adapter: \"linear-257\")").unwrap();
    session.look_at_files();
    let problem = session.files().problem().unwrap();
    assert_eq!((problem.line(), problem.field()), (Some(2), Some("adapter")));
    assert_eq!(shown(&session), picture);
    session.perform(Command::FrameOn);
    assert!(session.files().problem().is_some(), "it stays until mended");

    fs::write(&path, good.replace("linear-256", "colour-graphics")).unwrap();
    session.look_at_files();
    assert!(session.files().problem().is_none());
    assert_eq!(session.bench().adapter().name(), "colour-graphics");
}

#[test]
fn a_bench_that_is_not_there_leaves_all_as_it_was() {
    let mut session = open("harbour-256-plain");
    session.open_another("no-such-bench");
    assert!(session.files().problem().is_some());
    assert_eq!(session.name(), "harbour-256-plain");
    session.open_another("harbour-cg");
    assert!(session.files().problem().is_none());
    assert_eq!(session.name(), "harbour-cg");
    // A bench of the name of its program is a bench all the same.
    session.open_another("program-keys");
    assert_eq!(session.name(), "program-keys");
    assert_eq!(session.bench().adapter().name(), "linear-256");
}

#[test]
fn what_was_set_up_comes_back_from_its_file() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open(ROWS_BENCH);
    session.write_to(folder.path());
    session.set_active_register(5);
    let displayed = session.bench().field("displayed").unwrap();
    session.set_register(displayed, 37, WritePath::Ports).unwrap();
    session.perform(Command::SaveBench);
    let path = folder.path().join("harbour-rows-1.bench.ron");
    let mut again = open(path.to_str().unwrap());
    assert_eq!(shown(&again), shown(&session));
    assert_eq!(again.quirks().list().len(), 1);
    assert_eq!(again.bench_file(), session.bench_file());

    again.write_to(folder.path());
    again.perform(Command::AllQuirks);
    again.perform(Command::SaveBench);
    assert!(folder.path().join("harbour-rows-1-1.bench.ron").exists());
}

#[test]
fn sightings_are_noted_and_saved() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open(ROWS_BENCH);
    session.write_to(folder.path());
    session.perform(Command::SaveSightings);
    assert!(!folder.path().join("harbour-rows-1.sightings.ron").exists());
    session.perform(Command::Note(Verdict::Clean));
    session.perform(Command::StepRegister(1));
    session.pick_line(7);
    session.pick_line(3);
    session.pick_line(9);
    session.pick_line(9);
    session.perform(Command::Note(Verdict::Broken));
    session.perform(Command::UndoNote);
    assert_eq!(session.findings().notes().noted().len(), 1);
    session.pick_line(3);
    session.pick_line(7);
    session.perform(Command::Note(Verdict::EdgeDamaged));
    assert_eq!(session.findings().notes().noted().len(), 2);
    assert!(session.findings().notes().unsaved());
    session.perform(Command::SaveSightings);
    assert!(!session.findings().notes().unsaved());
    let text = fs::read_to_string(folder.path().join("harbour-rows-1.sightings.ron")).unwrap();
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    assert!(lines.contains(&format!("bench: {ROWS_BENCH:?},").as_str()), "{text}");
    assert!(lines.contains(&"(at: 0, saw: \"clean\"),"), "{text}");
    assert!(lines.contains(&"(at: 1, saw: \"edge-damaged, for example lines 3 7\"),"), "{text}");
    assert_eq!(text.matches("over:").count(), 1, "one experiment: {text}");
}

#[test]
fn pictures_and_recordings_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open("harbour-256-plain");
    session.write_to(folder.path());
    session.perform(Command::SavePicture);
    let kept = image::open(folder.path().join("harbour-256-plain-1.png")).unwrap().to_rgb8();
    let wanted: Vec<u8> = shown(&session).rgba.iter().flat_map(|pixel| pixel[..3].to_vec()).collect();
    assert_eq!(kept.as_raw(), &wanted);

    session.perform(Command::Record);
    session.step_frames(3);
    assert_eq!(session.files().recorded(), Some(3));
    session.perform(Command::Record);
    let file = std::io::BufReader::new(fs::File::open(folder.path().join("harbour-256-plain-2.png")).unwrap());
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    assert_eq!(reader.info().animation_control().unwrap().num_frames, 3);
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut pixels).unwrap();
    assert_eq!(pixels, wanted);

    session.perform(Command::Record);
    session.perform(Command::Record);
    assert!(session.message().unwrap().contains("at least one frame"));
}

#[test]
fn sightings_lead_to_their_suspect_and_a_probe() {
    let mut session = open(ROWS_BENCH);
    session.perform(Command::Diagnose);
    assert!(session.findings().diagnosing().is_none(), "nothing is noted");
    // What the faulty board shows stands for the real one.
    for start in 0..9 {
        session.set_active_register(start);
        session.perform(Command::Note(session.inspection().damage().verdict()));
    }
    session.perform(Command::Diagnose);
    let began = std::time::Instant::now();
    while session.findings().diagnosing().is_some() {
        assert!(began.elapsed().as_secs() < 300, "nine sightings are judged in seconds");
        std::thread::sleep(std::time::Duration::from_millis(5));
        session.tick(0.0);
    }
    let findings = session.findings().diagnosis().unwrap().clone();
    let rank = findings.suspects.iter().position(|row| row.name == "row-reload");
    assert!(rank.is_some_and(|rank| rank < 3), "{findings:?}");
    let total: f64 = findings.suspects.iter().map(|row| row.probability).sum();
    assert!(total <= 1.0 + 1e-9);

    assert!(!session.findings().is_diagnosis_behind());
    session.perform(Command::AllQuirks);
    assert_eq!(session.inspection().damage().verdict(), Verdict::Clean);
    session.fit_suspect(rank.unwrap());
    let on: Vec<&str> = session.quirks().list().iter().filter(|fitted| fitted.on).map(FittedQuirk::name).collect();
    assert_eq!(on, ["row-reload"]);
    assert_eq!(session.inspection().damage().verdict(), Verdict::EdgeDamaged, "the suspect does what was seen");
    session.perform(Command::NextSuspect);
    if let Some(probe) = findings.probes.first() {
        session.try_probe(0);
        for (name, value) in &probe.registers {
            let field = session.bench().field(name).unwrap();
            let found = session.bench().adapter().get(session.transport().faulty_registers(), field);
            assert_eq!(u64::from(found), *value, "{name}");
        }
    }
    session.perform(Command::Note(Verdict::Clean));
    assert!(session.findings().is_diagnosis_behind(), "one sighting more than it was asked about");
    // The same setting seen again: as many sightings as before, but others.
    session.findings.diagnosed = session.findings.notes.revision();
    session.perform(Command::Note(Verdict::Broken));
    assert!(session.findings().is_diagnosis_behind(), "another one of the same setting");
    session.perform(Command::UndoNote);
    assert!(session.findings().diagnosis().is_none(), "suspects of a sighting taken back go with it");
}

#[test]
fn sightings_say_what_the_bench_alone_does_not() {
    let overrides = Overrides { set: vec![("displayed".into(), 31)], ..Overrides::default() };
    let mut session = Session::open(ROWS_BENCH, &overrides).unwrap();
    session.perform(Command::Note(Verdict::Clean));
    assert!(session.sightings_text().contains("\"displayed\": 31"), "{}", session.sightings_text());
}

#[test]
fn sightings_are_opened_again_as_they_were_saved() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open("harbour-256-plain");
    session.write_to(folder.path());
    let displayed = session.bench().field("displayed").unwrap();
    for (start, width, seen) in [(0, 39, Verdict::Clean), (3, 39, Verdict::EdgeDamaged), (3, 31, Verdict::Broken)] {
        session.set_register(displayed, width, WritePath::Ports).unwrap();
        session.set_active_register(start);
        session.pick_line(start + 4);
        session.perform(Command::Note(seen));
    }
    let noted = session.findings().notes().noted().to_vec();
    session.perform(Command::SaveSightings);
    let path = folder.path().join("harbour-256-plain-1.sightings.ron");
    let saved = fs::read_to_string(&path).unwrap();

    // From another bench: the sightings bring theirs along.
    let mut again = open("harbour-cg");
    again.open_another(path.to_str().unwrap());
    assert_eq!(again.files().problem().map(ToString::to_string), None);
    assert_eq!(again.name(), "harbour-256-plain");
    assert_eq!(again.findings().notes().noted(), noted);
    assert!(again.unsaved().is_nothing());
    assert_eq!(again.sightings_text(), saved);
    // One more, and the file is behind.
    again.set_active_register(1);
    again.perform(Command::Note(Verdict::Clean));
    assert_eq!((again.unsaved().sightings, again.findings().notes().noted().len()), (4, 4));

    // What the window itself could not note comes through it unharmed.
    let built_in = backporch_evidence::SIGHTINGS.source("harbour-widths").unwrap();
    again.open_another("harbour-widths");
    let parsed = |text: &str| {
        let source = backporch_input::Source::built_in("sightings", text);
        backporch_input::parse::<backporch_evidence::SightingsFile>(&source).unwrap()
    };
    let (mut read, mut written) = (parsed(built_in.text()), parsed(&again.sightings_text()));
    for file in [&mut read, &mut written] {
        for experiment in &mut file.experiments {
            experiment.seen.sort_by_key(|sighting| sighting.at.map(|at| at.from()));
        }
    }
    assert_eq!(written, read);
}

#[test]
fn sightings_that_cannot_be_read_leave_all_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.sightings.ron");
    let text = "(version: 1, bench: \"harbour-256-plain\", experiments: [(over: \"displayed\",\n\
                seen: [(at: 9999, saw: \"clean\")])])";
    fs::write(&path, text).unwrap();
    let mut session = open("harbour-cg");
    session.perform(Command::Note(Verdict::Clean));
    session.open_another(path.to_str().unwrap());
    assert_eq!(session.files().problem().unwrap().line(), Some(2));
    assert_eq!((session.name(), session.findings().notes().noted().len()), ("harbour-cg", 1));
}

#[test]
fn sightings_of_one_bench_are_none_of_another() {
    let mut session = open("harbour-cg");
    session.perform(Command::Note(Verdict::Clean));
    session.perform(Command::Reload);
    assert_eq!(session.findings().notes().noted().len(), 1, "the same bench, read again");
    session.open_another("no-such-bench");
    assert_eq!(session.findings().notes().noted().len(), 1);
    session.open_another("harbour-256-plain");
    assert!(session.findings().notes().noted().is_empty());
}

#[test]
fn saving_a_bench_changes_nothing_here() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    fs::write(&path, "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"))").unwrap();
    let mut session = open(path.to_str().unwrap());
    session.write_to(folder.path());
    session.select_register("displayed").unwrap();
    session.set_active_register(37);
    session.step_frames(3);
    let (frame, picture) = (session.transport().frame_shown(), shown(&session));
    session.perform(Command::SaveBench);
    session.look_at_files();
    assert!(session.message().unwrap().starts_with("bench: "), "{:?}", session.message());
    assert_eq!((session.sweep().active().name(), session.sweep().active().value()), ("displayed", 37));
    assert_eq!((session.transport().frame_shown(), shown(&session)), (frame, picture));
    session.step_frames(-4);
    assert_eq!(session.transport().frame_shown(), frame - 4, "the past is still there");
}

#[test]
fn what_is_unsaved_is_known_and_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open("harbour-256-plain");
    session.write_to(folder.path());
    assert!(session.unsaved().is_nothing());
    session.perform(Command::Record);
    assert!(session.unsaved().is_nothing(), "nothing is on it yet");
    session.step_frames(2);
    session.perform(Command::Note(Verdict::Clean));
    assert_eq!(session.unsaved(), Unsaved { sightings: 1, frames: 2 });
    assert_eq!(session.unsaved().words(), "1 sighting and a recording of 2 frames");
    // Where nothing can be written, nothing is lost.
    session.write_to(folder.path().join("no-such-folder"));
    assert!(!session.save_unsaved());
    assert_eq!(session.unsaved(), Unsaved { sightings: 1, frames: 2 });
    session.write_to(folder.path());
    assert!(session.save_unsaved());
    assert!(session.unsaved().is_nothing());
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
}
