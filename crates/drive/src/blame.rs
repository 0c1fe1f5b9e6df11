//! Which access of a program made a mistake, and with it which instruction.

use backporch_hazards::{Hazard, HazardKind};
use backporch_pc::Access;
use backporch_pc::record::Kind;

/// The access that made a mistake, where one did: of those up to the beam's place, the last of its sort.
///
/// Accesses stand in the order in which they were made.
#[must_use]
pub fn responsible<'a>(hazard: &Hazard, accesses: &'a [Access]) -> Option<&'a Access> {
    use HazardKind::{ColumnEarly, ColumnLate, Pitch, Snow, Tear};
    let made = hazard.made?;
    let of_memory = matches!(hazard.kind, ColumnEarly | ColumnLate | Pitch | Snow | Tear);
    let fits = |access: &&Access| match access.kind {
        Kind::Memory => of_memory,
        Kind::Port | Kind::PortWord => !of_memory,
        Kind::PortRead | Kind::MemoryRead => false,
    };
    let up_to = accesses.partition_point(|access| access.dot <= made);
    accesses[..up_to].iter().rev().find(fits)
}
