//! Setting things: the register in hand, registers by name, quirks, boards.

use backporch_adapter::{FieldId, SetError};
use backporch_analysis::Verdict;
use backporch_input::FormError;

use super::errand::Errand;
use super::offers::Offers;
use super::pair::Act;
use super::registers::{self, RegisterRow};
use super::{Fitted, Hand, Session, Sighting};

/// How a register is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Way {
    /// Through its ports, as a routine would, protection lifted and restored.
    #[default]
    Ports,
    /// Past the ports and any protection.
    Past,
}

impl Session {
    // ---- the register in hand ------------------------------------------------

    /// Steps the register in hand; its range ends where the register's does.
    pub(crate) fn step_hand(&mut self, steps: i32) {
        let value = i64::from(self.hand.value()) + i64::from(steps);
        self.set_hand(value.clamp(0, i64::from(self.hand.max())) as u32);
    }

    /// Takes the register in hand back to where its sweep began.
    pub(crate) fn hand_to_origin(&mut self) {
        let origin = i64::from(self.hand.value()) - self.hand.step();
        self.set_hand(origin as u32);
    }

    /// Gives the register in hand a value. Paused, the boards run on until it shows.
    pub fn set_hand(&mut self, value: u32) {
        let value = value.min(self.hand.max());
        if value == self.hand.value() && !self.hand.is_pending() {
            return;
        }
        let field = self.hand.field;
        self.pending.retain(|act| !matches!(act, Act::Turn { field: other, .. } if *other == field));
        self.hand.ask(value);
        self.pending.push(Act::Turn { field, value });
        self.show_pending();
    }

    /// Paused, runs on until what was asked for shows; running, it shows by itself.
    fn show_pending(&mut self) {
        if !self.is_running() {
            self.next_frame();
            self.next_frame();
        }
    }

    /// Takes a register in hand; a new sweep begins at its value.
    pub(crate) fn take_in_hand(&mut self, field: FieldId) {
        let adapter = self.bench.adapter();
        let info = adapter.field_info(field);
        let value = adapter.get(&self.tape.pair().wanted, field);
        self.hand = Hand::new(field, &info.name, info.max(), value);
        self.strip.clear();
        let frame = self.frame_shown();
        self.hand.shown_since(frame);
        self.refresh();
    }

    /// Takes the register of that name in hand.
    ///
    /// # Errors
    /// Names the registers there are.
    pub fn take_register(&mut self, name: &str) -> Result<(), FormError> {
        let field = self.bench.field(name)?;
        self.take_in_hand(field);
        Ok(())
    }

    pub(crate) fn other_register(&mut self, next: bool) {
        let fields: Vec<FieldId> = self.bench.adapter().fields().map(|(field, _)| field).collect();
        let here = fields.iter().position(|field| *field == self.hand.field).unwrap_or(0);
        let step = if next { 1 } else { fields.len() - 1 };
        self.take_in_hand(fields[(here + step) % fields.len()]);
    }

    // ---- registers by name ----------------------------------------------------

    /// Every register, in the profile's order.
    #[must_use]
    pub fn registers(&self) -> Vec<RegisterRow> {
        registers::rows(self.bench.adapter(), self.bench.mode(), self.tape.pair().wrong.registers())
    }

    /// Writes a register. Inside a frame it is written at the beam; else a
    /// quarter down the next frame, and paused boards run on until it shows.
    ///
    /// # Errors
    /// Where the register cannot hold the value.
    pub fn set_register(&mut self, field: FieldId, value: u64, way: Way) -> Result<(), SetError> {
        let info = self.bench.adapter().field_info(field);
        if value > u64::from(info.max()) {
            return Err(SetError { field: info.name.clone(), found: value, max: info.max() });
        }
        let value = value as u32;
        let act = match way {
            Way::Ports => Act::Turn { field, value },
            Way::Past => Act::Force { field, value },
        };
        if field == self.hand.field {
            self.hand.ask(value);
        }
        match !self.is_running() && self.is_mid_frame() {
            true => {
                self.act(act);
                self.refresh();
            }
            false => {
                self.pending.push(act);
                self.show_pending();
            }
        }
        Ok(())
    }

    /// Writes registers by name, all at once: a candidate for a workaround.
    ///
    /// # Errors
    /// Names the register, what was found and what is allowed; then none is written.
    pub fn try_registers(&mut self, values: &[(String, u64)]) -> Result<(), FormError> {
        let mut acts = Vec::new();
        for (name, value) in values {
            let field = self.bench.field(name)?;
            let max = self.bench.adapter().field_info(field).max();
            if *value > u64::from(max) {
                return Err(FormError::new("registers", value, format!("0..={max}")).in_field(name));
            }
            acts.push(Act::Turn { field, value: *value as u32 });
        }
        self.pending.append(&mut acts);
        self.show_pending();
        let value = self.bench.adapter().get(&self.tape.pair().wanted, self.hand.field);
        self.hand.found_at(value);
        Ok(())
    }

    // ---- workarounds ------------------------------------------------------------

    /// Searches for settings that hold against the quirks switched on, beside the session.
    pub(crate) fn search_workarounds(&mut self) {
        let bench = self.bench.clone();
        self.search = Errand::begin(move |progress| Offers::search(&bench, progress));
        self.offer_tried = 0;
        self.say("searching for register settings that hold");
    }

    /// Takes in what a search has found.
    pub(crate) fn look_at_search(&mut self) {
        if self.search.look()
            && let Some(offers) = self.search.told()
        {
            self.say(offers.said.clone());
        }
    }

    /// How far a search under way is: settings judged, of all.
    #[must_use]
    pub fn searching(&self) -> Option<(u64, u64)> {
        self.search.progress()
    }

    /// What the last search found, while the boards are still the same.
    #[must_use]
    pub fn offers(&self) -> Option<&Offers> {
        self.search.told()
    }

    /// Tries the offers in turn.
    pub(crate) fn try_next_offer(&mut self) {
        let count = self.offers().map_or(0, |offers| offers.offers.len());
        if count == 0 {
            self.say("no settings to try yet: search for them first");
            return;
        }
        self.try_offer(self.offer_tried % count);
    }

    /// Writes the registers of an offer, counted from 0.
    pub fn try_offer(&mut self, at: usize) {
        let Some(offer) = self.offers().and_then(|offers| offers.offers.get(at)).cloned() else {
            return;
        };
        self.offer_tried = at + 1;
        match self.try_registers(&offer.registers) {
            Ok(()) => self.say(format!("trying {}", offer.words)),
            Err(error) => self.say(error.to_string()),
        }
    }

    // ---- quirks and boards -------------------------------------------------------

    /// Switches one quirk of the rack on or off, now.
    pub fn switch_quirk(&mut self, at: usize) {
        if let Some(fitted) = self.rack.get_mut(at) {
            fitted.on = !fitted.on;
            self.fit_rack();
        }
    }

    pub(crate) fn switch_all_quirks(&mut self) {
        let any = self.rack.iter().any(|fitted| fitted.on);
        self.rack.iter_mut().for_each(|fitted| fitted.on = !any);
        self.fit_rack();
    }

    /// Chooses another value of a quirk's parameter, by its position in the family's listing.
    pub fn choose(&mut self, at: usize, parameter: &str, position: u64) {
        if let Some(fitted) = self.rack.get_mut(at) {
            fitted.choose(parameter, position);
            self.fit_rack();
        }
    }

    /// Adds a built-in quirk to the rack, switched on.
    pub fn add_quirk(&mut self, name: &str) {
        if let Some(fitted) = Fitted::built_in(name) {
            self.rack.push(fitted);
            self.fit_rack();
        }
    }

    /// Takes a quirk off the rack.
    pub fn remove_quirk(&mut self, at: usize) {
        if at < self.rack.len() {
            self.rack.remove(at);
            self.fit_rack();
        }
    }

    /// Puts the rack's quirks on the board, from the next frame on.
    pub(crate) fn fit_rack(&mut self) {
        let quirks: Vec<_> = self.rack.iter().filter(|fitted| fitted.on).map(|fitted| fitted.quirk.clone()).collect();
        self.bench = self.bench.with_quirks(quirks.clone());
        self.search = Errand::Idle;
        let act = Act::Quirks { quirks, seed: self.bench.seed() };
        self.hand.forget();
        self.strip.clear();
        let value = self.hand.value();
        self.hand.ask(value);
        self.pending.push(act);
        self.show_pending();
    }

    /// The same bench on the next of the built-in boards.
    pub(crate) fn next_board(&mut self) {
        let names: Vec<&str> = backporch_bench::adapter_names().collect();
        let here = names.iter().position(|name| *name == self.bench.adapter().name());
        let next = here.map_or(0, |here| (here + 1) % names.len());
        self.switch_board(names[next]);
    }

    /// The same bench and rack on another board, in that board's first mode or the bench's own.
    pub fn switch_board(&mut self, name: &str) {
        let wishes = backporch_bench::Wishes { board: Some(name.to_string()), ..self.wishes.clone() };
        let rack = self.rack.clone();
        if self.reopen(&self.name.clone(), &wishes) {
            self.rack = rack;
            self.fit_rack();
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
                self.wishes.monitor = Some(name.to_string());
                self.bench = self.bench.with_monitor(Some(monitor));
                self.revision += 1;
            }
            Err(error) => self.problem = Some(error),
        }
    }

    // ---- sightings ----------------------------------------------------------------

    pub(crate) fn note(&mut self, verdict: Verdict) {
        let over = self.hand.name().to_string();
        let mut registers = self.differing_from(&self.as_filed);
        registers.remove(&over);
        let at = self.hand.value();
        let registers = registers.into_iter().map(|(name, value)| (name, value.get())).collect();
        self.notes.note(Sighting {
            board: self.wishes.board.clone(),
            registers,
            over,
            at,
            seen: verdict,
            lines: Vec::new(),
        });
        if let Some(newest) = self.notes.noted().last() {
            let words = format!("noted {}: {} at {at}: {}", self.notes.noted().len(), newest.over, newest.saw());
            self.say(words);
        }
    }

    pub(crate) fn take_note_back(&mut self) {
        match self.notes.take_back() {
            Some(sighting) => self.say(format!("took back: {}", sighting.seen.word())),
            None => self.say("nothing is noted"),
        }
    }

    /// Picks a line of the picture for the next sighting, or lets it go.
    pub fn pick_line(&mut self, line: u32) {
        self.notes.pick(line);
        self.revision += 1;
    }
}
