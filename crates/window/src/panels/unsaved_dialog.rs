//! What asks before anything unsaved is lost: by closing the window, or by opening another bench.

use egui::{Context, Id, Modal, RichText};

use super::bar::named;
use super::theme::secondary;
use super::workspace::{HostRequest, Workspace};
use crate::session::{Session, names_photograph, names_sightings};

/// What is to be done once it is settled what becomes of what is unsaved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Parting {
    /// Close the window.
    Close,
    /// Open another bench, or other sightings, by name.
    Open(String),
}

/// The question while it stands.
#[derive(Clone, Debug)]
pub(crate) struct UnsavedDialog {
    parting: Parting,
    /// Whether it was just asked.
    fresh: bool,
}

impl UnsavedDialog {
    fn of(parting: Parting) -> Self {
        Self { parting, fresh: true }
    }
}

/// What was answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Answer {
    Keep,
    Discard,
    Cancel,
}

impl Workspace {
    /// Whether the window may close at once. Where something would be lost it asks first, and
    /// [`HostRequest::Close`] follows once that is settled.
    pub fn may_close(&mut self, session: &Session) -> bool {
        let may = session.unsaved().is_nothing();
        if !may && self.unsaved_dialog.is_none() {
            self.unsaved_dialog = Some(UnsavedDialog::of(Parting::Close));
        }
        may
    }

    /// Opens a bench, a program or sightings; asks first where sightings would be lost.
    pub(crate) fn open(&mut self, session: &mut Session, name: &str) {
        let stays = backporch_drive::is_lone_program(name) || names_photograph(name) || name == session.name();
        let replaces = names_sightings(name) || !stays;
        if replaces && session.findings().notes().unsaved() {
            self.unsaved_dialog = Some(UnsavedDialog::of(Parting::Open(name.to_string())));
        } else {
            self.open_now(session, name);
        }
    }

    fn part(&mut self, session: &mut Session, parting: Parting) {
        match parting {
            Parting::Close => self.request(HostRequest::Close),
            Parting::Open(name) => self.open_now(session, &name),
        }
    }

    fn open_now(&mut self, session: &mut Session, name: &str) {
        session.open_another(name);
        if session.files().problem().is_none() && !names_photograph(name) {
            self.note_opened(name);
        }
    }
}

pub(crate) fn show(workspace: &mut Workspace, ctx: &Context, session: &mut Session) {
    let Some(mut dialog) = workspace.unsaved_dialog.take() else {
        return;
    };
    let colours = workspace.colours();
    let mut answer = None;
    Modal::new(Id::new("unsaved")).show(ctx, |ui| {
        ui.set_max_width(420.0);
        ui.label(RichText::new(format!("Not saved yet: {}.", session.unsaved().words())).strong());
        let words = match &dialog.parting {
            Parting::Close => "Keep them, in files of their own, before the window closes?".to_string(),
            Parting::Open(name) => format!("Sightings go with their bench. Keep them in a file before {name} opens?"),
        };
        ui.label(words);
        ui.add_space(6.0);
        ui.horizontal(|ui| {
            for (words, label, one) in [
                ("Keep", "keep what is unsaved", Answer::Keep),
                ("Discard", "discard what is unsaved", Answer::Discard),
                ("Cancel", "cancel: all stays as it is", Answer::Cancel),
            ] {
                let response = ui.button(words);
                named(&response, label);
                if dialog.fresh && one == Answer::Keep {
                    response.request_focus();
                }
                if response.clicked() {
                    answer = Some(one);
                }
            }
            ui.label(secondary(&colours, "Esc cancels"));
        });
    });
    dialog.fresh = false;
    match answer {
        None => workspace.unsaved_dialog = Some(dialog),
        Some(Answer::Cancel) => {}
        Some(Answer::Discard) => workspace.part(session, dialog.parting),
        // What cannot be written is said, and nothing is lost meanwhile.
        Some(Answer::Keep) if session.save_unsaved() => workspace.part(session, dialog.parting),
        Some(Answer::Keep) => {}
    }
}
