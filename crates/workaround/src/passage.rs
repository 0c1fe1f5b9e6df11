//! The safe way from one set of registers to another.
//!
//! Writes are put in an order, and at places of the beam, that no frame on the
//! way can suffer from (common practice): protection lifted first; horizontal
//! registers in vertical retrace, and so that sync never lies beyond the end of
//! the line; then the vertical ones; protection restored; the start address
//! last, in the active area, where no class takes it over between its two bytes.

use backporch_adapter::{Adapter, Bank, Cell, Field, Registers, Role};

/// Where the beam has to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
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
    pub moment: Moment,
    /// The writes, in order.
    pub cells: Vec<CellWrite>,
}

/// Every write from one set of registers to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passage {
    /// In order; none of them is empty.
    pub stages: Vec<Stage>,
    /// Whether totals or sync differ, so that the monitor's manual has to be read first.
    pub changes_sync: bool,
}

/// Horizontal registers, in the order that is safe while the line grows;
/// where it shrinks they are written backwards.
const HORIZONTAL: [Role; 4] =
    [Role::HorizontalTotal, Role::HorizontalSyncWidth, Role::HorizontalSyncStart, Role::HorizontalDisplayed];
/// Vertical registers, likewise.
const VERTICAL: [Role; 7] = [
    Role::VerticalTotal,
    Role::VerticalTotalAdjust,
    Role::RowHeight,
    Role::VerticalSyncStart,
    Role::VerticalSyncWidth,
    Role::VerticalDisplayed,
    Role::Pitch,
];

impl Passage {
    /// The writes that bring a board from `from` to `to`.
    #[must_use]
    pub fn new(adapter: &Adapter, from: &Registers, to: &Registers) -> Self {
        let route = Route { adapter, from, to };
        let horizontal = route.differing(&HORIZONTAL, route.shrinks(Role::HorizontalTotal));
        let vertical = route.differing(&VERTICAL, route.shrinks(Role::VerticalTotal));
        let start = route.start_address();
        let known: Vec<Cell> = [&horizontal, &vertical, &start].into_iter().flatten().copied().collect();
        let protect = adapter.protect_field().map(|field| adapter.field_info(field));
        let rest = route.rest(&known, protect);
        let shut = known.iter().chain(&rest).any(|cell| adapter.is_protected(from, *cell));

        let mut open = to.clone();
        let mut stages = Vec::new();
        let mut stage = |purpose, moment, cells: Vec<CellWrite>| {
            if !cells.is_empty() {
                stages.push(Stage { purpose, moment, cells });
            }
        };
        if let Some(field) = protect.filter(|_| shut) {
            // Cleared bits fit every field.
            let _ = open.set(field, 0);
            stage("lift the write protection", Moment::Anytime, route.of_field(field, &open));
        }
        let write = |cells: Vec<Cell>| cells.into_iter().map(|cell| route.write(cell, to)).collect();
        stage("horizontal registers, in retrace so that no line is cut", Moment::Retrace, write(horizontal));
        stage("vertical registers", Moment::Retrace, write(vertical));
        stage("other registers", Moment::Anytime, write(rest));
        let differs = |field: &&Field| from.get(field) != to.get(field);
        if let Some(field) = protect.filter(|field| shut || differs(field)) {
            stage("set the write protection", Moment::Anytime, route.of_field(field, to));
        }
        stage(
            "start address, upper byte first, in the active area so that no frame takes it over half written",
            Moment::ActiveArea,
            write(start),
        );
        Self { stages, changes_sync: adapter.changes_signal(from, to) }
    }

    /// Every port write, in order.
    pub fn ports(&self) -> impl Iterator<Item = (u16, u8)> + '_ {
        self.stages.iter().flat_map(|stage| &stage.cells).flat_map(|cell| cell.ports.iter().copied())
    }
}

struct Route<'a> {
    adapter: &'a Adapter,
    from: &'a Registers,
    to: &'a Registers,
}

impl Route<'_> {
    fn shrinks(&self, role: Role) -> bool {
        let field = self.adapter.field_with(role);
        field.is_some_and(|field| self.adapter.get(self.to, field) < self.adapter.get(self.from, field))
    }

    fn cells(field: &Field) -> impl Iterator<Item = Cell> + '_ {
        field.bits.iter().filter_map(|slice| slice.cell())
    }

    fn changed(&self, cell: Cell) -> bool {
        self.from.cell(cell) != self.to.cell(cell) && !self.adapter.cell_writes(cell, 0).is_empty()
    }

    /// Cells of the registers with these roles that get another byte, each once.
    fn differing(&self, roles: &[Role], backwards: bool) -> Vec<Cell> {
        let mut cells = Vec::new();
        for field in roles.iter().filter_map(|role| self.adapter.field_with(*role)) {
            for cell in Self::cells(self.adapter.field_info(field)) {
                if self.changed(cell) && !cells.contains(&cell) {
                    cells.push(cell);
                }
            }
        }
        if backwards {
            cells.reverse();
        }
        cells
    }

    /// Both bytes of the start address, upper first: a pair is always written whole.
    fn start_address(&self) -> Vec<Cell> {
        let field = self.adapter.field_info(self.adapter.start_address());
        Self::cells(field).collect::<Vec<_>>().into_iter().rev().collect()
    }

    /// Every other cell that gets another byte.
    fn rest(&self, known: &[Cell], protect: Option<&Field>) -> Vec<Cell> {
        let protect: Vec<Cell> = protect.into_iter().flat_map(Self::cells).collect();
        let mut cells = Vec::new();
        for (_, field) in self.adapter.fields() {
            for cell in Self::cells(field) {
                let elsewhere = known.contains(&cell) || protect.contains(&cell) || cells.contains(&cell);
                if self.changed(cell) && !elsewhere {
                    cells.push(cell);
                }
            }
        }
        cells
    }

    fn of_field(&self, field: &Field, registers: &Registers) -> Vec<CellWrite> {
        Self::cells(field).map(|cell| self.write(cell, registers)).collect()
    }

    fn write(&self, cell: Cell, registers: &Registers) -> CellWrite {
        let byte = registers.cell(cell);
        let holds = |field: &&Field| Self::cells(field).any(|of| of == cell);
        let fields = self.adapter.fields().map(|(_, field)| field);
        let says = fields.filter(holds).map(|field| said(field, registers)).collect();
        CellWrite { cell, byte, ports: self.adapter.cell_writes(cell, byte), says }
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
mod tests {
    use super::*;
    use backporch_adapter::{BUILT_IN_ADAPTERS, Guard};
    use proptest::prelude::*;

    proptest! {
        /// Whatever the two sets, the writes lead from one to the other, and
        /// on the way sync never lies beyond the end of the line where it
        /// does not in either.
        #[test]
        fn writes_lead_there(seed in any::<u64>()) {
            for (name, _) in BUILT_IN_ADAPTERS {
                let adapter = Adapter::built_in(name).unwrap();
                let from = adapter.start_up(adapter.default_mode());
                let mut to = from.clone();
                for (position, (field, info)) in adapter.fields().enumerate() {
                    let value = (seed ^ position as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20;
                    if info.access.writes() && value & 1 == 0 {
                        adapter.set(&mut to, field, (value >> 1) % (u64::from(info.max()) + 1)).unwrap();
                    }
                }
                let passage = Passage::new(&adapter, &from, &to);
                let mut registers = from.clone();
                for (port, byte) in passage.ports() {
                    adapter.write_port(&mut registers, port, byte, Guard::AsRegister);
                }
                for (field, info) in adapter.fields() {
                    prop_assert_eq!(adapter.get(&registers, field), adapter.get(&to, field), "{} {}", name, info.name);
                }
            }
        }
    }

    #[test]
    fn sync_stays_inside_the_line() {
        let adapter = Adapter::built_in("linear-256").unwrap();
        let wide = adapter.start_up(adapter.default_mode());
        let mut narrow = wide.clone();
        for (name, value) in [("horizontal_total", 40), ("sync_position", 33), ("displayed", 29)] {
            adapter.set(&mut narrow, adapter.field(name).unwrap(), value).unwrap();
        }
        for (from, to) in [(&wide, &narrow), (&narrow, &wide)] {
            let mut registers = from.clone();
            for (port, byte) in Passage::new(&adapter, from, to).ports() {
                adapter.write_port(&mut registers, port, byte, Guard::AsRegister);
                let signal = adapter.signal(&registers).unwrap();
                assert!(signal.horizontal.total() > 0);
            }
        }
    }
}
