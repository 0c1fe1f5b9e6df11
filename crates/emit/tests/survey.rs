//! Survey programs: what they are made of, what they write to ports, and what another processor makes of them.

mod listing;

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, Guard, Mode};
use backporch_emit::{SurveyError, SurveyProgram};
use backporch_evidence::survey::Survey;
use backporch_input::Source;
use backporch_pc::record::AccessKind;
use backporch_pc::{Far, Folder, Key, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_raster::Board;
use iced_x86::{CpuidFeature, Decoder, DecoderOptions};

fn firmware_modes(adapter: &Adapter) -> Vec<&Mode> {
    // Those in which the ports have moved are left out.
    let stays = |mode: &&Mode| !adapter.moves_ports(&adapter.start_up(mode));
    adapter.profile().modes.iter().filter(|mode| mode.firmware.is_some()).filter(stays).collect()
}

/// A machine with a program in it, to which keys will be pressed.
fn machine(adapter: &Arc<Adapter>, program: &SurveyProgram, keys: &[(u64, &str)], folder: &Path) -> Machine {
    let mode = adapter.default_mode();
    let board = Board::plain(Arc::clone(adapter), adapter.start_up(mode));
    let mut setup = MachineSetup::new(Model::P8086, ProcessorClock::new(8_000_000, 1).unwrap());
    setup.folder = Some(Folder::new(folder, true).unwrap());
    let mut machine =
        Machine::new(board, &ProgramImage::parse(program.code.bytes()).unwrap(), &mode.name, setup).unwrap();
    keys.iter().for_each(|(at, key)| machine.press(Key::named(key).unwrap(), at * 1_000_000));
    machine
}

fn run(machine: &mut Machine) {
    loop {
        match machine.run() {
            Stop::Frame(frame) => machine.recycle(*frame),
            Stop::Exit(0) => return,
            stop => panic!("{stop:?}, {}, {:?}", machine.printed(), machine.recent(20)),
        }
    }
}

fn read(folder: &Path, name: &str) -> (String, Survey) {
    let text = std::fs::read_to_string(folder.join(name)).unwrap();
    let survey = Survey::from_source(&Source::built_in(name, text.clone()));
    let survey = survey.unwrap_or_else(|error| panic!("{error}\n{text}"));
    (text, survey)
}

#[test]
fn only_instructions_of_the_first_processor_are_used_and_all_are_listed() {
    for board in ADAPTERS.names() {
        let adapter = Adapter::built_in(board).unwrap();
        let modes: Vec<&Mode> = adapter.profile().modes.iter().collect();
        let SurveyProgram { code, modes } = SurveyProgram::new(&adapter, &modes).unwrap();
        assert_eq!(modes.len(), firmware_modes(&adapter).len(), "{board}");
        let mut position = 0;
        for instruction in Decoder::with_ip(16, &code.bytes()[..code.code_len()], 0x100, DecoderOptions::NONE) {
            let features = instruction.cpuid_features();
            assert!(features.iter().all(|feature| *feature == CpuidFeature::INTEL8086), "{instruction}");
            position += instruction.len();
        }
        assert_eq!(position, code.code_len());
        assert_eq!(listing::bytes_of(code.listing()), code.bytes());
        assert!(code.bytes().len() < 0x3F00, "{board}: {} bytes", code.bytes().len());
    }
}

/// What the program itself writes to ports never changes the signal of the mode that firmware set, and every register is
/// as it was in the end.
#[test]
fn no_write_of_a_survey_changes_the_signal() {
    for (board, mode) in [("colour-graphics", "320x200x4"), ("ega", "640x350x16"), ("vga", "320x200x256")] {
        let adapter = Adapter::built_in(board).unwrap();
        let program = SurveyProgram::new(&adapter, &[adapter.mode(mode).unwrap()]).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let mut machine = machine(&adapter, &program, &[(50, "space"), (250, "enter")], folder.path());
        // What an interrupt of the program makes firmware write is put down to the interrupt.
        let code = program.code.bytes();
        let own = |by: Far| code.get(usize::from(by.offset.wrapping_sub(0x100))).is_some_and(|byte| *byte != 0xCD);
        let segment = machine.processor().registers.next().segment;
        machine.record(true);
        run(&mut machine);
        let mut registers = adapter.start_up(adapter.default_mode());
        let (mut written, mut kept) = (0, None);
        for access in machine.recorded().iter().filter(|access| access.kind == AccessKind::Port) {
            let before = registers.clone();
            adapter.write_port(&mut registers, access.address as u16, access.value as u8, Guard::AsRegister);
            if access.by.segment == segment && own(access.by) {
                kept.get_or_insert(before.clone());
                assert!(!adapter.changes_signal(&before, &registers), "{board}: {access:?}");
                written += 1;
            } else if let Some(kept) = kept.take() {
                let differs =
                    adapter.fields().find(|(field, _)| adapter.get(&kept, *field) != adapter.get(&before, *field));
                assert!(differs.is_none(), "{board}: {differs:?}");
            }
        }
        assert!(written > 40, "{board}: {written}");
    }
}

#[test]
fn modes_can_be_left_out_and_a_name_that_is_taken_is_left_alone() {
    let adapter = Adapter::built_in("colour-graphics").unwrap();
    let program = SurveyProgram::new(&adapter, &firmware_modes(&adapter)).unwrap();
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("SURVEY.TXT"), "mine").unwrap();
    let mut machine = machine(&adapter, &program, &[(50, "space"), (250, "x"), (450, "s")], folder.path());
    run(&mut machine);
    assert_eq!(std::fs::read_to_string(folder.path().join("SURVEY.TXT")).unwrap(), "mine");
    let (_, survey) = read(folder.path(), "SURVEY2.TXT");
    assert!(survey.modes.is_empty() && !survey.machine.series.is_empty());
    assert!(machine.printed().contains("SURVEY2.TXT") && machine.printed().contains("whistles"));
    assert_eq!(SurveyProgram::new(&adapter, &[]).err(), Some(SurveyError::NoMode));
}

/// What tells the later processors apart stands in the survey (80386 Programmer's Reference Manual, differences from the
/// 8086 and from the 80286).
#[test]
fn a_survey_tells_which_processor_masks_shifts() {
    let adapter = Adapter::built_in("colour-graphics").unwrap();
    let program = SurveyProgram::new(&adapter, &firmware_modes(&adapter)).unwrap();
    for model in Model::ALL {
        let folder = tempfile::tempdir().unwrap();
        let mode = adapter.default_mode();
        let board = Board::plain(Arc::clone(&adapter), adapter.start_up(mode));
        let folder_seen = Some(Folder::new(folder.path(), true).unwrap());
        let setup = MachineSetup {
            folder: folder_seen,
            ..MachineSetup::new(model, ProcessorClock::new(8_000_000, 1).unwrap())
        };
        let image = ProgramImage::parse(program.code.bytes()).unwrap();
        let mut machine = Machine::new(board, &image, &mode.name, setup).unwrap();
        for (at, key) in [(50, "space"), (250, "x"), (450, "s")] {
            machine.press(Key::named(key).unwrap(), at * 1_000_000);
        }
        run(&mut machine);
        let (_, survey) = read(folder.path(), "SURVEY.TXT");
        let masks = model.is_from(Model::P80186);
        assert_eq!((survey.masks_shifts, survey.processor), (masks, masks.then_some(model)), "{}", model.name());
    }
}

/// Lines of a survey without their numbers, but for what they are not alike in: the check, and which processor it is.
fn shape(text: &str) -> Vec<String> {
    let words = |line: &str| {
        let plain = line.split(' ').filter(|word| !word.bytes().next().is_some_and(|byte| byte.is_ascii_digit()));
        plain.collect::<Vec<_>>().join(" ")
    };
    text.lines().filter(|line| !line.starts_with("check") && !line.starts_with("processor")).map(words).collect()
}

/// A processor of another make goes the same way through the program, with a timer that counts as it pleases: it writes a
/// survey of the same lines, and the same values to the board's ports.
#[test]
fn a_processor_of_another_make_writes_the_same_lines() {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/run_survey.py");
    for (board, mode) in [("colour-graphics", "640x200x2"), ("vga", "320x200x256")] {
        let adapter = Adapter::built_in(board).unwrap();
        let program = SurveyProgram::new(&adapter, &[adapter.mode(mode).unwrap()]).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let mut machine = machine(&adapter, &program, &[(50, "space"), (250, "enter")], folder.path());
        run(&mut machine);
        let (ours, _) = read(folder.path(), "SURVEY.TXT");
        let path = folder.path().join("other.com");
        std::fs::write(&path, program.code.bytes()).unwrap();
        let key = |name: &str| {
            let key = Key::named(name).unwrap();
            format!("{:04X}", u16::from_be_bytes([key.scan_code(), key.character(false, false)]))
        };
        let python = std::env::var("BACKPORCH_PYTHON").unwrap_or_else(|_| "python3".to_string());
        let mut command = std::process::Command::new(python);
        let keys = format!("{},{}", key("space"), key("enter"));
        command.arg(&script).arg(&path).arg(keys).arg(folder.path().join("other.txt"));
        let Some(output) = backporch_test_tools::output(&mut command) else { return };
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        if let Some(tool) = text.strip_prefix("missing: ") {
            backporch_test_tools::missing(tool.trim());
            return;
        }
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(text.starts_with("file: SURVEY.TXT"), "{text}");
        let (other, _) = read(folder.path(), "other.txt");
        // The other one's processor counts shifts modulo 32.
        let other = other.replacen("shifts masked", "shifts whole", 1);
        assert_eq!(shape(&other), shape(&ours), "{board} {mode}\n{other}");
    }
}
