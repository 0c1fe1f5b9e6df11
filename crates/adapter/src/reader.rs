//! Reading fields by role under one state of the registers.

use crate::adapter::Adapter;
use crate::register::Registers;
use crate::role::Role;

/// One adapter's fields under one state of its registers.
///
/// What a rule cannot do without was asked for when the profile was checked;
/// for the rest the caller says what is taken where a class has no such field.
#[derive(Clone, Copy)]
pub(crate) struct Reader<'a> {
    adapter: &'a Adapter,
    registers: &'a Registers,
}

impl Adapter {
    pub(crate) fn reader<'a>(&'a self, registers: &'a Registers) -> Reader<'a> {
        Reader { adapter: self, registers }
    }
}

impl Reader<'_> {
    /// The stored value, where the class has the field.
    pub fn stored(&self, role: Role) -> Option<u32> {
        self.adapter.field_with(role).map(|field| self.adapter.get(self.registers, field))
    }

    pub fn stored_or(&self, role: Role, absent: u32) -> u32 {
        self.stored(role).unwrap_or(absent)
    }

    /// The stored value, 0 where the class has no such field.
    pub fn value(&self, role: Role) -> u32 {
        self.stored_or(role, 0)
    }

    /// Whether the stored value is not 0; no where the class has no such field.
    pub fn is_set(&self, role: Role) -> bool {
        self.value(role) != 0
    }

    pub fn is_set_or(&self, role: Role, absent: bool) -> bool {
        self.stored(role).map_or(absent, |value| value != 0)
    }

    /// Stored value plus the field's offset, 0 where the class has no such field.
    pub fn quantity(&self, role: Role) -> u32 {
        self.adapter.field_with(role).map_or(0, |field| self.adapter.quantity(self.registers, field))
    }

    /// A one in every bit the field has.
    pub fn mask(&self, role: Role) -> u32 {
        self.adapter.field_with(role).map_or(0, |field| self.adapter.field_info(field).max())
    }
}
