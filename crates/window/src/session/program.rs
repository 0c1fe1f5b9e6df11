//! The program under the session, as the panels show it: where it is, what it did, its keys.

use backporch_pc::listing::ListingLine;
use backporch_pc::{Far, Key, Stop};

use super::board_pair::BoardAction;
use super::live_driver::LiveProgram;
use super::{InspectedPixel, Session};

/// Instructions listed before the one under way, and from it on.
const LISTED: (usize, usize) = (4, 8);

/// Lines of the console shown.
const PRINTED: usize = 4;

/// How it stands with a program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ProgramState {
    /// It runs.
    Runs,
    /// It waits for a key.
    WaitsForKey,
    /// It ended and gave this code.
    Ended(u8),
    /// It cannot go on, and why.
    Trouble(String),
}

/// One line of the listing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listing {
    /// Where the instruction lies.
    pub at: Far,
    /// The instruction.
    pub text: String,
    /// Its bytes, hexadecimal.
    pub bytes: String,
    /// Whether it is under way, or comes next where none is.
    pub here: bool,
    /// Whether it was done already.
    pub done: bool,
}

/// The program that drives the boards.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgramView {
    /// How it stands with it.
    pub state: ProgramState,
    /// Registers of the processor, in lines.
    pub registers: String,
    /// The instructions it just did, the one under way, and those to come.
    pub listing: Vec<Listing>,
    /// The last lines it has written to its console.
    pub printed: String,
}

impl ProgramState {
    pub(crate) fn of(program: &LiveProgram) -> Self {
        match program.ended() {
            Some(Stop::Exit(code)) => Self::Ended(code),
            Some(Stop::Trouble(report)) => Self::Trouble(format!("at {} it {}", report.at, report.trouble)),
            _ if program.waits_for_key() => Self::WaitsForKey,
            _ => Self::Runs,
        }
    }

    /// In words, after "the program".
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Runs => "runs".to_string(),
            Self::WaitsForKey => "waits for a key".to_string(),
            Self::Ended(code) => format!("has ended with code {code}; its board shows on"),
            Self::Trouble(why) => format!("cannot go on: {why}"),
        }
    }

    /// Whether it is over for good.
    #[must_use]
    pub fn is_over(&self) -> bool {
        matches!(self, Self::Ended(_) | Self::Trouble(_))
    }
}

impl Listing {
    fn of(line: ListingLine, here: bool, done: bool) -> Self {
        let bytes = line.bytes.iter().map(|byte| format!("{byte:02X}")).collect();
        Self { at: line.at, text: line.text, bytes, here, done }
    }
}

impl Session {
    /// Whether a program drives the boards.
    #[must_use]
    pub fn runs_program(&self) -> bool {
        self.transport.boards().program().is_some()
    }

    /// The program that drives the boards, where the bench names one.
    #[must_use]
    pub fn program(&self) -> Option<ProgramView> {
        let boards = self.transport.boards();
        let program = boards.program()?;
        let (past, coming) = program.listing(boards.asked(), LISTED.0, LISTED.1);
        let past = past.into_iter().map(|line| Listing::of(line, false, true));
        let coming = coming.into_iter().enumerate().map(|(at, line)| Listing::of(line, at == 0, false));
        let printed = program.printed().replace('\r', "");
        let lines: Vec<&str> = printed.trim_end().lines().collect();
        Some(ProgramView {
            state: ProgramState::of(program),
            registers: program.registers(),
            listing: past.chain(coming).collect(),
            printed: lines[lines.len().saturating_sub(PRINTED)..].join("\n"),
        })
    }

    /// A key of the program's keyboard goes down, or up.
    pub fn press(&mut self, key: Key, down: bool) {
        if self.runs_program() {
            self.apply(BoardAction::Key { key, down });
        }
    }

    /// The program's mouse is where a pointer is, in parts of the picture from 0 to 1 across and down, with buttons held (bit 0
    /// left, bit 1 right); without a place it stays, buttons apart.
    pub fn point(&mut self, place: Option<[f32; 2]>, buttons: u8) {
        let movement = self.transport.boards().program().and_then(|program| program.movement_to(place, buttons));
        if let Some(movement) = movement {
            self.apply(BoardAction::Mouse(movement));
        }
    }

    /// The program's instruction that wrote the byte of the inspected pixel before it was shown, disassembled.
    #[must_use]
    pub fn writer(&self, inspected: &InspectedPixel) -> Option<String> {
        let program = self.transport.boards().program()?;
        let frame = self.transport.frame(inspected.side);
        let found = &inspected.provenance;
        let lines = frame.lines.iter().take(found.scan_line as usize + 1);
        let shown = frame.first_dot + lines.map(|line| u64::from(line.dots)).sum::<u64>();
        program.writer_of(found.address, shown)
    }

    /// Says how the program has ended, where it has since it stood `before`; stops where it cannot go on.
    pub(crate) fn tell_end(&mut self, before: Option<ProgramState>) {
        let now = self.transport.boards().program().map(ProgramState::of);
        let Some(now) = now.filter(|now| now.is_over() && before.is_some_and(|before| !before.is_over())) else {
            return;
        };
        if let ProgramState::Trouble(_) = now {
            self.run(false);
        }
        self.report(format!("the program {}", now.words()));
    }
}
