//! Register transitions: the safe way from one set of registers to another.
//!
//! ```text
//! from, to ──► cells that differ ──► stages: which writes, in which order, where the beam has to be
//!                                └─► whether the signal changes on the way: then the monitor's caution is due
//! ```
//!
//! Writes are put in an order, and at places of the beam, that no frame on the
//! way can suffer from (common practice): protection lifted first; horizontal
//! registers in vertical retrace, in an order in which sync never lies beyond
//! the end of the line where there is one; then the vertical ones, likewise for
//! the frame; then whatever else changes the signal; protection restored; the
//! start address last, in the active area, where no class takes it over between
//! its two bytes.
//!
//! Where the monitor is known, [`Transition::on`] looks for the order in which fewest of the states between lie outside what
//! it takes, and [`Passing`] tells those that are left, and the [`Pulses`] that are sent meanwhile.

mod passing;
mod pulses;

use backporch_adapter::{Adapter, Bank, Cell, Field, Registers, Role};
use backporch_signal::Monitor;

pub use self::passing::{Passing, RefusedState};
use self::passing::{between, frame_too_short, line_too_short, takes};
pub use self::pulses::{Intervals, Pulses};

/// Where the beam has to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BeamMoment {
    /// Anywhere.
    Anytime,
    /// In vertical retrace.
    Retrace,
    /// In the active area, below the first row.
    ActiveArea,
}

/// One register of the board and the byte it gets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CellWrite {
    /// The register.
    pub cell: Cell,
    /// The byte.
    pub byte: u8,
    /// The port writes that store it.
    pub ports: Vec<(u16, u8)>,
    /// What it says, a line for each named register in it.
    pub says: Vec<String>,
}

impl CellWrite {
    /// Bank and index.
    #[must_use]
    pub fn place(&self) -> (Bank, u8) {
        self.cell.bank_and_index()
    }
}

/// Writes that belong together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stage {
    /// What it is for.
    pub purpose: &'static str,
    /// Where the beam has to be.
    pub moment: BeamMoment,
    /// The writes, in order.
    pub cells: Vec<CellWrite>,
}

/// Every write from one set of registers to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Transition {
    /// In order; none of them is empty.
    pub stages: Vec<Stage>,
    /// Whether any write on the way changes the signal, so that the monitor's
    /// manual has to be read first.
    pub changes_signal: bool,
}

/// Horizontal registers in the order that is kept while the line grows; where
/// it shrinks they are written backwards, unless another order keeps sync inside.
const HORIZONTAL: [Role; 7] = [
    Role::HorizontalTotal,
    Role::HorizontalSyncWidth,
    Role::HorizontalSyncStart,
    Role::HorizontalSyncEnd,
    Role::HorizontalBlankStart,
    Role::HorizontalBlankEnd,
    Role::HorizontalDisplayed,
];
/// Vertical registers, likewise.
const VERTICAL: [Role; 11] = [
    Role::VerticalTotal,
    Role::VerticalTotalAdjust,
    Role::RowHeight,
    Role::VerticalSyncStart,
    Role::VerticalSyncWidth,
    Role::VerticalSyncEnd,
    Role::VerticalBlankStart,
    Role::VerticalBlankEnd,
    Role::VerticalDisplayed,
    Role::DoubleScan,
    Role::Pitch,
];

/// Most cells that the best order is looked for; no controller here spreads an axis over more.
const MOST_ORDERED: usize = 12;
/// States that the monitor refuses that a bad one outweighs: more than there are on any way.
const BAD: u32 = 64;

impl Transition {
    /// The writes that bring a board from `from` to `to`.
    #[must_use]
    pub fn new(adapter: &Adapter, from: &Registers, to: &Registers) -> Self {
        Self::with(&Route::new(adapter, from, to), Rest::Last)
    }

    /// The same for a monitor, where it is known: in the order in which fewest of the states between are ones it refuses.
    #[must_use]
    pub fn on(monitor: Option<&Monitor>, adapter: &Adapter, from: &Registers, to: &Registers) -> Self {
        let Some(monitor) = monitor else {
            return Self::new(adapter, from, to);
        };
        let route = Route { monitor: Some(monitor), ..Route::new(adapter, from, to) };
        let outside = |one: &Self| between(adapter, from, one, monitor).1.len();
        let (last, first) = (Self::with(&route, Rest::Last), Self::with(&route, Rest::First));
        if outside(&first) < outside(&last) { first } else { last }
    }

    fn with(route: &Route<'_>, place: Rest) -> Self {
        let Route { adapter, from, to, .. } = *route;
        let start = route.start_address();
        let horizontal = route.differing(&HORIZONTAL, route.shrinks(Role::HorizontalTotal), &[]);
        let vertical = route.differing(&VERTICAL, route.shrinks(Role::VerticalTotal), &horizontal);
        let rest = route.rest(&[horizontal.as_slice(), &vertical, &start].concat());
        let mut cells = horizontal.iter().chain(&vertical).chain(&rest).chain(&start);
        let shut = cells.any(|cell| adapter.is_protected(from, *cell));

        let mut walk = Walk { route, now: from.clone(), stages: Vec::new(), changes_signal: false };
        let protect: Vec<Cell> = route.protect.into_iter().flat_map(cells_of).collect();
        if let Some(field) = route.protect.filter(|_| shut) {
            let mut lifted = from.clone();
            // Cleared bits fit every field.
            let _ = lifted.set(field, 0);
            walk.stage("lift the write protection", BeamMoment::Anytime, &protect, &lifted);
        }
        let other = match place {
            Rest::First => {
                let other = walk.rest(rest);
                walk.counters(horizontal, vertical);
                other
            }
            Rest::Last => {
                walk.counters(horizontal, vertical);
                walk.rest(rest)
            }
        };
        walk.stage("other registers", BeamMoment::Anytime, &other, &route.open);
        if protect.iter().any(|cell| walk.now.cell(*cell) != to.cell(*cell)) {
            walk.stage("set the write protection", BeamMoment::Anytime, &protect, to);
        }
        walk.stage(
            "start address, upper byte first, in the active area so that no frame takes it over half written",
            BeamMoment::ActiveArea,
            &start,
            to,
        );
        Self { stages: walk.stages, changes_signal: walk.changes_signal }
    }

    /// Every port write, in order.
    pub fn ports(&self) -> impl Iterator<Item = (u16, u8)> + '_ {
        self.stages.iter().flat_map(|stage| &stage.cells).flat_map(|cell| cell.ports.iter().copied())
    }
}

/// When registers beside the counters' that change the signal are written: dot clock, polarity, width of a character.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Rest {
    /// Before the counters'.
    First,
    /// After them.
    Last,
}

fn cells_of(field: &Field) -> impl Iterator<Item = Cell> + '_ {
    field.bits.iter().filter_map(|slice| slice.cell())
}

/// The registers as the writes leave them, one after another.
struct Walk<'a> {
    route: &'a Route<'a>,
    now: Registers,
    stages: Vec<Stage>,
    changes_signal: bool,
}

impl Walk<'_> {
    /// Takes the cells to their bytes in `target`.
    fn stage(&mut self, purpose: &'static str, moment: BeamMoment, cells: &[Cell], target: &Registers) {
        let mut writes = Vec::with_capacity(cells.len());
        for cell in cells {
            let before = self.now.clone();
            writes.push(self.route.write(*cell, &before, target));
            self.now.set_cell(*cell, target.cell(*cell));
            self.changes_signal |= self.route.adapter.changes_signal(&before, &self.now);
        }
        if !writes.is_empty() {
            self.stages.push(Stage { purpose, moment, cells: writes });
        }
    }

    /// The registers of the counters, along the line and down the frame.
    fn counters(&mut self, horizontal: Vec<Cell>, vertical: Vec<Cell>) {
        let line = |adapter: &Adapter, registers: &Registers| line_too_short(&adapter.timing(registers));
        let horizontal = self.route.ordered(&self.now, horizontal, line);
        let purpose = "horizontal registers, in retrace so that no line is cut";
        self.stage(purpose, BeamMoment::Retrace, &horizontal, &self.route.open);
        let frame = |adapter: &Adapter, registers: &Registers| frame_too_short(&adapter.timing(registers));
        let vertical = self.route.ordered(&self.now, vertical, frame);
        self.stage("vertical registers", BeamMoment::Retrace, &vertical, &self.route.open);
    }

    /// What else changes the signal; hands back what does not.
    fn rest(&mut self, rest: Vec<Cell>) -> Vec<Cell> {
        let (signal, other) = self.route.apart(&self.now, rest);
        self.stage("other registers that change the signal", BeamMoment::Retrace, &signal, &self.route.open);
        other
    }
}

/// What has to be written, in no order yet.
struct Route<'a> {
    adapter: &'a Adapter,
    from: &'a Registers,
    to: &'a Registers,
    /// The field that protects registers from writes.
    protect: Option<&'a Field>,
    /// `to` with the protection lifted.
    open: Registers,
    /// The monitor, where it is known.
    monitor: Option<&'a Monitor>,
}

impl<'a> Route<'a> {
    fn new(adapter: &'a Adapter, from: &'a Registers, to: &'a Registers) -> Self {
        let protect = adapter.protect_field().map(|field| adapter.field_info(field));
        let mut open = to.clone();
        if let Some(field) = protect {
            // Cleared bits fit every field.
            let _ = open.set(field, 0);
        }
        Self { adapter, from, to, protect, open, monitor: None }
    }

    fn shrinks(&self, role: Role) -> bool {
        let field = self.adapter.field_with(role);
        field.is_some_and(|field| self.adapter.get(self.to, field) < self.adapter.get(self.from, field))
    }

    /// Whether more than the protection differs in a cell that a port reaches.
    fn changed(&self, cell: Cell) -> bool {
        let slices = self.protect.into_iter().flat_map(|field| &field.bits);
        let protecting = slices.filter(|slice| slice.cell() == Some(cell)).fold(0, |mask, slice| mask | slice.mask());
        (self.from.cell(cell) ^ self.to.cell(cell)) & !protecting != 0
            && !self.adapter.cell_writes(self.from, cell, 0).is_empty()
    }

    /// Cells of the registers with these roles that get another byte, each once.
    fn differing(&self, roles: &[Role], backwards: bool, known: &[Cell]) -> Vec<Cell> {
        let fields = roles.iter().filter_map(|role| self.adapter.field_with(*role));
        let mut cells = self.each_once(fields.map(|field| self.adapter.field_info(field)), known);
        if backwards {
            cells.reverse();
        }
        cells
    }

    /// Both bytes of the start address, upper first: a pair is always written whole.
    fn start_address(&self) -> Vec<Cell> {
        let field = self.adapter.field_info(self.adapter.start_address());
        cells_of(field).collect::<Vec<_>>().into_iter().rev().collect()
    }

    /// Every other cell that gets another byte.
    fn rest(&self, known: &[Cell]) -> Vec<Cell> {
        self.each_once(self.adapter.fields().map(|(_, field)| field), known)
    }

    fn each_once<'f>(&self, fields: impl Iterator<Item = &'f Field>, known: &[Cell]) -> Vec<Cell> {
        let mut cells = Vec::new();
        for cell in fields.flat_map(cells_of) {
            if self.changed(cell) && !known.contains(&cell) && !cells.contains(&cell) {
                cells.push(cell);
            }
        }
        cells
    }

    /// The cells in the order with the fewest bad states on the way, and of several such with the fewest that the monitor
    /// refuses, nearest to their own.
    ///
    /// Which cells are written decides a state, not their order, so the best
    /// rest of every way is found from the end backwards over sets of cells.
    fn ordered(&self, now: &Registers, cells: Vec<Cell>, bad: fn(&Adapter, &Registers) -> bool) -> Vec<Cell> {
        if cells.len() > MOST_ORDERED {
            return cells;
        }
        let all = (1usize << cells.len()) - 1;
        let mut ahead = vec![(0u32, 0usize); all + 1];
        let badness = |written: usize| {
            let mut registers = now.clone();
            for (_, cell) in cells.iter().enumerate().filter(|(at, _)| written >> at & 1 != 0) {
                registers.set_cell(*cell, self.open.cell(*cell));
            }
            let refused = self.monitor.is_some_and(|monitor| !takes(self.adapter, monitor, &registers));
            BAD * u32::from(bad(self.adapter, &registers)) + u32::from(refused)
        };
        let states: Vec<u32> = (0..=all).map(badness).collect();
        for written in (0..all).rev() {
            let next = (0..cells.len()).filter(|at| written >> at & 1 == 0);
            let cost = |at: usize| states[written | 1 << at] + ahead[written | 1 << at].0;
            let best = next.map(|at| (cost(at), at)).min();
            ahead[written] = best.unwrap_or_default();
        }
        let mut order = Vec::new();
        let mut written = 0;
        while written != all {
            let (_, at) = ahead[written];
            order.push(cells[at]);
            written |= 1 << at;
        }
        order
    }

    /// The cells that change the signal when they are written in this order,
    /// and those that do not after them.
    fn apart(&self, now: &Registers, mut other: Vec<Cell>) -> (Vec<Cell>, Vec<Cell>) {
        let mut signal = Vec::new();
        loop {
            let mut registers = now.clone();
            signal.iter().for_each(|cell| registers.set_cell(*cell, self.open.cell(*cell)));
            let changing = other.iter().position(|cell| {
                let before = registers.clone();
                registers.set_cell(*cell, self.open.cell(*cell));
                self.adapter.changes_signal(&before, &registers)
            });
            match changing {
                Some(at) => signal.push(other.remove(at)),
                None => return (signal, other),
            }
        }
    }

    /// Writes a cell to its byte in `registers` from where `now` has the ports.
    fn write(&self, cell: Cell, now: &Registers, registers: &Registers) -> CellWrite {
        let byte = registers.cell(cell);
        let holds = |field: &&Field| cells_of(field).any(|of| of == cell);
        let fields = self.adapter.fields().map(|(_, field)| field);
        let says = fields.filter(holds).map(|field| said(field, registers)).collect();
        CellWrite { cell, byte, ports: self.adapter.cell_writes(now, cell, byte), says }
    }
}

/// A register's name, value and quantity: `displayed 31: 32 character clocks`.
fn said(field: &Field, registers: &Registers) -> String {
    let value = registers.get(field);
    match field.unit.as_str() {
        "" => format!("{} {value}", field.name),
        unit => format!("{} {value}: {} {unit}", field.name, value + u32::from(field.plus)),
    }
}

#[cfg(test)]
mod tests;
