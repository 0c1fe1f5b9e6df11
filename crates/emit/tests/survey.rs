//! Survey programs run on machines.

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::{Adapter, Mode};
use backporch_emit::SurveyProgram;
use backporch_pc::{Folder, Image, Key, Machine, Model, ProcessorClock, Setup, Stop};
use backporch_raster::Board;

fn survey(adapter: &Arc<Adapter>, modes: &[&Mode], setup: Setup, folder: &Path) -> String {
    let program = SurveyProgram::new(adapter, modes).unwrap();
    let board = Board::plain(Arc::clone(adapter), adapter.start_up(adapter.default_mode()));
    let setup = Setup { folder: Some(Folder::new(folder, true).unwrap()), ..setup };
    let image = Image::parse(program.code.bytes()).unwrap();
    let mut machine = Machine::new(board, &image, &adapter.default_mode().name, setup).unwrap();
    for (at, key) in [(50, "space"), (250, "enter")] {
        machine.press(Key::named(key).unwrap(), at * 1_000_000);
    }
    loop {
        match machine.run() {
            Stop::Frame(frame) => machine.recycle(*frame),
            Stop::Exit(0) => break,
            stop => panic!("{stop:?}, {}, {:?}", machine.printed(), machine.recent(20)),
        }
    }
    eprintln!("{} s, {:?}", machine.nanoseconds() as f64 / 1e9, machine.asked());
    std::fs::read_to_string(folder.join("SURVEY.TXT")).unwrap()
}

#[test]
fn try_it() {
    for (board, mode, model, clock) in [("colour-graphics", "320x200x4", Model::P8088, ProcessorClock::new(14_318_180, 3)), ("ega", "640x350x16", Model::P80286, ProcessorClock::new(8_000_000, 1)), ("vga", "320x200x256", Model::P8086, ProcessorClock::new(8_000_000, 1))] {
        let adapter = Arc::new(Adapter::clone(&Adapter::built_in(board).unwrap()));
        let mode = adapter.mode(mode).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let begin = std::time::Instant::now();
        let text = survey(&adapter, &[mode], Setup::new(model, clock.unwrap()), folder.path());
        eprintln!("{text}\n{} bytes, {:?}", text.len(), begin.elapsed());
    }
}
