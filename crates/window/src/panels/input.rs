//! What keys and things dropped on the window ask for.

use egui::{Context, Modifiers};

use super::keyboard::takes_back;
use super::keys::{self, KeyAction};
use super::stops;
use super::workspace::Workspace;
use crate::command::{Command, ViewCommand};
use crate::session::Session;

/// What the keys belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum KeyboardOwner {
    /// The question what becomes of what is unsaved.
    Question,
    /// A list that hangs open, such as that of the monitors.
    Popup,
    /// The list of keys.
    Help,
    /// A field, or the dialog it stands in: letters are typed into it.
    Field,
    /// A button, slider or list that has the focus: arrows and Space work it.
    Widget,
    /// Nothing in particular: every key does what the list of keys says.
    Window,
}

impl Workspace {
    /// Does what the keys ask for, one after the other: the owner of the keyboard by then takes the next.
    pub(crate) fn handle_keys(&mut self, ctx: &Context, session: &mut Session) {
        let events = ctx.input_mut(|input| std::mem::take(&mut input.events));
        let (typing, popup) = (ctx.text_edit_focused(), egui::Popup::is_any_open(ctx));
        let focused = ctx.memory(|memory| memory.focused().is_some());
        if self.keyboard.is_some() && !session.runs_program() {
            self.keyboard = None;
        }
        let mut left = Vec::with_capacity(events.len());
        for event in events {
            // What is open over a program has the keyboard first; what is let go was the program's before.
            let is_open = matches!(
                self.keyboard_owner(typing, popup, false),
                KeyboardOwner::Question | KeyboardOwner::Popup | KeyboardOwner::Help | KeyboardOwner::Field
            );
            let goes_up = matches!(event, egui::Event::Key { pressed: false, .. });
            match &mut self.keyboard {
                Some(keyboard) if (!is_open || goes_up) && !takes_back(&event) => match keyboard.typed(&event) {
                    Some(typed) => typed.into_iter().for_each(|(key, down)| session.press(key, down)),
                    None => left.push(event),
                },
                keyboard => {
                    if let Some(mut keyboard) = keyboard.take_if(|_| !is_open) {
                        // What is held is let go; the key itself gives nothing back.
                        keyboard.hold(Modifiers::NONE).into_iter().for_each(|(key, down)| session.press(key, down));
                        session.point(None, 0);
                    } else if self.moves_cursor(ctx, session, &event, typing || popup) {
                        continue;
                    } else if let Some(action) = keys::asked(&event) {
                        let owner = self.keyboard_owner(typing, popup, focused);
                        self.handle(ctx, session, action, owner);
                    }
                    left.push(event);
                }
            }
        }
        if let Some(keyboard) = &mut self.keyboard {
            let modifiers = ctx.input(|input| input.modifiers);
            keyboard.hold(modifiers).into_iter().for_each(|(key, down)| session.press(key, down));
        }
        ctx.input_mut(|input| input.events = left);
    }

    /// Moves the cursor of the stop that has the focus, where the event is a key that does and nothing is open.
    fn moves_cursor(&mut self, ctx: &Context, session: &mut Session, event: &egui::Event, taken: bool) -> bool {
        let focused = ctx.memory(|memory| memory.focused());
        let stop = self.stops.of(focused);
        let is_free = self.keyboard_owner(taken, taken, focused.is_some()) == KeyboardOwner::Widget;
        stop.is_some_and(|stop| is_free && stops::moved(&mut self.scope, session, stop, event))
    }

    /// Opens what was dropped on the window.
    pub(crate) fn handle_drops(&mut self, ctx: &Context, session: &mut Session) {
        let dropped =
            ctx.input(|input| input.raw.dropped_files.iter().filter_map(|file| file.path.clone()).next_back());
        if let Some(path) = dropped {
            self.open(session, &path.to_string_lossy());
        }
    }

    /// What the keys belong to by now: whatever is open owns them.
    fn keyboard_owner(&self, typing: bool, popup: bool, focused: bool) -> KeyboardOwner {
        if self.unsaved_dialog.is_some() || self.restore_dialog.is_some() {
            KeyboardOwner::Question
        } else if popup {
            KeyboardOwner::Popup
        } else if self.help {
            KeyboardOwner::Help
        } else if self.bench_list.is_some()
            || self.quirk_list.is_some()
            || self.open_asked
            || self.fields.is_open()
            || typing
        {
            KeyboardOwner::Field
        } else if focused {
            KeyboardOwner::Widget
        } else {
            KeyboardOwner::Window
        }
    }

    fn handle(&mut self, ctx: &Context, session: &mut Session, action: KeyAction, owner: KeyboardOwner) {
        let owned = match owner {
            // The list closes by itself.
            KeyboardOwner::Question | KeyboardOwner::Popup => true,
            KeyboardOwner::Help => action != KeyAction::View(ViewCommand::Help),
            KeyboardOwner::Field => true,
            KeyboardOwner::Widget => matches!(action, KeyAction::Session(command) if works_widgets(command)),
            KeyboardOwner::Window => false,
        };
        match action {
            KeyAction::View(ViewCommand::Close) if owner != KeyboardOwner::Popup => self.close(ctx, session),
            _ if owned => {}
            KeyAction::Session(command) => session.perform(command),
            KeyAction::View(ViewCommand::Keyboard) if !session.runs_program() => {
                session.report("no program drives this bench: there is no keyboard to give");
            }
            KeyAction::View(view) => self.view(view),
        }
    }

    /// Closes what is open on top; where nothing is, clears the inspected pixel.
    fn close(&mut self, ctx: &Context, session: &mut Session) {
        if self.unsaved_dialog.take().is_some() || self.restore_dialog.take().is_some() {
            return;
        }
        if !self.help && self.bench_list.is_none() && self.quirk_list.is_none() && !self.fields.is_open() {
            session.inspect(self.canvas(), None);
        }
        self.help = false;
        self.bench_list = None;
        self.quirk_list = None;
        self.fields.close();
        ctx.memory_mut(|memory| {
            if let Some(focused) = memory.focused() {
                memory.surrender_focus(focused);
            }
        });
    }
}

/// Whether a key that asks for this also works a focused button, slider or list.
fn works_widgets(command: Command) -> bool {
    use Command as C;
    let works = [C::RunOrPause, C::FrameOn, C::FrameBack, C::StepRegister(1), C::StepRegister(-1), C::PickLine];
    works.contains(&command)
}
