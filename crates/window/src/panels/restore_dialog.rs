//! What asks whether sightings are taken up again that a window left behind which ended by itself.

use std::path::PathBuf;

use egui::{Context, Id, Modal, RichText};

use super::bar::named;
use super::theme::secondary;
use super::workspace::Workspace;
use crate::session::Session;

/// The question while it stands.
#[derive(Clone, Debug)]
pub(crate) struct RestoreDialog {
    /// The file they were kept aside in.
    path: PathBuf,
    fresh: bool,
}

impl Workspace {
    /// Asks what becomes of sightings that were left behind in a file.
    pub fn offer_to_restore(&mut self, path: PathBuf) {
        self.restore_dialog = Some(RestoreDialog { path, fresh: true });
    }
}

pub(crate) fn show(workspace: &mut Workspace, ctx: &Context, session: &mut Session) {
    let Some(mut dialog) = workspace.restore_dialog.take() else {
        return;
    };
    let colours = workspace.colours();
    let mut answered = false;
    Modal::new(Id::new("restore")).show(ctx, |ui| {
        ui.set_max_width(420.0);
        ui.label(RichText::new("A window ended before its sightings were saved.").strong());
        ui.label("Take them up again, with their bench?");
        ui.add_space(6.0);
        ui.horizontal(|ui| {
            let restore = ui.button("Restore");
            named(&restore, "restore the sightings");
            if std::mem::take(&mut dialog.fresh) {
                restore.request_focus();
            }
            let discard = ui.button("Discard");
            named(&discard, "discard the sightings left behind");
            let later = ui.button("Later");
            named(&later, "later: they are kept");
            if restore.clicked() {
                session.restore_sightings(&dialog.path);
            } else if discard.clicked() {
                // Gone or not, it is not asked about again in this window.
                let _ = std::fs::remove_file(&dialog.path);
            }
            answered = restore.clicked() || discard.clicked() || later.clicked();
            ui.label(secondary(&colours, "Esc keeps them for later"));
        });
    });
    workspace.restore_dialog = Some(dialog).filter(|_| !answered);
}
