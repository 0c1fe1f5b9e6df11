//! The window on the desktop: events in, frames out when they are due.

use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use backporch_input::write_whole;
use backporch_picture::write::png;
use egui::Rect;
use egui_winit::State;
use egui_winit::accesskit_winit;
use winit::application::ApplicationHandler;
use winit::dpi::{LogicalSize, PhysicalSize};
use winit::event::{ElementState, WindowEvent};
use winit::event_loop::{ActiveEventLoop, ControlFlow, EventLoopProxy};
use winit::window::{Window, WindowId};

use super::painter::{Painted, Painter};
use super::schedule::{PANELS_EVERY, Schedule};
use super::surface::Presented;
use super::{Options, Pacing, WindowError};
use crate::panels::{HostRequest, Settings, Workspace};
use crate::session::Session;
use crate::session::autosave::Autosave;
use crate::session::face::Face;

/// What reaches the window from outside its own events.
#[derive(Debug)]
pub(super) enum AccessEvent {
    /// A screen reader asks for the accessible tree, or for an action in it.
    Access(accesskit_winit::Event),
}

impl From<accesskit_winit::Event> for AccessEvent {
    fn from(event: accesskit_winit::Event) -> Self {
        Self::Access(event)
    }
}

/// Most key latencies recorded.
const MOST_LATENCIES: usize = 1 << 16;
/// Whether the window is minimised is asked of the display at most this often: not every display says it by itself.
const LOOK_EVERY: Duration = Duration::from_millis(250);

/// The window, once the display gives one.
struct OpenWindow {
    window: Arc<Window>,
    state: State,
    painter: Painter,
    painted: Option<Rc<Painted>>,
    /// When the panels want to be drawn again without any event.
    again: Option<Instant>,
    /// When the panels were last laid out.
    laid_out: Instant,
    /// When anything was last drawn, or was to be.
    drawn: Instant,
    /// Something was pressed or moved since.
    input_pending: bool,
    /// The surface no longer fits the window.
    is_outdated: bool,
    /// The display did not take the last frame.
    is_unshown: bool,
    /// Nothing of the window is seen: another one lies over it.
    is_covered: bool,
    /// It is minimised.
    is_minimised: bool,
    /// When that was last asked; not since something hinted at a change.
    looked: Option<Instant>,
    /// Whether the painter has the canvas as it is now.
    has_canvas: bool,
    /// What the session showed when the panels were last laid out.
    face: Option<Face>,
    /// Where the canvas lay then, in points.
    canvas_place: Option<Rect>,
}

/// Session, panels and window together.
pub(super) struct WindowApp {
    session: Session,
    workspace: Workspace,
    settings: Settings,
    options: Options,
    proxy: EventLoopProxy<AccessEvent>,
    ctx: egui::Context,
    open: Option<OpenWindow>,
    failed: Option<WindowError>,
    began: Instant,
    /// Where sightings are kept aside; nowhere where nothing is remembered.
    autosave: Option<Autosave>,
    /// When the oldest key not yet shown was pressed.
    pressed: Option<Instant>,
    /// Times from key to picture, in seconds.
    latencies: Vec<f64>,
}

impl OpenWindow {
    /// Whether nothing of it is seen.
    fn is_unseen(&self) -> bool {
        self.is_covered || self.is_minimised
    }

    /// Looks whether it is minimised, where that was not asked just now; brought back, it is drawn.
    fn look_whether_minimised(&mut self) {
        if self.looked.is_some_and(|looked| looked.elapsed() < LOOK_EVERY) {
            return;
        }
        self.looked = Some(Instant::now());
        // A display that cannot tell says nothing.
        let is_minimised = self.window.is_minimized() == Some(true);
        if std::mem::replace(&mut self.is_minimised, is_minimised) && !is_minimised {
            self.input_pending = true;
            self.window.request_redraw();
        }
    }

    /// Takes in what became of a frame.
    fn note(&mut self, presented: Presented) {
        self.is_outdated = presented == Presented::Outdated;
        self.is_unshown = presented == Presented::Skipped;
    }

    /// Gives the painter the canvas, where it has another one.
    fn take_canvas(&mut self, workspace: &mut Workspace) {
        if !std::mem::replace(&mut self.has_canvas, true) {
            let fit = workspace.fit();
            self.painter.take_canvas(workspace.screen_pixels(), fit);
        }
    }

    /// Sets an outdated surface up for the size the window has by now, once. Whether it fits then,
    /// the next frame tells: here nothing waits for it.
    fn fit_surface(&mut self) {
        if std::mem::take(&mut self.is_outdated) {
            let size = self.window.inner_size();
            self.painter.resize(size.width, size.height);
        }
    }
}

impl WindowApp {
    pub fn new(session: Session, settings: Settings, options: Options, proxy: EventLoopProxy<AccessEvent>) -> Self {
        let mut workspace = Workspace::new(&settings);
        workspace.note_opened(session.name());
        let folder = options.settings.as_deref().and_then(Path::parent);
        let autosave = folder.map(Autosave::in_folder);
        if let Some(left) = autosave.as_ref().and_then(Autosave::left_behind) {
            workspace.offer_to_restore(left);
        }
        Self {
            workspace,
            session,
            settings,
            options,
            proxy,
            ctx: egui::Context::default(),
            open: None,
            failed: None,
            began: Instant::now(),
            autosave,
            pressed: None,
            latencies: Vec::new(),
        }
    }

    /// What became of it, once the event loop has ended.
    pub fn finish(self) -> Result<Option<Pacing>, WindowError> {
        if let Some(failed) = self.failed {
            return Err(failed);
        }
        let mut latencies = self.latencies;
        latencies.sort_by(f64::total_cmp);
        let pace = self.session.transport().pace();
        let input_ms = latencies.get(latencies.len() / 2).map(|median| median * 1000.0);
        Ok(Some(Pacing { frames: pace.total(), rate_hz: pace.rate_hz(), input_ms }))
    }

    fn open_window(&self, events: &ActiveEventLoop) -> Result<OpenWindow, WindowError> {
        let title = format!("{} \u{2013} Backporch", self.session.name());
        let attributes = Window::default_attributes().with_title(title).with_visible(false);
        let attributes = match self.options.size {
            Some((width, height)) => attributes.with_inner_size(PhysicalSize::new(width, height)),
            None => attributes.with_inner_size(LogicalSize::new(self.settings.width, self.settings.height)),
        };
        let no_display = |error: winit::error::OsError| WindowError::Display(super::plain(&error.to_string()));
        let window = Arc::new(events.create_window(attributes).map_err(no_display)?);
        let painter = Painter::new(&window)?;
        let scale = window.scale_factor() as f32;
        let id = egui::ViewportId::ROOT;
        let most_side = Some(painter.most_side());
        let mut state = State::new(self.ctx.clone(), id, &window, Some(scale), window.theme(), most_side);
        // The accessible tree has to be in place before the window is seen.
        state.init_accesskit(events, &window, self.proxy.clone());
        window.set_visible(true);
        let now = Instant::now();
        Ok(OpenWindow {
            window,
            state,
            painter,
            painted: None,
            again: Some(now),
            laid_out: now,
            drawn: now,
            input_pending: true,
            is_outdated: false,
            is_unshown: false,
            is_covered: false,
            is_minimised: false,
            looked: None,
            has_canvas: false,
            face: None,
            canvas_place: None,
        })
    }

    fn now_s(&self) -> f64 {
        self.began.elapsed().as_secs_f64()
    }

    /// Lets time pass and paints what it brought: the whole window, or while
    /// frames run by themselves most often the screen alone.
    fn redraw(&mut self, events: &ActiveEventLoop) -> Result<(), WindowError> {
        let now_s = self.now_s();
        self.session.tick(now_s);
        let Some(open) = &mut self.open else {
            return Ok(());
        };
        open.drawn = Instant::now();
        // What is not seen is not drawn, unless a key was pressed all the same.
        if open.is_unseen() && !open.input_pending {
            return Ok(());
        }
        open.fit_surface();
        let changed = self.workspace.refresh_canvas(&self.session, now_s);
        open.has_canvas &= !changed;
        let settled =
            !open.input_pending && (open.laid_out.elapsed() < PANELS_EVERY || open.painter.is_painting_panels());
        if self.session.transport().is_running()
            && settled
            && open.painter.has_panels()
            && let Some((place, marks)) = self.workspace.screen_again(&self.session)
        {
            if changed {
                if open.painter.needs_canvas_texture() {
                    open.take_canvas(&mut self.workspace);
                }
                let presented = open.painter.paint_over(&self.ctx, self.workspace.canvas(), place, marks)?;
                open.note(presented);
                note_latency(&self.session, &mut self.pressed, &mut self.latencies);
            }
            return Ok(());
        }
        self.lay_out(events, now_s, changed)
    }

    /// Lays every panel out and paints them; `changed` says that the canvas is not yet on the display.
    fn lay_out(&mut self, events: &ActiveEventLoop, now_s: f64, changed: bool) -> Result<(), WindowError> {
        let Some(open) = &mut self.open else {
            return Ok(());
        };
        open.input_pending = false;
        open.laid_out = Instant::now();
        self.ctx.set_zoom_factor(self.workspace.zoom());
        open.take_canvas(&mut self.workspace);
        let input = open.state.take_egui_input(&open.window);
        let (session, workspace, painter) = (&mut self.session, &mut self.workspace, &mut open.painter);
        let output = self.ctx.run_ui(input, |ui| workspace.show(ui, session, painter.screen()));
        // What a key changed just now is shown at once, not a frame late.
        let redrawn = workspace.refresh_canvas(session, now_s);
        open.has_canvas &= !redrawn;
        open.take_canvas(workspace);
        let changed = changed || redrawn;
        open.state.handle_platform_output_with_event_loop(&open.window, events, output.platform_output);
        let wait = output.viewport_output.get(&egui::ViewportId::ROOT).map(|viewport| viewport.repaint_delay);
        open.again = wait.and_then(|wait| Instant::now().checked_add(wait));
        let again = self.workspace.screen_again(&self.session);
        let is_running = self.session.transport().is_running();
        // Whoever presses a key looks at the picture: it comes at once, into the panels as they were, which follow.
        let place = again.as_ref().map(|(place, _)| *place);
        let stays = place.is_some() && std::mem::replace(&mut open.canvas_place, place) == place;
        if let Some((place, marks)) =
            again.clone().filter(|_| stays && changed && !is_running && open.painter.has_panels())
        {
            let presented = open.painter.paint_over(&self.ctx, self.workspace.canvas(), place, marks)?;
            open.note(presented);
            note_latency(&self.session, &mut self.pressed, &mut self.latencies);
        }
        let painted = Rc::new(Painted {
            jobs: self.ctx.tessellate(output.shapes.clone(), output.pixels_per_point),
            shapes: output.shapes,
            textures: output.textures_delta,
            pixels_per_point: output.pixels_per_point,
        });
        match again {
            Some((place, marks)) => {
                // Without a new frame there is nothing to show before the next one brings the panels along.
                let shows_now = changed || !is_running || !open.painter.has_panels();
                open.painter.cache_panels(&painted);
                if !is_running {
                    open.painter.finish_panels();
                }
                if shows_now {
                    let presented = open.painter.paint_over(&self.ctx, self.workspace.canvas(), place, marks)?;
                    open.note(presented);
                }
            }
            None => {
                let presented = open.painter.paint(&painted)?;
                open.note(presented);
            }
        }
        open.painted = Some(painted);
        open.face = Some(self.session.face());
        if let Some(autosave) = &mut self.autosave {
            autosave.keep(&self.session);
        }
        note_latency(&self.session, &mut self.pressed, &mut self.latencies);
        self.serve_requests(events);
        Ok(())
    }

    fn serve_requests(&mut self, events: &ActiveEventLoop) {
        for want in self.workspace.take_requests() {
            match want {
                HostRequest::SaveWindow => self.save_window(),
                HostRequest::Close => self.close(events, true),
            }
        }
    }

    /// Closes the window; what is unsaved is kept aside where there was no question about it.
    fn close(&self, events: &ActiveEventLoop, was_settled: bool) {
        self.remember();
        if let Some(autosave) = self.autosave.as_ref().filter(|_| was_settled) {
            autosave.let_go();
        }
        events.exit();
    }

    fn save_window(&mut self) {
        let Some(open) = &mut self.open else {
            return;
        };
        open.take_canvas(&mut self.workspace);
        let Some(painted) = &open.painted else { return };
        let path: PathBuf = self.session.free_name("-window.png");
        let image = open.painter.capture(painted).map_err(|error| error.to_string());
        let bytes = image.and_then(|image| png(&image).map_err(|error| error.to_string()));
        let written = bytes.and_then(|bytes| write_whole(&path, &bytes).map_err(|error| error.to_string()));
        self.session.report(written.map_or_else(|error| error, |()| format!("window: {}", path.display())));
    }

    /// Lets time pass without an event; whether anything is to be drawn. A window at rest is drawn when it changes.
    fn wake(&mut self) -> bool {
        let now_s = self.now_s();
        let Some(open) = &mut self.open else {
            return false;
        };
        let waits = open.input_pending || (open.is_outdated || open.is_unshown) && !open.is_unseen();
        if waits || self.session.transport().is_running() {
            return true;
        }
        self.session.tick(now_s);
        let asked = !open.is_unseen() && open.again.is_some_and(|again| again <= Instant::now());
        let changed = open.face.as_ref() != Some(&self.session.face());
        let blinked = self.workspace.is_canvas_due(&self.session, now_s);
        open.drawn = Instant::now();
        if asked {
            open.input_pending = true;
        }
        asked || changed || blinked
    }

    /// When something is to be drawn without any event.
    fn next_wake(&self) -> Instant {
        let Some(open) = &self.open else {
            return Instant::now() + Duration::from_secs(1);
        };
        let at = |seconds: f64| self.began + Duration::from_secs_f64(seconds.max(0.0));
        let session = &self.session;
        let running = session.transport().is_running();
        // Panels that are being painted come along with the frames of the board.
        let painting = open.painter.is_painting_panels() && !open.input_pending;
        let panels_due = if running { Some(open.laid_out + PANELS_EVERY).filter(|_| !painting) } else { open.again };
        // What is not seen is not laid out: its moment would stay in the past.
        let panels_due = panels_due.filter(|_| !open.is_unseen());
        let drawn_s = open.drawn.duration_since(self.began).as_secs_f64();
        let schedule = Schedule {
            drawn: open.drawn,
            frame_due: running.then(|| session.transport().pace().next_s().map_or(open.drawn, at)),
            panels_due,
            blink_due: Workspace::next_blink_s(session, drawn_s).map(at),
            has_turns: session.transport().goal().is_some() || (!running && !session.sweep().thumbnails().is_whole()),
            is_searching: session.findings().searching().is_some()
                || session.findings().diagnosing().is_some()
                || session.looks_for_photograph(),
            is_outdated: open.is_outdated && !open.is_unseen(),
            is_unshown: open.is_unshown && !open.is_unseen(),
            closes: self.options.leave_after.map(|leave| self.began + leave),
        };
        schedule.next()
    }

    fn fail(&mut self, events: &ActiveEventLoop, error: WindowError) {
        self.failed.get_or_insert(error);
        events.exit();
    }

    fn remember(&self) {
        let (Some(open), Some(path)) = (&self.open, &self.options.settings) else {
            return;
        };
        let size: LogicalSize<f32> = open.window.inner_size().to_logical(open.window.scale_factor());
        // A layout that cannot be saved is no reason to keep the window open.
        let _ = self.workspace.settings((size.width, size.height)).save(path);
    }
}

impl ApplicationHandler<AccessEvent> for WindowApp {
    fn resumed(&mut self, events: &ActiveEventLoop) {
        if self.open.is_some() {
            return;
        }
        match self.open_window(events) {
            Ok(open) => {
                open.window.request_redraw();
                self.open = Some(open);
            }
            Err(error) => self.fail(events, error),
        }
    }

    fn user_event(&mut self, _events: &ActiveEventLoop, AccessEvent::Access(event): AccessEvent) {
        let Some(open) = &mut self.open else {
            return;
        };
        open.input_pending = true;
        match event.window_event {
            accesskit_winit::WindowEvent::InitialTreeRequested => self.ctx.enable_accesskit(),
            accesskit_winit::WindowEvent::ActionRequested(request) => open.state.on_accesskit_action_request(request),
            accesskit_winit::WindowEvent::AccessibilityDeactivated => self.ctx.disable_accesskit(),
        }
        open.window.request_redraw();
    }

    fn window_event(&mut self, events: &ActiveEventLoop, _window: WindowId, event: WindowEvent) {
        let Some(open) = &mut self.open else {
            return;
        };
        let response = open.state.on_window_event(&open.window, &event);
        // A key let go changes nothing that could not wait for the panels' next turn.
        let waits = self.session.transport().is_running() && is_release(&event);
        let repaint = response.repaint && !waits;
        open.input_pending |= repaint && !matches!(event, WindowEvent::RedrawRequested);
        if matches!(event, WindowEvent::Focused(_) | WindowEvent::Resized(_) | WindowEvent::Occluded(_)) {
            open.looked = None;
        }
        match event {
            WindowEvent::CloseRequested => {
                // A key pressed just before may have noted something: it is heard first.
                let now_s = self.now_s();
                match self.lay_out(events, now_s, true) {
                    Err(error) => self.fail(events, error),
                    Ok(()) if self.workspace.may_close(&self.session) => self.close(events, true),
                    Ok(()) => {
                        if let Some(open) = &mut self.open {
                            open.input_pending = true;
                            open.window.request_redraw();
                        }
                    }
                }
            }
            WindowEvent::Resized(size) => {
                open.painter.resize(size.width, size.height);
                open.is_outdated = false;
                open.window.request_redraw();
            }
            WindowEvent::Occluded(covered) => {
                open.is_covered = covered;
                if !covered {
                    open.input_pending = true;
                    open.window.request_redraw();
                }
            }
            WindowEvent::RedrawRequested => {
                if let Err(error) = self.redraw(events) {
                    self.fail(events, error);
                }
            }
            WindowEvent::KeyboardInput { event, .. } if event.state == ElementState::Pressed => {
                open.input_pending = true;
                self.pressed.get_or_insert_with(Instant::now);
                open.window.request_redraw();
            }
            _ if repaint => open.window.request_redraw(),
            _ => {}
        }
    }

    fn about_to_wait(&mut self, events: &ActiveEventLoop) {
        if self.options.leave_after.is_some_and(|leave| self.began.elapsed() >= leave) {
            self.close(events, false);
            return;
        }
        if let Some(open) = &mut self.open {
            open.look_whether_minimised();
        }
        if self.next_wake() <= Instant::now()
            && self.wake()
            && let Some(open) = &self.open
        {
            open.window.request_redraw();
        }
        events.set_control_flow(ControlFlow::WaitUntil(self.next_wake()));
    }
}

/// What was painted just now answers the oldest key, unless its frame is still to come.
fn note_latency(session: &Session, pressed: &mut Option<Instant>, latencies: &mut Vec<f64>) {
    if session.awaits_frame() {
        return;
    }
    if let Some(pressed) = pressed.take().filter(|_| latencies.len() < MOST_LATENCIES) {
        latencies.push(pressed.elapsed().as_secs_f64());
    }
}

/// Whether a key was let go.
fn is_release(event: &WindowEvent) -> bool {
    matches!(event, WindowEvent::KeyboardInput { event, .. } if event.state == ElementState::Released)
}
