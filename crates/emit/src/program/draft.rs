//! The program, instruction by instruction.
//!
//! Data stands behind the code, so its addresses depend on the code's length.
//! The code is drafted twice: once to learn how long it is, then with the
//! addresses that follow; both drafts have the same length, since an address
//! always takes a word.

use backporch_adapter::{FirmwareMode, PortRole, StatusSignal};
use backporch_picture::lay::bits_per_pixel;
use backporch_raster::{Plain, QuietFrame};
use backporch_workaround::transition::{BeamMoment, Stage};
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::code::{Code, DataPart};
use super::picture::digits;
use super::sources::{BACKSPACE, ESCAPE, LINES_DOWN, LOADED_AT, MOST_BYTES, TEXT_MODE};
use super::{ProgramError, TestProgram};
use crate::draft::Draft;
use crate::packing::runs::packed;
use crate::table::{WriteTable, rows_of};

/// Digits of the step number.
const DIGITS: u32 = 5;

/// Where the data stands, in the order in which it does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Data {
    step: u32,
    start: u32,
    digits: u32,
    under: u32,
    picture: u32,
}

/// What the code needs to know of the board.
struct Facts<'a> {
    program: &'a TestProgram<'a>,
    stages: &'a [Stage],
    mode: u8,
    /// Mode number of text, set at the end.
    text_mode: u8,
    segment: u32,
    status: u16,
    no_display: u32,
    retrace: u32,
    /// Bytes of a line of a digit.
    glyph_bytes: u32,
    /// Where the eight lines under the number stand, from the start address on:
    /// bytes to add, then address bits to put in.
    lines: Vec<(u32, u32)>,
    unit: u32,
    mask: u32,
}

/// Assembles a program.
pub(super) fn assemble(program: &TestProgram<'_>, table: &WriteTable) -> Result<Code, ProgramError> {
    let facts = Facts::new(program, table)?;
    let quiet = QuietFrame::new(program.adapter, program.registers, &Plain);
    let bits = bits_per_pixel(&quiet).map_err(|_| ProgramError::Pixels(program.mode.name.clone()))?;
    let picture = packed(&program.memory()?);
    let glyphs = digits(bits);
    let under = vec![0; (DIGITS * facts.glyph_bytes) as usize * facts.lines.len()];

    let length = facts.draft(Data::default())?.1.len() as u32;
    let step = u32::from(LOADED_AT) + length;
    let data = Data {
        step,
        start: step + 2,
        digits: step + 4,
        under: step + 4 + glyphs.len() as u32,
        picture: step + 4 + (glyphs.len() + under.len()) as u32,
    };
    let (draft, bytes) = facts.draft(data)?;
    if bytes.len() as u32 != length {
        return Err(ProgramError::Assembler("the code's length depends on its data's addresses".to_string()));
    }
    let parts = vec![
        DataPart::new("number of the step", vec![0; 2]),
        DataPart::new("start address of the step", vec![0; 2]),
        DataPart::new("digits 0 to 9, eight lines each", glyphs),
        DataPart::new("what stands under the number", under),
        DataPart::new("test picture, packed", picture),
    ];
    let code = Code::new(bytes, draft.notes, parts, &table.head_of_program());
    let found = code.bytes().len();
    if found > MOST_BYTES {
        return Err(ProgramError::TooLong { found, allowed: MOST_BYTES });
    }
    Ok(code)
}

impl<'a> Facts<'a> {
    fn new(program: &'a TestProgram<'a>, table: &'a WriteTable) -> Result<Self, ProgramError> {
        let adapter = program.adapter;
        let bit = |signal, missing| adapter.status_mask(signal).map(u32::from).ok_or(ProgramError::Missing(missing));
        let quiet = QuietFrame::new(adapter, program.registers, &Plain);
        let first = quiet.line(0, 0, 0);
        let lines = (0..8.min(quiet.picture_lines())).map(|index| {
            let line = quiet.line(0, 0, index);
            (line.row * line.pitch, line.bank)
        });
        let bits = bits_per_pixel(&quiet).map_err(|_| ProgramError::Pixels(program.mode.name.clone()))?;
        let firmware = program.mode.firmware.as_ref();
        let firmware = firmware.ok_or_else(|| ProgramError::Mode(program.mode.name.clone()))?;
        // The picture is unpacked byte by byte from the window's beginning.
        let path = adapter.memory_path(program.registers);
        if !(0..8).all(|offset| path.written(offset) == Some((offset, 1))) {
            return Err(ProgramError::Pixels(program.mode.name.clone()));
        }
        let window = adapter.memory().window;
        Ok(Self {
            program,
            stages: &table.transition().stages,
            mode: firmware.number(),
            text_mode: adapter.firmware_text_mode().map_or(TEXT_MODE, FirmwareMode::number),
            segment: window >> 4,
            status: adapter.port_of(program.registers, PortRole::Status).ok_or(ProgramError::Missing("status port"))?,
            no_display: bit(StatusSignal::DisplayDisabled, "status bit for the active area")?,
            retrace: bit(StatusSignal::VerticalSync, "status bit for vertical retrace")?,
            glyph_bytes: 8 * bits / 8,
            lines: lines.collect(),
            unit: first.unit,
            mask: first.mask,
        })
    }

    fn draft(&self, data: Data) -> Result<(Draft, Vec<u8>), ProgramError> {
        let refused = |error: IcedError| ProgramError::Assembler(error.to_string());
        let mut draft = Draft::new().map_err(refused)?;
        self.write(&mut draft, data).map_err(refused)?;
        let bytes = draft.asm.assemble(u64::from(LOADED_AT)).map_err(refused)?;
        Ok((draft, bytes))
    }

    fn write(&self, d: &mut Draft, data: Data) -> Result<(), IcedError> {
        let mut step = d.asm.create_label();
        let (mut again, mut back, mut done) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        let (mut in_range, mut show) = (d.asm.create_label(), d.asm.create_label());
        let mut routines = Routines {
            retrace: d.asm.create_label(),
            active: d.asm.create_label(),
            address: d.asm.create_label(),
            save: d.asm.create_label(),
            number: d.asm.create_label(),
            restore: d.asm.create_label(),
        };

        d.note(format!("set the mode: {}", self.program.mode.title));
        d.asm.mov(ax, u32::from(self.mode))?;
        d.asm.int(0x10)?;
        d.note("video memory in ES; strings go upwards");
        d.asm.mov(ax, self.segment)?;
        d.asm.mov(es, ax)?;
        d.asm.cld()?;
        self.unpack(d, data)?;
        self.program_registers(d, &routines)?;
        d.note("the first step");
        d.asm.mov(word_ptr(data.step), 0)?;
        d.asm.jmp(step)?;

        d.asm.set_label(&mut again)?;
        d.note("wait for a key");
        d.asm.xor(ah, ah)?;
        d.asm.int(0x16)?;
        d.note("escape ends it");
        d.asm.cmp(al, ESCAPE)?;
        d.asm.je(done)?;
        d.note("what stood under the number comes back");
        d.asm.push(ax)?;
        d.asm.call(routines.restore)?;
        d.asm.pop(ax)?;
        d.note("backspace goes back, any other key on");
        d.asm.cmp(al, BACKSPACE)?;
        d.asm.je(back)?;
        d.asm.inc(word_ptr(data.step))?;
        d.asm.mov(ax, word_ptr(data.step))?;
        d.asm.cmp(ax, self.program.sweep.count)?;
        d.asm.jb(in_range)?;
        d.note("after the last step comes the first");
        d.asm.mov(word_ptr(data.step), 0)?;
        d.asm.set_label(&mut in_range)?;
        d.asm.jmp(step)?;
        d.asm.set_label(&mut back)?;
        d.asm.cmp(word_ptr(data.step), 0)?;
        d.asm.jne(show)?;
        d.note("before the first step comes the last");
        d.asm.mov(word_ptr(data.step), self.program.sweep.count)?;
        d.asm.set_label(&mut show)?;
        d.asm.dec(word_ptr(data.step))?;

        d.asm.set_label(&mut step)?;
        d.note("start address of the step: first + number x stride");
        d.asm.mov(ax, word_ptr(data.step))?;
        d.asm.mov(cx, self.program.sweep.stride)?;
        d.asm.mul(cx)?;
        d.asm.add(ax, self.program.sweep.from)?;
        d.asm.mov(word_ptr(data.start), ax)?;
        d.note("the number goes where the picture will begin");
        d.asm.call(routines.save)?;
        d.asm.call(routines.number)?;
        d.note("the start address is written in the active area");
        d.asm.call(routines.active)?;
        self.write_start(d, data)?;
        d.asm.jmp(again)?;

        d.asm.set_label(&mut done)?;
        d.note("back to text, and to whoever called");
        d.asm.mov(ax, u32::from(self.text_mode))?;
        d.asm.int(0x10)?;
        d.asm.mov(ax, 0x4C00)?;
        d.asm.int(0x21)?;
        self.routines(d, &mut routines, data)
    }

    /// Copies and runs, until a control byte of 0.
    fn unpack(&self, d: &mut Draft, data: Data) -> Result<(), IcedError> {
        d.note("unpack the test picture into video memory");
        d.asm.mov(si, data.picture)?;
        d.asm.xor(di, di)?;
        d.unpack("one byte, 3 to 130 times", |d| {
            d.asm.sub(cx, 125)?;
            d.asm.lodsb()?;
            d.asm.rep().stosb()
        })?;
        d.asm.nop()
    }

    /// The table, stage by stage.
    fn program_registers(&self, d: &mut Draft, routines: &Routines) -> Result<(), IcedError> {
        for stage in self.stages {
            d.note(stage.purpose);
            match stage.moment {
                BeamMoment::Anytime => d.asm.cli()?,
                BeamMoment::Retrace => d.asm.call(routines.retrace)?,
                BeamMoment::ActiveArea => d.asm.call(routines.active)?,
            }
            for row in rows_of(stage) {
                if let Some(words) = row.words() {
                    d.note(words);
                }
                d.out(row.port, row.value)?;
            }
            d.asm.sti()?;
        }
        Ok(())
    }

    /// Writes the step's start address, its upper byte first.
    fn write_start(&self, d: &mut Draft, data: Data) -> Result<(), IcedError> {
        let adapter = self.program.adapter;
        let field = adapter.field_info(adapter.start_address());
        let mut shift: u32 = field.width();
        for slice in field.bits.iter().rev() {
            shift -= u32::from(slice.width);
            let Some(cell) = slice.cell() else {
                continue;
            };
            let ports = adapter.cell_writes(self.program.registers, cell, 0);
            let (data_port, select) = match ports.as_slice() {
                [(port, index), (data, _)] => (*data, Some((*port, *index))),
                [(port, _)] => (*port, None),
                _ => continue,
            };
            if let Some((port, index)) = select {
                d.out(port, index)?;
            }
            d.note(format!("{}, bits {shift} to {}", field.name, shift + u32::from(slice.width) - 1));
            d.asm.mov(ax, word_ptr(data.start))?;
            if shift > 0 {
                d.asm.mov(cl, shift)?;
                d.asm.shr(ax, cl)?;
            }
            d.asm.mov(dx, u32::from(data_port))?;
            d.asm.out(dx, al)?;
        }
        d.asm.sti()
    }

    fn routines(&self, d: &mut Draft, routines: &mut Routines, data: Data) -> Result<(), IcedError> {
        self.wait_for_retrace(d, &mut routines.retrace)?;
        self.wait_for_active(d, &mut routines.active)?;
        self.address_of_line(d, &mut routines.address, data)?;
        let address = routines.address;
        self.each_line(d, &mut routines.save, address, "save what will stand under the number", |d, index| {
            d.asm.mov(bx, data.under + index * DIGITS * self.glyph_bytes)?;
            self.each_byte(d, |d| {
                d.asm.mov(al, byte_ptr(di).es())?;
                d.asm.mov(byte_ptr(bx), al)
            })
        })?;
        self.each_line(d, &mut routines.restore, address, "put back what stood under the number", |d, index| {
            d.asm.mov(bx, data.under + index * DIGITS * self.glyph_bytes)?;
            self.each_byte(d, |d| {
                d.asm.mov(al, byte_ptr(bx))?;
                d.asm.mov(byte_ptr(di).es(), al)
            })
        })?;
        self.number(d, routines, data)
    }

    /// Waits for the next retrace to begin; comes back with interrupts off.
    fn wait_for_retrace(&self, d: &mut Draft, label: &mut CodeLabel) -> Result<(), IcedError> {
        let (mut in_one, mut outside) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(label)?;
        d.note("routine: wait for vertical retrace to begin, interrupts off");
        d.asm.cli()?;
        d.asm.mov(dx, u32::from(self.status))?;
        d.asm.set_label(&mut in_one)?;
        d.asm.in_(al, dx)?;
        d.asm.test(al, self.retrace)?;
        d.asm.jne(in_one)?;
        d.asm.set_label(&mut outside)?;
        d.asm.in_(al, dx)?;
        d.asm.test(al, self.retrace)?;
        d.asm.je(outside)?;
        d.asm.ret()
    }

    /// Waits for some lines of the active area to pass; comes back with interrupts off.
    fn wait_for_active(&self, d: &mut Draft, label: &mut CodeLabel) -> Result<(), IcedError> {
        let (mut retrace, mut line, mut blank) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(label)?;
        d.note("routine: wait for the active area, some lines down, interrupts off");
        d.asm.cli()?;
        d.asm.mov(dx, u32::from(self.status))?;
        d.asm.set_label(&mut retrace)?;
        d.asm.in_(al, dx)?;
        d.asm.test(al, self.retrace)?;
        d.asm.je(retrace)?;
        d.asm.mov(cx, LINES_DOWN)?;
        d.asm.set_label(&mut line)?;
        d.note("until a line shows");
        d.asm.in_(al, dx)?;
        d.asm.test(al, self.no_display)?;
        d.asm.jne(line)?;
        d.asm.set_label(&mut blank)?;
        d.note("until it ends");
        d.asm.in_(al, dx)?;
        d.asm.test(al, self.no_display)?;
        d.asm.je(blank)?;
        d.asm.dec(cx)?;
        d.asm.jne(line)?;
        d.asm.ret()
    }

    /// DI: linear address of the step's first byte.
    fn address_of_line(&self, d: &mut Draft, label: &mut CodeLabel, data: Data) -> Result<(), IcedError> {
        d.asm.set_label(label)?;
        d.note("routine: DI, the linear address at which the step's picture begins");
        d.asm.mov(ax, word_ptr(data.start))?;
        d.asm.mov(cx, self.unit)?;
        d.asm.mul(cx)?;
        d.asm.mov(di, ax)?;
        d.asm.ret()
    }

    /// A routine that does something for each of the number's lines, DI at its first byte.
    fn each_line(
        &self,
        d: &mut Draft,
        label: &mut CodeLabel,
        address: CodeLabel,
        says: &str,
        each: impl Fn(&mut Draft, u32) -> Result<(), IcedError>,
    ) -> Result<(), IcedError> {
        d.asm.set_label(label)?;
        d.note(format!("routine: {says}"));
        for (index, (add, _)) in (0..).zip(&self.lines) {
            d.asm.call(address)?;
            d.asm.add(di, add & 0xFFFF)?;
            d.asm.and(di, self.mask & 0xFFFF)?;
            self.bank(d, index)?;
            each(d, index)?;
        }
        d.asm.ret()
    }

    fn bank(&self, d: &mut Draft, index: u32) -> Result<(), IcedError> {
        match self.lines[index as usize].1 {
            0 => Ok(()),
            bank => d.asm.or(di, bank),
        }
    }

    /// A loop over the bytes of one line of the number; DI stays inside its bank.
    fn each_byte(&self, d: &mut Draft, each: impl Fn(&mut Draft) -> Result<(), IcedError>) -> Result<(), IcedError> {
        let mut byte = d.asm.create_label();
        d.asm.mov(cx, DIGITS * self.glyph_bytes)?;
        d.asm.set_label(&mut byte)?;
        each(d)?;
        d.asm.inc(bx)?;
        self.next_byte(d)?;
        d.asm.dec(cx)?;
        d.asm.jne(byte)
    }

    /// One byte on, around the end of the bank to its beginning.
    fn next_byte(&self, d: &mut Draft) -> Result<(), IcedError> {
        let outside = self.lines.iter().fold(0, |bits, (_, bank)| bits | bank);
        d.asm.inc(di)?;
        match self.mask & 0xFFFF {
            0xFFFF => Ok(()),
            mask => d.asm.and(di, mask | outside & 0xFFFF),
        }
    }

    /// Draws the number of the step, digit by digit from the last.
    fn number(&self, d: &mut Draft, routines: &mut Routines, data: Data) -> Result<(), IcedError> {
        d.asm.set_label(&mut routines.number)?;
        d.note("routine: draw the number of the step, its last digit first");
        d.asm.mov(ax, word_ptr(data.step))?;
        for place in (0..DIGITS).rev() {
            d.asm.xor(dx, dx)?;
            d.asm.mov(cx, 10)?;
            d.asm.div(cx)?;
            d.asm.push(ax)?;
            d.note("the digit's eight lines");
            d.asm.mov(ax, dx)?;
            d.asm.mov(cx, 8 * self.glyph_bytes)?;
            d.asm.mul(cx)?;
            d.asm.add(ax, data.digits)?;
            d.asm.mov(si, ax)?;
            for (index, (add, _)) in (0..).zip(&self.lines) {
                let mut byte = d.asm.create_label();
                d.asm.call(routines.address)?;
                d.asm.add(di, (add + place * self.glyph_bytes) & 0xFFFF)?;
                d.asm.and(di, self.mask & 0xFFFF)?;
                self.bank(d, index)?;
                d.asm.mov(cx, self.glyph_bytes)?;
                d.asm.set_label(&mut byte)?;
                d.asm.lodsb()?;
                d.asm.mov(byte_ptr(di).es(), al)?;
                self.next_byte(d)?;
                d.asm.dec(cx)?;
                d.asm.jne(byte)?;
            }
            d.asm.pop(ax)?;
        }
        d.asm.ret()
    }
}

/// Labels of the routines.
struct Routines {
    retrace: CodeLabel,
    active: CodeLabel,
    address: CodeLabel,
    save: CodeLabel,
    number: CodeLabel,
    restore: CodeLabel,
}
