//! What stands where in a survey program: the room it measures in, its tables, variables, routines.

use iced_x86::code_asm::CodeLabel;

use crate::draft::{Data, Draft};

/// Where patterns are laid one after the other, and how many bytes there are for them; the stack stands above.
pub(super) const ROOM: u32 = 0x4000;
pub(super) const ROOM_BYTES: u32 = 0xA000;

/// Paragraphs from the program's segment to the buffer of the text.
pub(super) const BUFFER_PARAGRAPHS: u32 = 0x1000;
/// Paragraphs of it.
pub(super) const BUFFER_LEN: u32 = 0x1000;

/// Times each experiment is made, and most of it is kept.
pub(super) const REPEATS: u32 = 4;
/// Frames that are timed.
pub(super) const FRAMES: u32 = 16;
/// Times the timer's second counter is looked at.
pub(super) const LOOKS: u32 = 4096;

/// An experiment of a table: bytes, and what stands where in it.
pub(super) const ENTRY: u32 = 20;
pub(super) mod entry {
    /// Address of its name.
    pub const NAME: u32 = 0;
    /// Address of its pattern, and bytes of that.
    pub const PATTERN: u32 = 2;
    pub const LEN: u32 = 4;
    /// Copies of the pattern; 0 for as many as take the beats that follow.
    pub const COPIES: u32 = 6;
    pub const BEATS: u32 = 8;
    /// What is waited for before: one of [`super::wait`].
    pub const WAIT: u32 = 10;
    /// Whose segment DS is: one of [`super::segment`].
    pub const SEGMENT: u32 = 12;
    /// Registers of the pattern.
    pub const DI: u32 = 14;
    pub const DX: u32 = 16;
    /// Delays it is made with, each a clock longer than the one before; 0 for one without.
    pub const DELAYS: u32 = 18;
}
pub(super) mod wait {
    pub const NONE: u16 = 0;
    pub const SHOWN: u16 = 1;
    pub const BLANKED: u16 = 2;
}
pub(super) mod segment {
    pub const OWN: u16 = 0;
    pub const VIDEO: u16 = 1;
}

/// The program tells these apart by order.
const _: () = assert!(wait::NONE < wait::SHOWN && wait::SHOWN < wait::BLANKED && segment::OWN < segment::VIDEO);

/// Variables.
#[derive(Clone, Copy, Debug)]
pub(super) struct SurveyVariables {
    /// From here on nothing is known at the start.
    pub room: u32,
    /// The experiment under way, where its table ends, and copies of its pattern.
    pub entry: u32,
    pub table_end: u32,
    pub copies: u32,
    /// The delay under way, and the greatest difference between two runs of one delay.
    pub delay: u32,
    pub spread: u32,
    /// DS of the pattern, which is loaded last.
    pub ds: u32,
    /// 0 where the processor counts shifts whole.
    pub masks_shifts: u32,
    /// Segment of video memory.
    pub video: u32,
    /// Least, most and total of what is repeated, and what is left of it.
    pub least: u32,
    pub most: u32,
    pub total: u32,
    pub left: u32,
    /// Count of the timer at the last edge.
    pub before: u32,
    /// Of the start address: bytes filled, the moment under way, beats of a frame, and until a picture begins; an early
    /// moment and a late one; the latest that was taken and the earliest that was missed.
    pub span: u32,
    pub moment: u32,
    pub frame: u32,
    pub begins: u32,
    pub early: u32,
    pub late: u32,
    pub taken: u32,
    pub missed: u32,
    /// Where the text goes on.
    pub text: u32,
    pub length: u32,
    pub text_address: u32,
    /// What was masked of interrupts.
    pub masked: u32,
    /// The vector that the interrupt experiment takes.
    pub vector: u32,
    /// System memory that is read and written, at an even address.
    pub scratch: u32,
    pub end: u32,
}

impl SurveyVariables {
    pub fn put(data: &mut Data) -> Self {
        if data.end() % 2 == 1 {
            data.put("so that what follows stands at an even address", vec![0]);
        }
        let room = data.end();
        let mut word = || data.room(2);
        let mut variables = Self {
            room,
            entry: word(),
            table_end: word(),
            copies: word(),
            delay: word(),
            spread: word(),
            ds: word(),
            masks_shifts: word(),
            video: word(),
            least: word(),
            most: word(),
            total: word(),
            left: 0,
            before: 0,
            span: 0,
            moment: 0,
            frame: 0,
            begins: 0,
            early: 0,
            late: 0,
            taken: 0,
            missed: 0,
            text: 0,
            length: 0,
            text_address: 0,
            masked: 0,
            vector: 0,
            scratch: 0,
            end: 0,
        };
        // The upper half of the total.
        word();
        variables.left = word();
        variables.before = word();
        variables.span = word();
        variables.moment = word();
        variables.frame = word();
        variables.begins = word();
        variables.early = word();
        variables.late = word();
        variables.taken = word();
        variables.missed = word();
        variables.text = word();
        variables.length = word();
        variables.text_address = word();
        variables.masked = word();
        variables.vector = word();
        word();
        variables.scratch = word();
        word();
        variables.end = data.end();
        variables
    }
}

/// Labels of the routines.
#[derive(Clone, Copy)]
pub(super) struct SurveyRoutines {
    pub print: CodeLabel,
    pub page: CodeLabel,
    pub finish: CodeLabel,
    /// Puts the text at SI, the word AX, the end of the line; ES:DI is found and kept.
    pub say: CodeLabel,
    pub say_number: CodeLabel,
    pub say_end: CodeLabel,
    /// Runs the experiments from BX on.
    pub table: CodeLabel,
    /// Runs the one under way some times over.
    pub repeat: CodeLabel,
    pub build: CodeLabel,
    pub measure: CodeLabel,
    /// Takes BX into least, most and total.
    pub take: CodeLabel,
    pub begin_taking: CodeLabel,
    pub say_taken: CodeLabel,
    /// AX: the count of the timer.
    pub now: CodeLabel,
    pub wait_shown: CodeLabel,
    pub wait_blanked: CodeLabel,
    pub beam: CodeLabel,
    pub take_over: CodeLabel,
}

impl SurveyRoutines {
    /// Labels that stand nowhere yet.
    pub fn new(d: &mut Draft) -> Self {
        let mut label = || d.asm.create_label();
        Self {
            print: label(),
            page: label(),
            finish: label(),
            say: label(),
            say_number: label(),
            say_end: label(),
            table: label(),
            repeat: label(),
            build: label(),
            measure: label(),
            take: label(),
            begin_taking: label(),
            say_taken: label(),
            now: label(),
            wait_shown: label(),
            wait_blanked: label(),
            beam: label(),
            take_over: label(),
        }
    }
}
