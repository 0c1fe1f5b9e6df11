//! Setting things: the active register, registers by name, quirks, boards.

use backporch_adapter::{FieldId, SetError};
use backporch_analysis::Verdict;
use backporch_input::InputError;

use super::background::BackgroundTask;
use super::board_pair::Action;
use super::registers::{self, RegisterRow};
use super::workarounds::Workarounds;
use super::{ActiveRegister, FittedQuirk, Session, Sighting};

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
        let value = i64::from(self.active.value()) + i64::from(steps);
        self.set_active_register(value.clamp(0, i64::from(self.active.max())) as u32);
    }

    /// Takes the active register back to where its sweep began.
    pub(crate) fn reset_active_register(&mut self) {
        let origin = i64::from(self.active.value()) - self.active.step();
        self.set_active_register(origin as u32);
    }

    /// Gives the active register a value. Paused, the boards run on until it shows.
    pub fn set_active_register(&mut self, value: u32) {
        let value = value.min(self.active.max());
        if value == self.active.value() && !self.active.is_pending() {
            return;
        }
        let field = self.active.field;
        self.pending.retain(|action| !matches!(action, Action::WritePorts { field: other, .. } if *other == field));
        self.active.ask(value);
        self.pending.push(Action::WritePorts { field, value });
        self.show_pending();
    }

    /// Paused, runs on until what was asked for shows; running, it shows by itself.
    fn show_pending(&mut self) {
        if !self.is_running() {
            self.next_frame();
            self.next_frame();
        }
    }

    /// Takes a active register; a new sweep begins at its value.
    pub(crate) fn select_field(&mut self, field: FieldId) {
        let adapter = self.bench.adapter();
        let info = adapter.field_info(field);
        let value = adapter.get(&self.history.boards().intended, field);
        self.active = ActiveRegister::new(field, &info.name, info.max(), value);
        self.thumbnails.clear();
        let frame = self.frame_shown();
        self.active.shown_since(frame);
        self.refresh();
    }

    /// Takes the register of that name in active.
    ///
    /// # Errors
    /// Names the registers there are.
    pub fn select_register(&mut self, name: &str) -> Result<(), InputError> {
        let field = self.bench.field(name)?;
        self.select_field(field);
        Ok(())
    }

    pub(crate) fn other_register(&mut self, next: bool) {
        let fields: Vec<FieldId> = self.bench.adapter().fields().map(|(field, _)| field).collect();
        let here = fields.iter().position(|field| *field == self.active.field).unwrap_or(0);
        let step = if next { 1 } else { fields.len() - 1 };
        self.select_field(fields[(here + step) % fields.len()]);
    }

    // ---- registers by name ----------------------------------------------------

    /// Every register, in the profile's order.
    #[must_use]
    pub fn registers(&self) -> Vec<RegisterRow> {
        registers::rows(self.bench.adapter(), self.bench.mode(), self.history.boards().faulty.registers())
    }

    /// Writes a register. Inside a frame it is written at the beam; else a
    /// quarter down the next frame, and paused boards run on until it shows.
    ///
    /// # Errors
    /// Where the register cannot hold the value.
    pub fn set_register(&mut self, field: FieldId, value: u64, way: WritePath) -> Result<(), SetError> {
        let info = self.bench.adapter().field_info(field);
        if value > u64::from(info.max()) {
            return Err(SetError { field: info.name.clone(), found: value, max: info.max() });
        }
        let value = value as u32;
        let action = match way {
            WritePath::Ports => Action::WritePorts { field, value },
            WritePath::Direct => Action::WriteDirect { field, value },
        };
        if field == self.active.field {
            self.active.ask(value);
        }
        match !self.is_running() && self.is_mid_frame() {
            true => {
                self.apply(action);
                self.refresh();
            }
            false => {
                self.pending.push(action);
                self.show_pending();
            }
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
            let field = self.bench.field(name)?;
            let max = self.bench.adapter().field_info(field).max();
            if *value > u64::from(max) {
                return Err(InputError::new("registers", value, format!("0..={max}")).in_field(name));
            }
            actions.push(Action::WritePorts { field, value: *value as u32 });
        }
        self.pending.append(&mut actions);
        self.show_pending();
        let value = self.bench.adapter().get(&self.history.boards().intended, self.active.field);
        self.active.changed_to(value);
        Ok(())
    }

    // ---- workarounds ------------------------------------------------------------

    /// Searches for settings that hold against the quirks switched on, beside the session.
    pub(crate) fn search_workarounds(&mut self) {
        let bench = self.bench.clone();
        self.search = BackgroundTask::start(move |progress| Workarounds::search(&bench, progress));
        self.workarounds_tried = 0;
        self.report("searching for register settings that hold");
    }

    /// Takes in what a search has found.
    pub(crate) fn poll_search(&mut self) {
        if self.search.poll()
            && let Some(workarounds) = self.search.result()
        {
            self.report(workarounds.summary.clone());
        }
    }

    /// How far a search under way is: settings judged, of all.
    #[must_use]
    pub fn searching(&self) -> Option<(u64, u64)> {
        self.search.progress()
    }

    /// What the last search found, while the boards are still the same.
    #[must_use]
    pub fn workarounds(&self) -> Option<&Workarounds> {
        self.search.result()
    }

    /// Tries the workarounds in turn.
    pub(crate) fn try_next_workaround(&mut self) {
        let count = self.workarounds().map_or(0, |workarounds| workarounds.workarounds.len());
        if count == 0 {
            self.report("no settings to try yet: search for them first");
            return;
        }
        self.try_workaround(self.workarounds_tried % count);
    }

    /// Writes the registers of a workaround, counted from 0.
    pub fn try_workaround(&mut self, at: usize) {
        let Some(workaround) = self.workarounds().and_then(|workarounds| workarounds.workarounds.get(at)).cloned()
        else {
            return;
        };
        self.workarounds_tried = at + 1;
        match self.try_registers(&workaround.registers) {
            Ok(()) => self.report(format!("trying {}", workaround.words)),
            Err(error) => self.report(error.to_string()),
        }
    }

    // ---- quirks and boards -------------------------------------------------------

    /// Switches one fitted quirk on or off, now.
    pub fn switch_quirk(&mut self, at: usize) {
        if let Some(fitted) = self.fitted_quirks.get_mut(at) {
            fitted.on = !fitted.on;
            self.apply_quirks();
        }
    }

    pub(crate) fn switch_all_quirks(&mut self) {
        let any = self.fitted_quirks.iter().any(|fitted| fitted.on);
        self.fitted_quirks.iter_mut().for_each(|fitted| fitted.on = !any);
        self.apply_quirks();
    }

    /// Chooses another value of a quirk's parameter, by its position in the family's listing.
    pub fn choose(&mut self, at: usize, parameter: &str, position: u64) {
        if let Some(fitted) = self.fitted_quirks.get_mut(at) {
            fitted.choose(parameter, position);
            self.apply_quirks();
        }
    }

    /// Fits a built-in quirk, switched on.
    pub fn add_quirk(&mut self, name: &str) {
        if let Some(fitted) = FittedQuirk::built_in(name) {
            self.fitted_quirks.push(fitted);
            self.apply_quirks();
        }
    }

    /// Removes a fitted quirk.
    pub fn remove_quirk(&mut self, at: usize) {
        if at < self.fitted_quirks.len() {
            self.fitted_quirks.remove(at);
            self.apply_quirks();
        }
    }

    /// Puts the fitted quirks on the board, from the next frame on.
    pub(crate) fn apply_quirks(&mut self) {
        let quirks: Vec<_> =
            self.fitted_quirks.iter().filter(|fitted| fitted.on).map(|fitted| fitted.quirk.clone()).collect();
        self.bench = self.bench.with_quirks(quirks.clone());
        self.search = BackgroundTask::Idle;
        let action = Action::FitQuirks { quirks, seed: self.bench.seed() };
        self.active.forget();
        self.thumbnails.clear();
        let value = self.active.value();
        self.active.ask(value);
        self.pending.push(action);
        self.show_pending();
    }

    /// The same bench on the next of the built-in boards.
    pub(crate) fn next_board(&mut self) {
        let names: Vec<&str> = backporch_bench::adapter_names().collect();
        let here = names.iter().position(|name| *name == self.bench.adapter().name());
        let next = here.map_or(0, |here| (here + 1) % names.len());
        self.switch_board(names[next]);
    }

    /// The same bench and quirks on another board, in that board's first mode or the bench's own.
    pub fn switch_board(&mut self, name: &str) {
        let overrides = backporch_bench::Overrides { board: Some(name.to_string()), ..self.overrides.clone() };
        let fitted_quirks = self.fitted_quirks.clone();
        if self.reopen(&self.name.clone(), &overrides) {
            self.fitted_quirks = fitted_quirks;
            self.apply_quirks();
        }
    }

    /// The next of the built-in monitors judges the signal.
    pub(crate) fn next_monitor(&mut self) {
        let names: Vec<&str> = backporch_bench::monitor_names().collect();
        let here = self.bench.monitor().and_then(|monitor| names.iter().position(|name| *name == monitor.name));
        let next = here.map_or(0, |here| (here + 1) % names.len());
        self.switch_monitor(names[next]);
    }

    /// Another monitor judges the signal.
    pub fn switch_monitor(&mut self, name: &str) {
        match backporch_bench::Library::default().monitor(name) {
            Ok(monitor) => {
                self.overrides.monitor = Some(name.to_string());
                self.bench = self.bench.with_monitor(Some(monitor));
                self.revision += 1;
            }
            Err(error) => self.problem = Some(error),
        }
    }

    // ---- sightings ----------------------------------------------------------------

    pub(crate) fn note(&mut self, verdict: Verdict) {
        let over = self.active.name().to_string();
        let mut registers = self.differing_from(&self.as_filed);
        registers.remove(&over);
        let at = self.active.value();
        let registers = registers.into_iter().map(|(name, value)| (name, value.get())).collect();
        self.notes.note(Sighting {
            board: self.overrides.board.clone(),
            registers,
            over,
            at,
            seen: verdict,
            lines: Vec::new(),
        });
        if let Some(newest) = self.notes.noted().last() {
            let words = format!("noted {}: {} at {at}: {}", self.notes.noted().len(), newest.over, newest.saw());
            self.report(words);
        }
    }

    pub(crate) fn undo_note(&mut self) {
        match self.notes.undo() {
            Some(sighting) => self.report(format!("took back: {}", sighting.seen.word())),
            None => self.report("nothing is noted"),
        }
    }

    /// Picks a line of the picture for the next sighting, or lets it go.
    pub fn pick_line(&mut self, line: u32) {
        self.notes.pick(line);
        self.revision += 1;
    }
}
