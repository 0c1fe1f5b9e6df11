//! Editing registers: the active one, one by name, several at once.

use backporch_adapter::{FieldId, SetError};
use backporch_input::InputError;

use super::board_pair::BoardAction;
use super::registers::{self, NamedRegister};
use super::{ActiveRegister, Session};

/// How a register is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WritePath {
    /// Through its ports, as a routine would, protection lifted and restored.
    #[default]
    Ports,
    /// Past the ports and any protection.
    Direct,
}

impl Session {
    // ---- the active register ------------------------------------------------

    /// Steps the active register; its range ends where the register's does.
    pub(crate) fn step_active_register(&mut self, steps: i32) {
        let value = i64::from(self.sweep.active.value()) + i64::from(steps);
        self.set_active_register(value.clamp(0, i64::from(self.sweep.active.max())) as u32);
    }

    /// Takes the active register back to where its sweep began.
    pub(crate) fn reset_active_register(&mut self) {
        let origin = i64::from(self.sweep.active.value()) - self.sweep.active.step();
        self.set_active_register(origin as u32);
    }

    /// Gives the active register a value that was typed.
    ///
    /// # Errors
    /// Where the register cannot hold it; then it stays as it is.
    pub fn enter_value(&mut self, value: u64) -> Result<(), SetError> {
        let (field, max) = (self.sweep.active.name().to_string(), self.sweep.active.max());
        let fits = u32::try_from(value).ok().filter(|value| *value <= max);
        fits.map(|value| self.set_active_register(value)).ok_or(SetError { field, found: value, max })
    }

    /// Steps the active register to a value, or as far towards it as its range goes. Paused,
    /// the boards run on until it shows.
    pub fn set_active_register(&mut self, value: u32) {
        let value = value.min(self.sweep.active.max());
        if value == self.sweep.active.value() && !self.sweep.active.is_pending() {
            return;
        }
        let field = self.sweep.active.field;
        let supersedes =
            |action: &BoardAction| matches!(action, BoardAction::WritePorts { field: other, .. } if *other == field);
        self.transport.pending.retain(|action| !supersedes(action));
        self.sweep.active.ask(value);
        self.transport.pending.push(BoardAction::WritePorts { field, value });
        self.show_pending();
    }

    /// Paused, runs on until what was asked for shows; running, it shows by itself.
    pub(super) fn show_pending(&mut self) {
        if !self.transport.is_running() {
            self.next_frame();
            self.next_frame();
        }
    }

    /// Makes a register the active one; a new sweep begins at its value.
    pub(crate) fn select_field(&mut self, field: FieldId) {
        let intended = &self.transport.boards().intended;
        self.sweep.active = ActiveRegister::of(self.setup.bench.adapter(), intended, field);
        self.sweep.thumbnails.clear();
        self.sweep.active.shown_since(self.transport.frame_shown());
        self.refresh();
    }

    /// Makes the register of that name the active one.
    ///
    /// # Errors
    /// Names the registers there are.
    pub fn select_register(&mut self, name: &str) -> Result<(), InputError> {
        let field = self.setup.bench.field(name)?;
        self.select_field(field);
        Ok(())
    }

    pub(crate) fn other_register(&mut self, next: bool) {
        let fields: Vec<FieldId> = self.setup.bench.adapter().fields().map(|(field, _)| field).collect();
        let here = fields.iter().position(|field| *field == self.sweep.active.field).unwrap_or(0);
        let step = if next { 1 } else { fields.len() - 1 };
        self.select_field(fields[(here + step) % fields.len()]);
    }

    // ---- registers by name ----------------------------------------------------

    /// Every register, in the profile's order.
    #[must_use]
    pub fn registers(&self) -> Vec<NamedRegister> {
        registers::rows(self.setup.bench.adapter(), self.setup.bench.mode(), self.transport.boards().faulty.registers())
    }

    /// Writes a register. Inside a frame it is written at the beam; else a
    /// quarter down the next frame, and paused boards run on until it shows.
    ///
    /// # Errors
    /// Where the register cannot hold the value.
    pub fn set_register(&mut self, field: FieldId, value: u64, path: WritePath) -> Result<(), SetError> {
        let info = self.setup.bench.adapter().field_info(field);
        if value > u64::from(info.max()) {
            return Err(SetError { field: info.name.clone(), found: value, max: info.max() });
        }
        let value = value as u32;
        let action = match path {
            WritePath::Ports => BoardAction::WritePorts { field, value },
            WritePath::Direct => BoardAction::WriteDirect { field, value },
        };
        if field == self.sweep.active.field {
            self.sweep.active.ask(value);
        }
        if !self.transport.is_running() && self.transport.is_mid_frame() {
            self.apply(action);
            self.refresh();
        } else {
            self.transport.pending.push(action);
            self.show_pending();
        }
        Ok(())
    }

    /// Writes registers by name, all at once: a candidate for a workaround.
    ///
    /// # Errors
    /// Names the register, what was found and what is allowed; then none is written.
    pub fn try_registers(&mut self, values: &[(String, u64)]) -> Result<(), InputError> {
        let mut actions = Vec::new();
        for (name, value) in values {
            let field = self.setup.bench.field(name)?;
            let max = self.setup.bench.adapter().field_info(field).max();
            if *value > u64::from(max) {
                return Err(InputError::new("registers", value, format!("0..={max}")).in_field(name));
            }
            actions.push(BoardAction::WritePorts { field, value: *value as u32 });
        }
        self.transport.pending.append(&mut actions);
        self.show_pending();
        let value = self.setup.bench.adapter().get(&self.transport.boards().intended, self.sweep.active.field);
        self.sweep.active.changed_to(value);
        Ok(())
    }
}
