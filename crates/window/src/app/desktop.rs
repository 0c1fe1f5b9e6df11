//! The window on the desktop: events in, frames out when they are due.

use std::path::PathBuf;
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use backporch_input::write_whole;
use backporch_picture::write::png;
use egui_winit::State;
use egui_winit::accesskit_winit;
use winit::application::ApplicationHandler;
use winit::dpi::{LogicalSize, PhysicalSize};
use winit::event::{ElementState, WindowEvent};
use winit::event_loop::{ActiveEventLoop, ControlFlow, EventLoopProxy};
use winit::window::{Window, WindowId};

use super::painter::{Painted, Painter};
use super::{Options, Pacing, WindowError};
use crate::panels::{Desk, Settings, Want};
use crate::session::Session;

/// What reaches the window from outside its own events.
#[derive(Debug)]
pub(super) enum Heard {
    /// Somebody listens to, or acts on, the accessible tree.
    Access(accesskit_winit::Event),
}

impl From<accesskit_winit::Event> for Heard {
    fn from(event: accesskit_winit::Event) -> Self {
        Self::Access(event)
    }
}

/// Longest sleep: files are looked at once a second.
const NAP: Duration = Duration::from_secs(1);
/// While frames run by themselves, the panels around them are laid out so often at most.
const PANELS_EVERY: Duration = Duration::from_millis(125);
/// Keys whose time is kept, at most.
const MOST_ANSWERED: usize = 1 << 16;
/// Sleep while thumbnails are missing.
const SHORT_NAP: Duration = Duration::from_millis(4);

/// The window, once the display gives one.
struct Open {
    window: Arc<Window>,
    state: State,
    painter: Painter,
    painted: Option<Rc<Painted>>,
    /// When the panels want to be drawn again without any event.
    again: Instant,
    /// When the panels were last laid out.
    laid_out: Instant,
    /// Something was pressed or moved since.
    stirred: bool,
}

/// Session, panels and window together.
pub(super) struct Desktop {
    session: Session,
    desk: Desk,
    settings: Settings,
    options: Options,
    proxy: EventLoopProxy<Heard>,
    ctx: egui::Context,
    open: Option<Open>,
    failed: Option<WindowError>,
    began: Instant,
    /// When the oldest key not yet shown was pressed.
    pressed: Option<Instant>,
    /// Times from key to picture, in seconds.
    answered: Vec<f64>,
}

impl Desktop {
    pub fn new(session: Session, settings: Settings, options: Options, proxy: EventLoopProxy<Heard>) -> Self {
        Self {
            desk: Desk::new(&settings),
            session,
            settings,
            options,
            proxy,
            ctx: egui::Context::default(),
            open: None,
            failed: None,
            began: Instant::now(),
            pressed: None,
            answered: Vec::new(),
        }
    }

    /// What became of it, once the event loop has ended.
    pub fn finish(self) -> Result<Option<Pacing>, WindowError> {
        if let Some(failed) = self.failed {
            return Err(failed);
        }
        let mut answered = self.answered;
        answered.sort_by(f64::total_cmp);
        let pace = self.session.pace();
        let input_ms = answered.get(answered.len() / 2).map(|median| median * 1000.0);
        Ok(Some(Pacing { frames: pace.total(), rate_hz: pace.rate_hz(), input_ms }))
    }

    fn open_window(&self, events: &ActiveEventLoop) -> Result<Open, WindowError> {
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
        let (again, laid_out) = (Instant::now(), Instant::now());
        Ok(Open { window, state, painter, painted: None, again, laid_out, stirred: true })
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
        let changed = self.desk.refresh_canvas(&self.session, now_s);
        if changed {
            open.painter.take_canvas(self.desk.screen_pixels(), self.desk.fit())?;
        }
        let settled = !open.stirred && (open.laid_out.elapsed() < PANELS_EVERY || open.painter.is_painting_panels());
        if self.session.is_running()
            && settled
            && open.painter.has_panels()
            && let Some((place, marks)) = self.desk.screen_again(&self.session)
        {
            if changed {
                open.painter.paint_over(&self.ctx, place, marks)?;
                self.note_answer();
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
        open.stirred = false;
        open.laid_out = Instant::now();
        self.ctx.set_zoom_factor(self.desk.zoom());
        let input = open.state.take_egui_input(&open.window);
        let (session, desk, painter) = (&mut self.session, &mut self.desk, &mut open.painter);
        let output = self.ctx.run_ui(input, |ui| desk.show(ui, session, painter.screen()));
        // What a key changed just now is shown at once, not a frame late.
        let changed = match desk.refresh_canvas(session, now_s) {
            true => painter.take_canvas(desk.screen_pixels(), desk.fit()).map(|()| true)?,
            false => changed,
        };
        open.state.handle_platform_output_with_event_loop(&open.window, events, output.platform_output);
        let wait = output.viewport_output.get(&egui::ViewportId::ROOT).map_or(NAP, |viewport| viewport.repaint_delay);
        open.again = Instant::now() + wait.min(NAP);
        let painted = Rc::new(Painted {
            jobs: self.ctx.tessellate(output.shapes, output.pixels_per_point),
            textures: output.textures_delta,
            pixels_per_point: output.pixels_per_point,
        });
        let again = self.desk.screen_again(&self.session);
        match again.filter(|_| self.session.is_running()) {
            Some((place, marks)) => {
                // Without a new frame there is nothing to show before the next one brings the panels along.
                let shows_now = changed || !open.painter.has_panels();
                open.painter.keep_panels(&painted);
                if shows_now {
                    open.painter.paint_over(&self.ctx, place, marks)?;
                }
            }
            None => open.painter.paint(&painted)?,
        }
        open.painted = Some(painted);
        self.note_answer();
        self.heed_wants();
        Ok(())
    }

    /// What was painted just now answers the oldest key, unless its frame is still to come.
    fn note_answer(&mut self) {
        if self.session.awaits_frame() {
            return;
        }
        if let Some(pressed) = self.pressed.take()
            && self.answered.len() < MOST_ANSWERED
        {
            self.answered.push(pressed.elapsed().as_secs_f64());
        }
    }

    fn heed_wants(&mut self) {
        for want in self.desk.take_wants() {
            match want {
                Want::KeepWindow => self.keep_window(),
            }
        }
    }

    fn keep_window(&mut self) {
        let Some((painter, painted)) =
            self.open.as_mut().and_then(|open| Some((&mut open.painter, open.painted.as_ref()?)))
        else {
            return;
        };
        let path: PathBuf = self.session.free_name("-window.png");
        let image = painter.capture(painted).map_err(|error| error.to_string());
        let bytes = image.and_then(|image| png(&image).map_err(|error| error.to_string()));
        let written = bytes.and_then(|bytes| write_whole(&path, &bytes).map_err(|error| error.to_string()));
        self.session.say(written.map_or_else(|error| error, |()| format!("window: {}", path.display())));
    }

    /// When something is to be drawn without any event.
    fn next_wake(&self) -> Instant {
        let now = Instant::now();
        let running = self.session.is_running();
        let busy = |open: &Open| open.painter.is_painting_panels() && !open.stirred;
        let panels = |open: &Open| match running {
            true if busy(open) => now + NAP,
            true => open.laid_out + PANELS_EVERY,
            false => open.again,
        };
        let mut wake = self.open.as_ref().map_or(now + NAP, |open| panels(open).min(now + NAP));
        if let Some(next_s) = self.session.pace().next_s().filter(|_| running) {
            wake = wake.min(self.began + Duration::from_secs_f64(next_s.max(0.0)));
        }
        if running && self.session.pace().next_s().is_none() {
            wake = now;
        }
        if self.session.goal().is_some() || (!running && !self.session.strip().is_whole()) {
            wake = wake.min(now + SHORT_NAP);
        }
        if Desk::blinks(&self.session) {
            wake = wake.min(now + Duration::from_millis(100));
        }
        if let Some(leave) = self.options.leave_after {
            wake = wake.min(self.began + leave);
        }
        wake
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
        // A layout that cannot be kept is no reason to say anything at the door.
        let _ = self.desk.settings((size.width, size.height)).keep(path);
    }
}

impl ApplicationHandler<Heard> for Desktop {
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

    fn user_event(&mut self, _events: &ActiveEventLoop, Heard::Access(event): Heard) {
        let Some(open) = &mut self.open else {
            return;
        };
        open.stirred = true;
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
        let waits = self.session.is_running() && is_release(&event);
        let repaint = response.repaint && !waits;
        open.stirred |= repaint && !matches!(event, WindowEvent::RedrawRequested);
        match event {
            WindowEvent::CloseRequested => {
                self.remember();
                events.exit();
            }
            WindowEvent::Resized(size) => {
                if let Err(error) = open.painter.resize(size.width, size.height) {
                    self.fail(events, error);
                    return;
                }
                open.window.request_redraw();
            }
            WindowEvent::RedrawRequested => {
                if let Err(error) = self.redraw(events) {
                    self.fail(events, error);
                }
            }
            WindowEvent::KeyboardInput { event, .. } if event.state == ElementState::Pressed => {
                open.stirred = true;
                self.pressed.get_or_insert_with(Instant::now);
                open.window.request_redraw();
            }
            _ if repaint => open.window.request_redraw(),
            _ => {}
        }
    }

    fn about_to_wait(&mut self, events: &ActiveEventLoop) {
        if self.options.leave_after.is_some_and(|leave| self.began.elapsed() >= leave) {
            self.remember();
            events.exit();
            return;
        }
        let wake = self.next_wake();
        if wake <= Instant::now()
            && let Some(open) = &self.open
        {
            open.window.request_redraw();
        }
        events.set_control_flow(ControlFlow::WaitUntil(wake));
    }
}

/// Whether a key was let go.
fn is_release(event: &WindowEvent) -> bool {
    matches!(event, WindowEvent::KeyboardInput { event, .. } if event.state == ElementState::Released)
}
