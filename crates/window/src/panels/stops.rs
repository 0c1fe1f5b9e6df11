//! Stops of the keyboard at which the arrows move something: screen, strip, timeline, corners of a photograph.

use egui::{Event, EventFilter, Id, Key, Modifiers, Response, Stroke, StrokeKind, Ui};

use super::scope::Scope;
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{Corner, Session};

/// Pixels and lines of a step with Shift.
const WIDE: i32 = 16;

/// What the arrows move while it has the focus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum FocusStop {
    /// The inspected pixel.
    Screen,
    /// The active register across, the line of the inspected pixel down.
    Strip,
    /// The part of the frame seen across, how close it is seen down.
    Scope,
    /// The frame shown across, the hazards down.
    Timeline,
    /// A corner of the picture on a photograph.
    Corner(Corner),
}

/// The stops as they were laid out last.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Stops {
    screen: Option<Id>,
    strip: Option<Id>,
    scope: Option<Id>,
    timeline: Option<Id>,
    /// Clockwise from the upper left.
    corners: [Option<Id>; 4],
    /// The screen is to have the focus next.
    asked: bool,
}

impl Stops {
    /// Gives the screen the focus as soon as it is laid out.
    pub fn ask(&mut self) {
        self.asked = true;
    }

    fn place(&mut self, stop: FocusStop) -> &mut Option<Id> {
        match stop {
            FocusStop::Screen => &mut self.screen,
            FocusStop::Strip => &mut self.strip,
            FocusStop::Scope => &mut self.scope,
            FocusStop::Timeline => &mut self.timeline,
            FocusStop::Corner(corner) => &mut self.corners[corner as usize],
        }
    }

    /// Forgets what stood in a place where another stop stands now.
    fn forget(&mut self, id: Id) {
        let single = [&mut self.screen, &mut self.strip, &mut self.scope, &mut self.timeline];
        single.into_iter().chain(&mut self.corners).for_each(|known| {
            known.take_if(|known| *known == id);
        });
    }

    /// The stop that has the focus.
    pub fn of(self, focused: Option<Id>) -> Option<FocusStop> {
        let stops = [
            (FocusStop::Screen, self.screen),
            (FocusStop::Strip, self.strip),
            (FocusStop::Scope, self.scope),
            (FocusStop::Timeline, self.timeline),
        ];
        let corners = Corner::ALL.map(|corner| (FocusStop::Corner(corner), self.corners[corner as usize]));
        stops.into_iter().chain(corners).find(|(_, id)| focused.is_some() && *id == focused).map(|(stop, _)| stop)
    }
}

impl Workspace {
    /// Remembers a stop just laid out, and shows that it has the focus.
    pub(crate) fn note_stop(&mut self, ui: &Ui, stop: FocusStop, response: &Response) {
        self.stops.forget(response.id);
        *self.stops.place(stop) = Some(response.id);
        if stop == FocusStop::Screen && std::mem::take(&mut self.stops.asked) {
            response.request_focus();
        }
        if response.has_focus() {
            // The arrows move its cursor, not the focus.
            let arrows = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
            ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, arrows));
            let ring = Stroke::new(2.0, self.colours().accent);
            ui.painter().rect_stroke(response.rect, 2.0, ring, StrokeKind::Inside);
        }
    }
}

/// Moves the cursor of a stop where an event is a key that does; whether it was.
pub(crate) fn moved(scope: &mut Scope, session: &mut Session, stop: FocusStop, event: &Event) -> bool {
    let Event::Key { key, pressed: true, modifiers, .. } = event else {
        return false;
    };
    let wide = modifiers.matches_exact(Modifiers::SHIFT);
    if !wide && !modifiers.matches_exact(Modifiers::NONE) {
        return false;
    }
    let by = if wide { WIDE } else { 1 };
    let (right, down) = match key {
        Key::ArrowLeft => (-by, 0),
        Key::ArrowRight => (by, 0),
        Key::ArrowUp => (0, -by),
        Key::ArrowDown => (0, by),
        Key::Enter if stop == FocusStop::Screen => {
            session.perform(Command::PickLine);
            return true;
        }
        Key::Enter if matches!(stop, FocusStop::Corner(_)) => {
            session.find_from_corners();
            return true;
        }
        _ => return false,
    };
    match stop {
        FocusStop::Screen => session.move_inspected(right, down),
        FocusStop::Strip if right != 0 => session.perform(Command::StepRegister(right)),
        FocusStop::Strip => session.move_inspected(0, down),
        FocusStop::Scope => *scope = scope.step(session, right, down),
        FocusStop::Timeline if right != 0 => session.step_frames(i64::from(right)),
        FocusStop::Corner(corner) => session.move_corner(corner, right, down),
        FocusStop::Timeline => session.perform(if down > 0 { Command::NextHazard } else { Command::PreviousHazard }),
    }
    true
}
