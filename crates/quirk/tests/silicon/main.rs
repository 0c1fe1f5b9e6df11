//! The 64 KiB 256-colour class against its controller, simulated at gate level
//! (reverse-engineered schematic of display controller gate array 72X8300):
//! every row of the vectors, the table of what is damaged, and when the start
//! address is loaded.

mod damage;
mod geometry;
mod load;
mod transfers;

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Cell, Registers};
use backporch_quirk::Layers;

/// The class.
fn adapter() -> Arc<Adapter> {
    Adapter::built_in("linear-256").unwrap()
}

/// Its layers, without faults.
fn layers() -> Layers {
    Layers::new(&adapter(), Vec::new(), 0).unwrap()
}

/// Start-up registers with some cells of the controller changed.
fn registers(cells: &[(u8, u8)]) -> Registers {
    let adapter = adapter();
    let mut registers = adapter.start_up(adapter.default_mode());
    for (index, value) in cells {
        registers.set_cell(Cell::new(Bank::Crtc, *index).unwrap(), *value);
    }
    registers
}

/// The rows of a table under their column names, numbers only; an empty cell is `None`.
fn rows(table: &str) -> Vec<Row<'_>> {
    let mut lines = table.lines();
    let names: Vec<&str> = lines.next().unwrap().split(',').collect();
    lines.map(|line| Row(names.iter().copied().zip(line.split(',').map(|cell| cell.parse().ok())).collect())).collect()
}

/// One row of a table.
struct Row<'a>(std::collections::BTreeMap<&'a str, Option<u32>>);

impl Row<'_> {
    fn get(&self, name: &str) -> Option<u32> {
        self.0[name]
    }

    fn number(&self, name: &str) -> u32 {
        self.get(name).unwrap_or_else(|| panic!("{name} is empty"))
    }

    fn cell(&self, name: &str) -> u8 {
        u8::try_from(self.number(name)).unwrap()
    }
}
