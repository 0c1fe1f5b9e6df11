//! When the start address is taken over, found without an eye: by the light-pen latch, or by the colours in the status port.
//!
//! A byte of the start address is written at some moment of a frame, timed from the beginning of the retrace before; at the
//! first line of the next picture the program looks which of the two addresses is shown. Moments are halved between the
//! latest that was taken and the earliest that was missed.

use std::sync::Arc;

use backporch_adapter::{Adapter, PortRole, Registers, Role};
use backporch_raster::Board;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::beam::{Poll, edge};
use super::facts::{Indexed, ModeFacts, SurveyFacts};
use super::layout::{SurveyRoutines, SurveyVariables};
use crate::draft::{Data, Draft, If};

/// The bit of the start address's upper byte that is turned over: many lines of any picture lie between the two addresses.
const TURNED: u8 = 0x20;
/// Bits of the status port that show colours (VGA register documentation, input status 1).
const COLOURS: u8 = 0x30;
/// Bytes of memory up to the turned address that are tried: an address stands for one, two or four bytes of a plane.
const SPANS: [u32; 3] = [0x2000, 0x4000, 0x8000];
/// Places of the first line that must show what the program looks for.
const PLACES: u64 = 8;

/// Beats before the picture begins that are left to get ready to look, and times as many that a slow processor may take.
const MARGIN: u32 = 64;
const MARGINS: u32 = 8;
/// Times that the moments between are halved.
const HALVINGS: u32 = 12;

/// How a program sees which address is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    /// By the light-pen latch: the ports that clear and set it, and the index of the register of its upper byte.
    Pen { clear: u16, set: u16, high: u8 },
    /// By the colours in the status port.
    Colours,
}

/// What a board offers.
#[derive(Clone, Copy, Debug)]
pub(super) struct TakeOverFacts {
    /// The register of the start address's upper byte.
    start: Indexed,
    look: Look,
}

impl TakeOverFacts {
    /// What the class of the board offers in a mode; `None` where no program can see what is shown.
    pub fn of(adapter: &Adapter, registers: &Registers) -> Option<Self> {
        let field = adapter.field_info(adapter.field_with(Role::StartAddress)?);
        let [lower, upper] = field.bits.as_slice() else { return None };
        let is_byte = lower.width == 8 && upper.low == 0 && upper.mask() & TURNED != 0;
        let start = Indexed::of(adapter, registers, upper.cell().filter(|_| is_byte)?)?;
        let port = |role| adapter.port_of(registers, role);
        let pen = adapter.profile().light_pen.and_then(|cells| {
            let (clear, set) = (port(PortRole::LightPenClear)?, port(PortRole::LightPenSet)?);
            Some(Look::Pen { clear, set, high: cells.high })
        });
        let look = pen.or_else(|| adapter.shows_colour_outputs().then_some(Look::Colours))?;
        (start.value & TURNED == 0).then_some(Self { start, look })
    }

    /// Bytes of memory to be filled with 0, and as many behind them with FFh, so that the first line shows which address it
    /// comes from; `None` where it does not in any way.
    pub fn span(&self, adapter: &Arc<Adapter>, registers: &Registers, (window, reach): (u32, u32)) -> Option<u32> {
        let spans: &[u32] = match self.look {
            Look::Pen { .. } => &[0],
            Look::Colours => &SPANS,
        };
        let tells = |span: &u32| {
            let shown = |value: u8| self.shown(adapter, registers, (window, *span), value);
            shown(self.start.value) == Some(false) && shown(self.start.value ^ TURNED) == Some(true)
        };
        spans.iter().copied().filter(|span| 2 * span <= reach).find(tells)
    }

    /// Whether the first line shows the turned address with a value in the register; `None` where its places differ.
    fn shown(
        &self,
        adapter: &Arc<Adapter>,
        registers: &Registers,
        (window, span): (u32, u32),
        value: u8,
    ) -> Option<bool> {
        let mut board = Board::plain(Arc::clone(adapter), registers.clone());
        board.write_port(self.start.index_port, self.start.index);
        board.write_port(self.start.data_port, value);
        (0..2 * span).for_each(|at| board.write_memory(window + at, if at < span { 0 } else { 0xFF }));
        board.run_frame();
        board.run_frame();
        let begin = board.beam().dot;
        let across = u64::from(adapter.signal(registers).ok()?.horizontal.active());
        let status = adapter.port_of(registers, PortRole::Status)?;
        let mut at = |place: u64| {
            board.run_to(begin + across * place / (PLACES + 1));
            match self.look {
                Look::Pen { clear, set, high } => {
                    board.write_port(clear, 0);
                    board.write_port(set, 0);
                    board.write_port(self.start.index_port, high);
                    board.read_port(self.start.data_port) & TURNED != 0
                }
                Look::Colours => board.read_port(status) & COLOURS != 0,
            }
        };
        let first = at(1);
        (2..=PLACES).all(|place| at(place) == first).then_some(first)
    }
}

/// What is said.
#[derive(Clone, Copy, Debug)]
pub(super) struct TakeOverTexts {
    taken: u32,
    missed: u32,
    unseen: u32,
}

impl TakeOverTexts {
    pub fn put(data: &mut Data) -> Self {
        let mut line = |text: &str| data.line("said of the start address", text);
        Self { taken: line("take-over taken "), missed: line(" missed "), unseen: line("take-over unseen") }
    }
}

/// Asks in a mode, where it can be seen.
pub(super) fn ask(d: &mut Draft, r: &SurveyRoutines, v: &SurveyVariables, mode: &ModeFacts) -> Result<(), IcedError> {
    let Some(span) = mode.take_over_span else { return Ok(()) };
    d.note("when the start address is taken over");
    d.asm.mov(word_ptr(v.span), span)?;
    d.asm.call(r.take_over)
}

/// The routine; nothing where the board offers no way.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SurveyRoutines,
    v: &SurveyVariables,
    facts: &SurveyFacts<'_>,
    said: &TakeOverTexts,
) -> Result<(), IcedError> {
    let Some(offered) = facts.take_over else { return Ok(()) };
    let (mut unseen, mut lost, mut trial) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let routines = *r;
    let asking = |unseen| Asking { facts, offered, routines, variables: v, poll: Poll { facts, unseen } };
    d.asm.set_label(&mut r.take_over)?;
    d.note("routine: when is the start address taken over? What is shown of one address is 0, of the other FFh");
    asking(unseen).routine(d, said, &mut unseen, trial)?;
    d.asm.set_label(&mut trial)?;
    d.note("routine: try the moment AX");
    asking(lost).trial(d)?;
    d.asm.set_label(&mut lost)?;
    d.note("a bit that never came: what called this is left, too");
    d.asm.pop(ax)?;
    d.asm.jmp(unseen)
}

struct Asking<'a, 'b> {
    facts: &'a SurveyFacts<'b>,
    offered: TakeOverFacts,
    routines: SurveyRoutines,
    variables: &'a SurveyVariables,
    poll: Poll<'a, 'b>,
}

impl Asking<'_, '_> {
    /// Writes the register of the start address that is selected.
    fn write_start(&self, d: &mut Draft, value: u8) -> Result<(), IcedError> {
        d.out(self.offered.start.data_port, value)
    }

    fn status(&self, d: &mut Draft) -> Result<(), IcedError> {
        d.asm.mov(dx, u32::from(self.facts.status))
    }

    /// BX: beats since the reference.
    fn since(&self, d: &mut Draft) -> Result<(), IcedError> {
        d.asm.call(self.routines.now)?;
        d.asm.mov(bx, word_ptr(self.variables.before))?;
        d.asm.sub(bx, ax)
    }

    fn routine(
        &self,
        d: &mut Draft,
        said: &TakeOverTexts,
        unseen: &mut CodeLabel,
        trial: CodeLabel,
    ) -> Result<(), IcedError> {
        let (r, v) = (self.routines, self.variables);
        let (mut halve, mut say, mut done) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        let (mut later, mut tried) = (d.asm.create_label(), d.asm.create_label());
        if self.offered.look == Look::Colours {
            d.asm.mov(es, word_ptr(v.video))?;
            d.asm.xor(di, di)?;
            for value in [0u32, 0xFF] {
                d.asm.mov(al, value)?;
                d.asm.mov(cx, word_ptr(v.span))?;
                d.asm.rep().stosb()?;
            }
        }
        d.note("how long a frame takes, and how long after retrace begins its picture does");
        self.status(d)?;
        self.poll.next_retrace(d)?;
        edge(d, &self.routines, self.variables)?;
        self.poll.next_retrace(d)?;
        self.since(d)?;
        d.asm.mov(word_ptr(v.before), ax)?;
        d.asm.mov(word_ptr(v.frame), bx)?;
        self.poll.shown(d)?;
        self.since(d)?;
        d.asm.add(bx, word_ptr(v.frame))?;
        d.asm.mov(word_ptr(v.begins), bx)?;
        d.note("a moment that is early, one that is late");
        d.asm.xor(ax, ax)?;
        d.asm.mov(word_ptr(v.taken), ax)?;
        d.asm.mov(word_ptr(v.missed), ax)?;
        d.asm.mov(ax, word_ptr(v.frame))?;
        d.asm.shr(ax, 1)?;
        d.asm.call(trial)?;
        d.note("one that is as late as this processor still can look after it");
        d.asm.mov(ax, word_ptr(v.taken))?;
        d.asm.mov(word_ptr(v.early), ax)?;
        d.asm.mov(ax, word_ptr(v.begins))?;
        d.asm.mov(word_ptr(v.late), ax)?;
        d.asm.mov(word_ptr(v.left), MARGINS)?;
        d.asm.set_label(&mut later)?;
        d.asm.sub(word_ptr(v.late), MARGIN)?;
        d.asm.mov(ax, word_ptr(v.late))?;
        d.asm.call(trial)?;
        d.asm.cmp(word_ptr(v.missed), 0)?;
        d.asm.jne(tried)?;
        d.asm.mov(ax, word_ptr(v.early))?;
        d.asm.cmp(ax, word_ptr(v.taken))?;
        d.asm.jne(tried)?;
        d.asm.dec(word_ptr(v.left))?;
        d.asm.jne(later)?;
        d.asm.set_label(&mut tried)?;
        d.note("and those between, halved");
        d.asm.mov(word_ptr(v.left), HALVINGS)?;
        d.asm.set_label(&mut halve)?;
        d.asm.mov(bx, word_ptr(v.taken))?;
        d.asm.test(bx, bx)?;
        d.jump(If::Equal, say)?;
        d.asm.mov(ax, word_ptr(v.missed))?;
        d.asm.test(ax, ax)?;
        d.jump(If::Equal, say)?;
        d.asm.add(ax, bx)?;
        d.asm.rcr(ax, 1)?;
        d.asm.call(trial)?;
        d.asm.dec(word_ptr(v.left))?;
        d.jump(If::NotEqual, halve)?;
        d.asm.set_label(&mut say)?;
        d.note("the latest that was taken, the earliest that was missed, since retrace began a frame before; 0 where there was none");
        for (text, at) in [(said.taken, v.taken), (said.missed, v.missed)] {
            d.asm.mov(si, text)?;
            d.asm.call(r.say)?;
            d.asm.mov(ax, word_ptr(at))?;
            d.asm.call(r.say_number)?;
        }
        d.asm.jmp(done)?;
        d.asm.set_label(unseen)?;
        d.asm.mov(si, said.unseen)?;
        d.asm.call(r.say)?;
        d.asm.set_label(&mut done)?;
        d.note("the address as it was");
        self.select_start(d)?;
        self.write_start(d, self.offered.start.value)?;
        d.asm.jmp(r.say_end)
    }

    fn select_start(&self, d: &mut Draft) -> Result<(), IcedError> {
        d.out(self.offered.start.index_port, self.offered.start.index)
    }

    /// One moment.
    fn trial(&self, d: &mut Draft) -> Result<(), IcedError> {
        let v = self.variables;
        let (mut wait, mut after, mut not_shown, mut end) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        let mut first_missed = d.asm.create_label();
        d.asm.mov(word_ptr(v.moment), ax)?;
        self.select_start(d)?;
        self.write_start(d, self.offered.start.value)?;
        if let Look::Pen { clear, .. } = self.offered.look {
            d.out(clear, 0)?;
        }
        self.status(d)?;
        self.poll.next_retrace(d)?;
        self.poll.next_retrace(d)?;
        edge(d, &self.routines, self.variables)?;
        d.asm.set_label(&mut wait)?;
        self.since(d)?;
        d.asm.cmp(bx, word_ptr(v.moment))?;
        d.asm.jb(wait)?;
        self.write_start(d, self.offered.start.value ^ TURNED)?;
        self.since(d)?;
        d.asm.mov(word_ptr(v.moment), bx)?;
        d.note("too late to look at the next picture?");
        d.asm.cmp(bx, word_ptr(v.begins))?;
        d.jump(If::NotBelow, end)?;
        self.status(d)?;
        d.asm.cmp(bx, word_ptr(v.frame))?;
        d.jump(If::NotBelow, after)?;
        self.poll.retrace(d, true)?;
        d.asm.set_label(&mut after)?;
        d.asm.nop()?;
        self.poll.shown(d)?;
        match self.offered.look {
            Look::Pen { set, high, .. } => {
                d.out(set, 0)?;
                d.out(self.offered.start.index_port, high)?;
                d.asm.mov(dx, u32::from(self.offered.start.data_port))?;
                d.asm.in_(al, dx)?;
                d.asm.test(al, u32::from(TURNED))?;
            }
            Look::Colours => {
                d.asm.mov(ah, al)?;
                d.asm.in_(al, dx)?;
                d.asm.or(al, ah)?;
                d.asm.test(al, u32::from(COLOURS))?;
            }
        }
        d.asm.mov(ax, word_ptr(v.moment))?;
        d.jump(If::Equal, not_shown)?;
        d.asm.cmp(ax, word_ptr(v.taken))?;
        d.jump(If::Below, end)?;
        d.asm.mov(word_ptr(v.taken), ax)?;
        d.asm.ret()?;
        d.asm.set_label(&mut not_shown)?;
        d.asm.cmp(word_ptr(v.missed), 0)?;
        d.asm.je(first_missed)?;
        d.asm.cmp(ax, word_ptr(v.missed))?;
        d.asm.jae(end)?;
        d.asm.set_label(&mut first_missed)?;
        d.asm.mov(word_ptr(v.missed), ax)?;
        d.asm.set_label(&mut end)?;
        d.asm.ret()
    }
}
