//! Everything a key or a button can ask for.
//!
//! Keys, buttons and tests all speak this language, so whatever can be clicked
//! can be pressed and tried without a display.

use backporch_analysis::Verdict;

use crate::session::canvas::BoardView;
use crate::session::stop_condition::StopCondition;

/// Asked of the session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Run, or pause.
    RunOrPause,
    /// One frame on.
    FrameOn,
    /// One frame back.
    FrameBack,
    /// One scan line on.
    LineOn,
    /// One scan line back.
    LineBack,
    /// One character clock on.
    CharOn,
    /// One character clock back.
    CharBack,
    /// One instruction of the program on.
    InstructionOn,
    /// One instruction of the program back.
    InstructionBack,
    /// Back to the first frame.
    FirstFrame,
    /// Twice as slow.
    Slower,
    /// Twice as fast, up to the board's own rate.
    Faster,
    /// Step the active register up, or down below zero.
    StepRegister(i32),
    /// The active register back to where its sweep began.
    ResetRegister,
    /// Make the next register the active one.
    NextRegister,
    /// Make the register before the active one.
    PreviousRegister,
    /// Show the boards another way.
    BoardView(BoardView),
    /// Show the whole raster, or the active area.
    RasterOrPicture,
    /// Switch every quirk off, or all of them on.
    AllQuirks,
    /// Switch one quirk, counted from 0.
    Quirk(usize),
    /// Note what is seen.
    Note(Verdict),
    /// Note that one could not tell.
    NoteUntold,
    /// Pick the line of the inspected pixel as an example for the next note, or let it go.
    PickLine,
    /// Take the newest note back.
    UndoNote,
    /// Take back what was done last.
    Undo,
    /// Do again what was taken back last.
    Redo,
    /// Run until something happens.
    RunUntil(StopCondition),
    /// The same routine on the next board.
    NextBoard,
    /// The next monitor judges.
    NextMonitor,
    /// Read the bench's files again.
    Reload,
    /// Save what was set up as a bench file.
    SaveBench,
    /// Save what was set up and noted, with all files it needs, as a case.
    SaveCase,
    /// Save the sightings.
    SaveSightings,
    /// Keep the picture as a PNG.
    SavePicture,
    /// Begin to record frames, or end and write them.
    Record,
    /// Search for register settings that hold against the quirks.
    Workarounds,
    /// Try the next setting that the search found.
    NextWorkaround,
    /// Judge the sightings noted: which fault explains them.
    Diagnose,
    /// Put the next suspect on the board.
    NextSuspect,
    /// Map rows as long as the pitch, or 256 bytes.
    ToggleMapRows,
    /// To the next mistake of the routine.
    NextHazard,
    /// To the mistake before.
    PreviousHazard,
}

/// Asked of the window around the session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ViewCommand {
    /// Show or hide the keys.
    Help,
    /// Light or dark.
    Theme,
    /// Twice the size, or once.
    Zoom,
    /// The next way to fit the picture into its panel.
    Fit,
    /// Show or hide the panel at the left.
    Left,
    /// Show or hide the panel at the right.
    Right,
    /// Type a frame to jump to.
    Jump,
    /// Type a bench to open.
    Open,
    /// Type a value for the register in active.
    Value,
    /// Keep the whole window as a PNG.
    SaveWindow,
    /// Close what is open on top.
    Close,
    /// Another condition to run until.
    OtherUntil,
    /// Run until the chosen condition.
    RunUntilChosen,
    /// Give the keyboard to the program, or take it back.
    Keyboard,
    /// Show or hide the magnifier.
    Magnifier,
    /// Twice as close to the picture, round the middle of what is seen of it.
    Closer,
    /// Half as close, down to all of it.
    Farther,
    /// Move the closer look by eighths of what is seen: to the right and down, or back below zero.
    Pan(i8, i8),
    /// Damage map, thumbnails, or waveform.
    Strip,
    /// Choose a quirk to fit.
    FitQuirk,
    /// Put the keyboard on the screen, where the arrows move the inspected pixel.
    Cursor,
    /// Type words by which the registers are filtered.
    FilterRegisters,
    /// Only registers that differ from start-up, or all.
    ChangedRegisters,
    /// The menu of what has the focus.
    ContextMenu,
}
