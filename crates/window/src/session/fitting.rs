//! Fitting: quirks, boards and monitors changed on the bench, and workarounds against the quirks.

use std::sync::Arc;

use super::background::BackgroundTask;
use super::board_pair::BoardAction;
use super::live_driver::LiveDriver;
use super::workarounds::LiveWorkarounds;
use super::{FittedQuirks, Session};

impl Session {
    // ---- workarounds ------------------------------------------------------------

    /// Searches for settings that hold against the quirks switched on, beside the session.
    pub(crate) fn search_workarounds(&mut self) {
        let bench = self.setup.bench.clone();
        self.findings.search = BackgroundTask::start(move |progress| LiveWorkarounds::search(&bench, progress));
        self.findings.next_workaround = 0;
        self.report("searching for register settings that hold");
    }

    /// Takes in what a search has found.
    pub(crate) fn poll_search(&mut self) {
        if self.findings.search.poll()
            && let Some(workarounds) = self.findings.search.result()
        {
            self.report(workarounds.summary.clone());
        }
    }

    /// Tries the workarounds in turn.
    pub(crate) fn try_next_workaround(&mut self) {
        let count = self.findings.workarounds().map_or(0, |found| found.list.len());
        if count == 0 {
            self.report("no settings to try yet: search for them first");
            return;
        }
        self.try_workaround(self.findings.next_workaround % count);
    }

    /// Writes the registers of a workaround, counted from 0.
    pub fn try_workaround(&mut self, at: usize) {
        let found = self.findings.workarounds();
        let Some(workaround) = found.and_then(|found| found.list.get(at)).cloned() else {
            return;
        };
        self.findings.next_workaround = at + 1;
        match self.try_registers(&workaround.registers) {
            Ok(()) => self.report(format!("trying {}", workaround.words)),
            Err(error) => self.report(error.to_string()),
        }
    }

    /// Runs the scroller of a workaround that has one, counted from 0, in the machine beside the boards, as `emit` writes it. The
    /// list of workarounds stays; reading the bench again ends it.
    pub fn run_workaround(&mut self, at: usize) {
        let found = self.findings.workarounds().and_then(|found| found.list.get(at));
        let Some((words, program)) = found.and_then(|found| Some((found.words.clone(), found.program.clone()?))) else {
            self.report("this one has no scroller to run");
            return;
        };
        match LiveDriver::of_program(&self.setup.bench, "scroller.com", &program) {
            Ok(driver) => {
                let search = std::mem::take(&mut self.findings.search);
                self.run_beside(driver);
                self.findings.search = search;
                self.findings.next_workaround = at + 1;
                self.report(format!("the scroller of {words} drives the boards; read the bench again to end it"));
            }
            Err(error) => self.report(error.to_string()),
        }
    }

    // ---- quirks and boards -------------------------------------------------------

    /// Switches one fitted quirk on or off, now.
    pub fn switch_quirk(&mut self, at: usize) {
        if self.quirks.toggle(at) {
            self.apply_quirks();
        }
    }

    /// Switches one fitted quirk on, and all others off.
    pub fn switch_to_quirk(&mut self, at: usize) {
        if self.quirks.leave_on(at) {
            self.apply_quirks();
        }
    }

    pub(crate) fn switch_all_quirks(&mut self) {
        self.quirks.toggle_all();
        self.apply_quirks();
    }

    /// Chooses another value of a quirk's parameter, by its position in the family's listing.
    pub fn choose(&mut self, at: usize, parameter: &str, position: u64) {
        if self.quirks.choose(at, parameter, position) {
            self.apply_quirks();
        }
    }

    /// Fits a built-in quirk, switched on.
    pub fn add_quirk(&mut self, name: &str) {
        if self.quirks.add(name) {
            self.apply_quirks();
        }
    }

    /// Removes a fitted quirk.
    pub fn remove_quirk(&mut self, at: usize) {
        if self.quirks.remove(at) {
            self.apply_quirks();
        }
    }

    /// Puts the fitted quirks on the board, from the next frame on. What was found against
    /// other quirks is dropped.
    pub(crate) fn apply_quirks(&mut self) {
        self.take_quirks_over();
        self.fitted = Arc::new(self.quirks.clone());
        let action = BoardAction::FitQuirks { fitted: Arc::clone(&self.fitted), stack: self.setup.bench.stack() };
        let value = self.sweep.active.value();
        self.sweep.active.ask(value);
        self.transport.pending.push(action);
        self.report(self.quirks.words());
        self.show_pending();
    }

    /// The bench gets the quirks that are switched on; what was found with others is dropped.
    fn take_quirks_over(&mut self) {
        let quirks: Vec<_> = self.quirks.on().map(|fitted| fitted.quirk.clone()).collect();
        self.setup.bench = self.setup.bench.with_quirks(quirks);
        self.findings.forget_workarounds();
        self.sweep.active.forget();
        self.sweep.thumbnails.clear();
    }

    /// Lists the quirks of the moment looked at: at another one, others may have been on the board.
    pub(super) fn follow_quirks(&mut self) {
        let on_board = &self.transport.boards().fitted;
        if !self.transport.pending.is_empty() || Arc::ptr_eq(on_board, &self.fitted) {
            return;
        }
        self.fitted = Arc::clone(on_board);
        self.quirks = FittedQuirks::clone(&self.fitted);
        self.take_quirks_over();
    }

    /// The same bench on the next of the built-in boards.
    pub(crate) fn next_board(&mut self) {
        let names: Vec<&str> = backporch_adapter::ADAPTERS.names().collect();
        let here = names.iter().position(|name| *name == self.setup.bench.adapter().name());
        let next = here.map_or(0, |here| (here + 1) % names.len());
        self.switch_board(names[next]);
    }

    /// The same bench and quirks on another board, in that board's first mode or the bench's own.
    pub fn switch_board(&mut self, name: &str) {
        let overrides = backporch_bench::Overrides { board: Some(name.to_string()), ..self.setup.overrides.clone() };
        let quirks = self.quirks.clone();
        if self.reopen(&self.setup.name.clone(), &overrides) {
            self.quirks = quirks;
            self.apply_quirks();
        }
    }

    /// The next of the built-in monitors judges the signal.
    pub(crate) fn next_monitor(&mut self) {
        let names: Vec<&str> = backporch_signal::MONITORS.names().collect();
        let here = self.setup.bench.monitor().and_then(|monitor| names.iter().position(|name| *name == monitor.name));
        let next = here.map_or(0, |here| (here + 1) % names.len());
        self.switch_monitor(names[next]);
    }

    /// Another monitor judges the signal.
    pub fn switch_monitor(&mut self, name: &str) {
        match backporch_signal::Monitor::open(name, std::path::Path::new("")) {
            Ok(monitor) => {
                self.setup.overrides.monitor = Some(name.to_string());
                self.setup.bench = self.setup.bench.with_monitor(Some(monitor));
                // Settings were found that the other monitor takes.
                self.findings.forget_workarounds();
                self.inspection.changed();
            }
            Err(error) => self.files.problem = Some(error),
        }
    }
}
