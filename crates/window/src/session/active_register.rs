//! The active register of the manual sweep: one step a press, and what was seen at each value.

use std::collections::BTreeMap;

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_analysis::{Damage, Sweep, SweepStep};

/// The register that is stepped, and what was seen at each of its values.
#[derive(Clone, Debug)]
pub struct ActiveRegister {
    pub(crate) field: FieldId,
    name: String,
    max: u32,
    /// Value the sweep counts its steps from.
    origin: u32,
    value: u32,
    /// Set on the boards, shown from this frame on.
    settles: Option<u64>,
    /// Asked for, but not yet set on the boards.
    pending: bool,
    seen: BTreeMap<u32, SweepStep>,
}

impl ActiveRegister {
    /// A register as it stands; the sweep begins at its value.
    pub(crate) fn of(adapter: &Adapter, registers: &Registers, field: FieldId) -> Self {
        let (info, value) = (adapter.field_info(field), adapter.get(registers, field));
        Self {
            field,
            name: info.name.clone(),
            max: info.max(),
            origin: value,
            value,
            settles: None,
            pending: false,
            seen: BTreeMap::new(),
        }
    }

    /// Name of the register.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Stored value it has, or will have once the boards have taken it.
    #[must_use]
    pub fn value(&self) -> u32 {
        self.value
    }

    /// Greatest value the register can hold.
    #[must_use]
    pub fn max(&self) -> u32 {
        self.max
    }

    /// Steps from where the sweep began; negative below it.
    #[must_use]
    pub fn step(&self) -> i64 {
        i64::from(self.value) - i64::from(self.origin)
    }

    /// What was seen at a value.
    #[must_use]
    pub fn seen(&self, value: u32) -> Option<&SweepStep> {
        self.seen.get(&value)
    }

    /// Number of values seen so far.
    #[must_use]
    pub fn seen_count(&self) -> usize {
        self.seen.len()
    }

    /// Consecutive values seen around the present one, and the steps after
    /// which the kind of damage repeats in them, where it does.
    #[must_use]
    pub fn period(&self) -> Option<usize> {
        let mut around: Vec<SweepStep> = Vec::new();
        for (value, step) in &self.seen {
            let gap = around.last().is_some_and(|last| last.values[0] + 1 != *value);
            if gap && *value > self.value {
                break;
            } else if gap {
                around.clear();
            }
            around.push(step.clone());
        }
        Sweep::period_of(&around)
    }

    /// Whether a value is asked for that the boards do not have yet.
    #[must_use]
    pub fn is_pending(&self) -> bool {
        self.pending
    }

    /// Whether no whole frame has shown the value since it was asked for.
    pub(crate) fn is_settling(&self) -> bool {
        self.pending || self.settles.is_some()
    }

    pub(crate) fn ask(&mut self, value: u32) {
        self.value = value.min(self.max);
        self.pending = true;
        self.settles = None;
    }

    /// The boards took the value in frame `frame`.
    pub(crate) fn applied_in(&mut self, frame: u64) {
        self.pending = false;
        self.settles = Some(frame + 1);
    }

    /// The boards have shown the value all along, frame `frame` included.
    pub(crate) fn shown_since(&mut self, frame: u64) {
        self.pending = false;
        self.settles = Some(frame);
    }

    /// The register was changed otherwise, or the boards went to another moment.
    pub(crate) fn changed_to(&mut self, value: u32) {
        self.value = value;
        self.pending = false;
        self.settles = None;
    }

    /// SightingNotes the damage of a whole frame, once the value has settled in it.
    pub(crate) fn see(&mut self, frame: u64, damage: &Damage) {
        if self.settles.is_some_and(|from| frame >= from) {
            self.seen.insert(self.value, SweepStep::new(vec![self.value], damage.clone()));
            self.settles = None;
        }
    }

    /// Forgets what was seen: the boards are no longer the same.
    pub(crate) fn forget(&mut self) {
        self.seen.clear();
    }
}
