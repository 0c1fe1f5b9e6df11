//! The program of a session: its parts put together.

use backporch_evidence::TestSession;
use backporch_signal::SYNC_CAUTION;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::facts::SessionFacts;
use super::layout::{SessionPages, SessionRoutines, SessionVariables};
use super::output::Texts;
use super::pictures::Pictures;
use super::prepared::Prepared;
use super::{SessionError, SessionProgram, output, pictures, screen};
use crate::draft::{Data, Draft, FIRST_GUESS};
use crate::program::{Code, DataPart, LOADED_AT, MOST_BYTES};

/// Bytes that the stack may take at the end of the segment.
const STACK: u32 = 0x400;

/// Code with its notes, data, and the address behind everything.
struct Drafted {
    bytes: Vec<u8>,
    notes: Vec<(usize, String)>,
    parts: Vec<DataPart>,
    end: u32,
}

/// Makes the program.
pub(super) fn program(session: &TestSession, name: &str) -> Result<SessionProgram, SessionError> {
    if session.looks().is_empty() {
        return Err(SessionError::Empty);
    }
    let fits = (1..=8).contains(&name.len()) && name.bytes().all(|byte| byte.is_ascii_alphanumeric());
    if !fits {
        return Err(SessionError::Name(name.to_string()));
    }
    let prepared = Prepared::new(session)?;
    let pictures = Pictures::of(&prepared.images);
    let within = SessionFacts::new(session, &prepared, &pictures, None)?.code();
    let (code, data) = match within {
        Err(SessionError::TooLong { .. }) => {
            let file = Some(format!("{}.DAT", name.to_ascii_uppercase()));
            (SessionFacts::new(session, &prepared, &pictures, file)?.code()?, Some(pictures.file()))
        }
        within => (within?, None),
    };
    let caution = prepared.changes_signal.then_some(SYNC_CAUTION);
    Ok(SessionProgram { code, data, sheet: session.sheet(&prepared.cells()), caution })
}

impl SessionFacts<'_> {
    fn code(&self) -> Result<Code, SessionError> {
        let length = self.draft(FIRST_GUESS)?.bytes.len();
        let Drafted { bytes, notes, parts, end } = self.draft(u32::from(LOADED_AT) + length as u32)?;
        if bytes.len() != length {
            return Err(SessionError::Assembler("the code's length depends on its data's addresses".to_string()));
        }
        let mut head = vec![
            format!(
                "Test session for the {} class: {} looks.",
                self.session.bench().adapter().name(),
                self.session.looks().len()
            ),
            "It asks what is seen at one setting after another and writes the answers to ANSWERS.TXT.".to_string(),
        ];
        if self.prepared.changes_signal {
            head.extend(crate::table::wrapped(SYNC_CAUTION, 92));
        }
        let found = (end + STACK).saturating_sub(u32::from(LOADED_AT)) as usize;
        if found > MOST_BYTES {
            return Err(SessionError::TooLong { found, allowed: MOST_BYTES });
        }
        Ok(Code::new(bytes, notes, parts, &head))
    }

    /// All of it, the data from an address on.
    fn draft(&self, begin: u32) -> Result<Drafted, SessionError> {
        let refused = |error: IcedError| SessionError::Assembler(error.to_string());
        let mut data = Data::from(begin);
        let pages = self.pages(&mut data);
        let texts = Texts::put(&mut data, &self.session.head(), self.session.mark(&self.prepared.cells()));
        let variables = self.variables(&mut data);
        if variables.end > u32::from(u16::MAX) {
            return Err(SessionError::TooLong { found: variables.end as usize, allowed: MOST_BYTES });
        }
        let mut draft = Draft::new().map_err(refused)?;
        self.write(&mut draft, &variables, &pages, &texts).map_err(refused)?;
        let bytes = draft.asm.assemble(u64::from(LOADED_AT)).map_err(refused)?;
        Ok(Drafted { bytes, notes: draft.notes, parts: data.parts, end: variables.end })
    }

    fn write(&self, d: &mut Draft, v: &SessionVariables, pages: &SessionPages, texts: &Texts) -> Result<(), IcedError> {
        let mut r = SessionRoutines::new(|| d.asm.create_label());
        self.begin(d, &r, v, pages)?;
        self.looks(d, &r, v, pages)?;
        output::write(d, &mut r, v, texts, self.session.looks().len() as u32)?;
        self.routines(d, &mut r, v)?;
        self.waits(d, &mut r)?;
        pictures::write(d, &mut r, v, self.file.is_some())?;
        screen::write_begin_and_end(d, &mut r, v)?;
        screen::write_pixel(d, &mut r, v, self)?;
        screen::write_marker(d, &mut r, v)?;
        screen::write_label(d, &mut r, v)?;
        d.asm.set_label(&mut r.bad_data)?;
        d.note("the data file cannot be read: back to text, and out");
        d.asm.call(r.text_mode)?;
        d.asm.mov(dx, pages.bad_data)?;
        d.asm.call(r.print)?;
        d.asm.mov(ax, 0x4C01)?;
        d.asm.int(0x21)
    }
}
