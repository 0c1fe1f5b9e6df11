//! A table of port writes, before it takes one of its forms.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Mode, Registers};
use backporch_signal::SYNC_CAUTION;
use backporch_workaround::transition::{BeamMoment, CellWrite, Stage, Transition};

use super::timing::timed;

/// The port writes that bring a board from a mode's start-up values to other registers.
#[derive(Clone, Debug)]
pub struct WriteTable {
    pub(super) board: String,
    pub(super) mode: String,
    pub(super) transition: Transition,
    pub(super) timed: Vec<(u64, u16, u8)>,
}

impl WriteTable {
    /// The table from a mode's start-up values to `to`.
    #[must_use]
    pub fn new(adapter: &Arc<Adapter>, mode: &Mode, to: &Registers) -> Self {
        let from = adapter.start_up(mode);
        let transition = Transition::new(adapter, &from, to);
        Self {
            board: adapter.name().to_string(),
            mode: mode.name.clone(),
            timed: timed(adapter, from, &transition),
            transition,
        }
    }

    /// The writes, in order and with their places.
    #[must_use]
    pub fn transition(&self) -> &Transition {
        &self.transition
    }

    /// The caution that belongs with it, where the signal changes on the way.
    #[must_use]
    pub fn caution(&self) -> Option<&'static str> {
        self.transition.changes_signal.then_some(SYNC_CAUTION)
    }

    /// What stands above the table in every form, line by line.
    pub(super) fn head(&self) -> Vec<String> {
        let mut lines = vec![
            format!("Register writes for the {} class, after its mode {} has been set.", self.board, self.mode),
            "Make them in this order, each stage with the beam where it says.".to_string(),
        ];
        lines.extend(self.caution().iter().flat_map(|caution| wrapped(caution, 92)));
        lines
    }

    /// What stands above the listing of a program that makes the writes.
    pub(super) fn head_of_program(&self) -> Vec<String> {
        let mut lines = vec![
            format!("Test program for the {} class in its mode {}.", self.board, self.mode),
            "Any key goes a step on, backspace a step back, escape ends it.".to_string(),
        ];
        lines.extend(self.caution().iter().flat_map(|caution| wrapped(caution, 92)));
        lines
    }

    /// What stands above a routine that makes the writes.
    pub(super) fn head_of_routine(&self) -> Vec<String> {
        let mut lines = vec![
            format!("A scroller for the {} class in its mode {}, free to use.", self.board, self.mode),
            "Each step shows the start address that the table has for it, and draws what enters from a strip of art."
                .to_string(),
        ];
        lines.extend(self.caution().iter().flat_map(|caution| wrapped(caution, 92)));
        lines
    }

    /// Every port write with its stage, its register and, for the last one of a register, what it says.
    pub(super) fn rows(&self) -> impl Iterator<Item = TableWrite<'_>> {
        self.transition.stages.iter().flat_map(rows_of)
    }
}

/// The port writes of a stage.
pub(super) fn rows_of(stage: &Stage) -> impl Iterator<Item = TableWrite<'_>> {
    stage.cells.iter().flat_map(move |cell| {
        let last = cell.ports.len().saturating_sub(1);
        let row = move |(position, (port, value)): (usize, &(u16, u8))| TableWrite {
            stage,
            cell,
            port: *port,
            value: *value,
            stores: position == last,
        };
        cell.ports.iter().enumerate().map(row)
    })
}

/// One port write of a table.
#[derive(Clone, Copy, Debug)]
pub(super) struct TableWrite<'a> {
    pub stage: &'a Stage,
    pub cell: &'a CellWrite,
    pub port: u16,
    pub value: u8,
    /// Whether the byte reaches the register, rather than selecting it.
    pub stores: bool,
}

impl TableWrite<'_> {
    /// What the register then says, where its byte reaches it and says anything.
    pub fn words(&self) -> Option<String> {
        (self.stores && !self.cell.says.is_empty()).then(|| self.cell.says.join("; "))
    }

    /// What the write does, in words.
    pub fn says(&self) -> String {
        let register = register(self.cell);
        match self.words() {
            _ if !self.stores => format!("select {register}"),
            Some(words) => format!("{register}: {words}"),
            None => register,
        }
    }
}

/// A register's bank and number.
pub(super) fn register(cell: &CellWrite) -> String {
    let (bank, index) = cell.place();
    let bank = match bank {
        Bank::Crtc => "CRTC",
        Bank::Sequencer => "sequencer",
        Bank::Graphics => "graphics controller",
        Bank::Attribute => "attribute controller",
        Bank::Single => "register of its own port",
    };
    format!("{bank} {index:02X}h")
}

/// Where the beam has to be, in words.
pub(super) fn words(moment: BeamMoment) -> &'static str {
    match moment {
        BeamMoment::Anytime => "anywhere",
        BeamMoment::Retrace => "in vertical retrace",
        BeamMoment::ActiveArea => "in the active area",
    }
}

/// A number for each moment, the same in every form.
pub(super) fn code(moment: BeamMoment) -> u8 {
    match moment {
        BeamMoment::Anytime => 0,
        BeamMoment::Retrace => 1,
        BeamMoment::ActiveArea => 2,
    }
}

/// A text in lines of at most `width` characters, broken between words.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for word in text.split_whitespace() {
        let Some(line) = lines.last_mut() else {
            break;
        };
        if line.is_empty() {
            line.push_str(word);
        } else if line.len() + 1 + word.len() <= width {
            *line += &format!(" {word}");
        } else {
            lines.push(word.to_string());
        }
    }
    lines
}
