//! Survey programs run on machines.

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::{Adapter, Mode};
use backporch_emit::SurveyProgram;
use backporch_evidence::survey::Survey;
use backporch_input::Source;
use backporch_pc::{Folder, Key, Machine, MachineSetup, ProgramImage, Stop};
use backporch_raster::Board;

/// What a survey made for a class writes on a machine with a board in it.
pub fn text(class: &Arc<Adapter>, modes: &[&Mode], board: &Arc<Adapter>, setup: MachineSetup, folder: &Path) -> String {
    let program = SurveyProgram::new(class, modes).unwrap();
    let board = Board::plain(Arc::clone(board), board.start_up(board.default_mode()));
    let setup = MachineSetup { folder: Some(Folder::new(folder, true).unwrap()), ..setup };
    let image = ProgramImage::parse(program.code.bytes()).unwrap();
    let mode = board.adapter().default_mode().name.clone();
    let mut machine = Machine::new(board, &image, &mode, setup).unwrap();
    for (at, key) in [(50, "space"), (250, "enter")] {
        machine.press(Key::named(key).unwrap(), at * 1_000_000);
    }
    loop {
        match machine.run() {
            Stop::Frame(frame) => machine.recycle(*frame),
            Stop::Exit(0) => break,
            stop => panic!("{stop:?}, {}", machine.printed()),
        }
    }
    std::fs::read_to_string(folder.join("SURVEY.TXT")).unwrap()
}

/// The same, read.
pub fn survey(class: &Arc<Adapter>, modes: &[&Mode], board: &Arc<Adapter>, setup: MachineSetup) -> Survey {
    let folder = tempfile::tempdir().unwrap();
    let text = text(class, modes, board, setup, folder.path());
    Survey::from_source(&Source::built_in("SURVEY.TXT", text.clone())).unwrap_or_else(|error| panic!("{error}\n{text}"))
}
