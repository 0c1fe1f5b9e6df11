//! The manual sweep: the active register, and thumbnails of what its values show.

use super::active_register::ActiveRegister;
use super::thumbnails::Thumbnails;

/// One register that is stepped.
#[derive(Debug)]
pub struct RegisterSweep {
    pub(super) active: ActiveRegister,
    pub(super) thumbnails: Thumbnails,
}

impl RegisterSweep {
    pub(super) fn new(active: ActiveRegister) -> Self {
        Self { active, thumbnails: Thumbnails::default() }
    }

    /// The register that is stepped, and what was seen at its values.
    #[must_use]
    pub fn active(&self) -> &ActiveRegister {
        &self.active
    }

    /// Thumbnails of its values.
    #[must_use]
    pub fn thumbnails(&self) -> &Thumbnails {
        &self.thumbnails
    }
}
