//! The workspace: all panels together, and the state of looking at them.

use backporch_bench::BENCHES;
use backporch_evidence::SIGHTINGS;
use egui::{Context, TextureHandle, TextureId};

use super::bench_list::BenchList;
use super::canvas_layout::CanvasLayout;
use super::closer_look::CloserLook;
use super::context_menu::MenuKey;
use super::fields::Fields;
use super::keyboard::HeldKeys;
use super::keys::KeyAction;
use super::quirk_dialog::QuirkList;
use super::register_filter::RegisterFilter;
use super::restore_dialog::RestoreDialog;
use super::scope::Scope;
use super::settings::{PictureFit, Settings};
use super::stops::Stops;
use super::sweep::{self, StripView};
use super::theme::{self, Theme};
use super::unsaved_dialog::UnsavedDialog;
use crate::command::{Command, ViewCommand};
use crate::session::{Canvas, LiveDiagnosis, LiveWorkarounds, Session, StopCondition};

/// Seconds each board is shown while they blink in turn.
const BLINK_S: f64 = 0.5;

/// Steps in which a closer look moves across what is seen.
const PAN_STEPS: f32 = 8.0;

/// Names of what was opened lately that are remembered.
const MOST_RECENT: usize = 12;

/// Points the middle keeps between both sides, and beside one alone.
const LEAST_BETWEEN: f32 = 400.0;
const LEAST_BESIDE: f32 = 230.0;

/// Asked of the owner of the window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HostRequest {
    /// Keep the whole window as a PNG.
    SaveWindow,
    /// Close the window.
    Close,
}

/// The picture of the screen as the painter knows it.
#[derive(Clone, Copy, Debug)]
pub struct ScreenImage {
    /// The texture with the canvas, magnified or not.
    pub texture: TextureId,
}

/// Pixels for the painter; at least one.
#[derive(Clone, Copy, Debug)]
pub struct ScreenPixels<'a> {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Red, green, blue and opacity of each, row by row.
    pub rgba: &'a [u8],
}

/// The panels at the sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Sides {
    pub left: bool,
    pub right: bool,
}

impl Sides {
    const BOTH: Self = Self { left: true, right: true };
}

/// Textures drawn once and cached until what they show changes.
#[derive(Default)]
pub(crate) struct Textures {
    /// The memory map, and what it was drawn of: memory and what shows, by their revisions.
    pub memory: Option<((u64, u64), TextureHandle, crate::session::MemoryPicture)>,
    pub thumbs: std::collections::BTreeMap<u32, TextureHandle>,
    pub thumbs_revision: Option<u64>,
    /// The filmstrips of the workarounds, and what they were drawn of.
    pub film: Option<(LiveWorkarounds, Vec<Vec<TextureHandle>>)>,
    pub screen: Option<TextureHandle>,
    /// The damage map, and what it was drawn of: revision, rows, theme.
    pub damage: Option<((u64, usize, Theme), TextureHandle)>,
}

/// All panels, and the state of looking at them.
pub struct Workspace {
    pub(crate) theme: Theme,
    pub(crate) fit: PictureFit,
    pub(crate) twice: bool,
    pub(crate) left: f32,
    pub(crate) right: f32,
    pub(crate) help: bool,
    /// The list of benches to open, while it is open.
    pub(crate) bench_list: Option<BenchList>,
    pub(crate) open_asked: bool,
    /// The question what becomes of what is unsaved, while it stands.
    pub(crate) unsaved_dialog: Option<UnsavedDialog>,
    /// The question whether sightings left behind are taken up again, while it stands.
    pub(crate) restore_dialog: Option<RestoreDialog>,
    /// Diagnosis that were shown last.
    pub(crate) findings: Option<LiveDiagnosis>,
    /// Sides shown where there is room: left, right; the one asked for last goes first.
    pub(crate) sides: Sides,
    pub(crate) left_first: bool,
    /// Sides that were shown last.
    pub(crate) shown: Sides,
    /// Distance of bad lines on the chip of every n-th line.
    pub(crate) nth_line: u32,
    pub(crate) register_filter: RegisterFilter,
    pub(crate) stops: Stops,
    pub(crate) menu_key: MenuKey,
    /// What the scope looks at.
    pub(crate) scope: Scope,
    /// The list of quirks to fit, while it is open.
    pub(crate) quirk_list: Option<QuirkList>,
    /// Names of what was opened lately, the newest first.
    pub(crate) recent: Vec<String>,
    /// Where the middle stood when it was last laid out.
    pub(crate) middle: egui::Rect,
    pub(crate) until: StopCondition,
    pub(crate) fields: Fields,
    /// The keyboard, while it belongs to the program.
    pub(crate) keyboard: Option<HeldKeys>,
    pub(crate) textures: Textures,
    /// Byte of memory pointed at on the map.
    pub(crate) byte: Option<u32>,
    /// How close the picture is looked at.
    pub(crate) closer_look: CloserLook,
    /// Whether the pixels round the pointer are shown large.
    pub(crate) magnifier: bool,
    /// Pixel of the canvas under the pointer.
    pub(crate) pointed: Option<(u32, u32)>,
    /// Where the canvas is seen: the room it has.
    pub(crate) seen: egui::Rect,
    /// Whether the screen shows that the monitor does not lock to the picture, in its place.
    pub(crate) is_unlocked: bool,
    /// Whether something lies over the screen.
    pub(crate) is_overlaid: bool,
    /// Where the caution stands over the screen, while the monitor refuses the signal.
    pub(crate) caution: Option<egui::Rect>,
    /// What stands below the active register.
    pub(crate) strip: StripView,
    /// Whether it was asked for where there is little room, and whether there is.
    pub(crate) strip_asked: bool,
    pub(crate) is_low: bool,
    /// Where the canvas stood when it was last laid out.
    pub(crate) canvas_layout: Option<CanvasLayout>,
    canvas: Canvas,
    /// Times each pixel is repeated across and down before the painter smooths it.
    pub(crate) magnify: u32,
    magnified: Vec<u8>,
    /// Whether those are the canvas's.
    is_magnified: bool,
    drawn: Option<(u64, bool, u32)>,
    pub(crate) applied_theme: Option<Theme>,
    requests: Vec<HostRequest>,
    pub(crate) commands: Vec<Command>,
}

impl Workspace {
    /// A workspace under remembered settings.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        Self {
            theme: settings.theme(),
            fit: if settings.whole_pixels { PictureFit::Whole } else { PictureFit::Shape },
            twice: settings.twice,
            left: settings.left,
            right: settings.right,
            help: false,
            bench_list: None,
            open_asked: false,
            unsaved_dialog: None,
            restore_dialog: None,
            findings: None,
            sides: Sides::BOTH,
            left_first: false,
            shown: Sides::BOTH,
            nth_line: 4,
            register_filter: RegisterFilter::default(),
            stops: Stops::default(),
            menu_key: MenuKey::default(),
            scope: Scope::default(),
            quirk_list: None,
            recent: settings.recent.clone(),
            middle: egui::Rect::NOTHING,
            until: StopCondition::Damage,
            fields: Fields::default(),
            keyboard: None,
            textures: Textures::default(),
            byte: None,
            closer_look: CloserLook::default(),
            magnifier: false,
            pointed: None,
            seen: egui::Rect::NOTHING,
            is_unlocked: false,
            is_overlaid: false,
            caution: None,
            strip: StripView::default(),
            strip_asked: false,
            is_low: false,
            canvas_layout: None,
            canvas: Canvas::default(),
            magnify: 1,
            magnified: Vec::new(),
            is_magnified: false,
            drawn: None,
            applied_theme: None,
            requests: Vec::new(),
            commands: Vec::new(),
        }
    }

    /// As it is to be remembered; `size` is the window's, in points.
    #[must_use]
    pub fn settings(&self, size: (f32, f32)) -> Settings {
        Settings {
            dark: self.theme == Theme::Dark,
            whole_pixels: self.fit == PictureFit::Whole,
            twice: self.twice,
            width: size.0,
            height: size.1,
            left: self.left,
            right: self.right,
            recent: self.recent.clone(),
            ..Settings::default()
        }
    }

    /// How the picture fits its panel.
    #[must_use]
    pub fn fit(&self) -> PictureFit {
        self.fit
    }

    /// How much larger than the display requests everything is drawn.
    #[must_use]
    pub fn zoom(&self) -> f32 {
        if self.twice { 2.0 } else { 1.0 }
    }

    /// The pixels of the screen panel.
    #[must_use]
    pub fn canvas(&self) -> &Canvas {
        &self.canvas
    }

    /// What was asked of the owner of the window since the last time.
    pub fn take_requests(&mut self) -> Vec<HostRequest> {
        std::mem::take(&mut self.requests)
    }

    pub(crate) fn request(&mut self, request: HostRequest) {
        self.requests.push(request);
    }

    /// Does, at the end of this frame, what a button or key asks the session for.
    pub(crate) fn ask(&mut self, command: Command) {
        self.commands.push(command);
    }

    /// What the canvas is to be drawn of: revision, board of a blink, magnification.
    fn canvas_wanted(&self, session: &Session, now_s: f64) -> (u64, bool, u32) {
        let blink = session.inspection().board_view().blinks() && (now_s / BLINK_S) as u64 % 2 == 1;
        (session.inspection().revision(), blink, self.magnify)
    }

    /// Whether what the canvas shows has changed since it was drawn.
    pub(crate) fn is_canvas_due(&self, session: &Session, now_s: f64) -> bool {
        self.drawn != Some(self.canvas_wanted(session, now_s))
    }

    /// Draws the canvas anew where what it shows has changed; `true` where it has.
    pub fn refresh_canvas(&mut self, session: &Session, now_s: f64) -> bool {
        if !self.is_canvas_due(session, now_s) {
            return false;
        }
        let wanted = self.canvas_wanted(session, now_s);
        self.canvas = session.canvas(wanted.1);
        self.is_magnified = false;
        self.drawn = Some(wanted);
        true
    }

    /// The canvas as the painter is to have it.
    pub fn screen_pixels(&mut self) -> ScreenPixels<'_> {
        if !std::mem::replace(&mut self.is_magnified, true) {
            self.canvas.magnified(self.magnify, &mut self.magnified);
        }
        if self.magnified.is_empty() {
            return ScreenPixels { width: 1, height: 1, rgba: &[0, 0, 0, 255] };
        }
        let (width, height) = (self.canvas.width * self.magnify, self.canvas.height * self.magnify);
        ScreenPixels { width, height, rgba: &self.magnified }
    }

    /// When a blinking picture shows the other board next, in the seconds of
    /// [`refresh_canvas`](Self::refresh_canvas); `None` where nothing blinks.
    #[must_use]
    pub fn next_blink_s(session: &Session, now_s: f64) -> Option<f64> {
        let blinks = session.inspection().board_view().blinks();
        blinks.then(|| ((now_s / BLINK_S).floor() + 1.0) * BLINK_S)
    }

    /// Shows the canvas through a texture of egui's own.
    pub fn own_screen(&mut self, ctx: &Context) -> ScreenImage {
        let fit = self.fit;
        let ScreenPixels { width, height, rgba } = self.screen_pixels();
        let image = egui::ColorImage::from_rgba_unmultiplied([width as usize, height as usize], rgba);
        let options = match fit {
            PictureFit::Whole => egui::TextureOptions::NEAREST,
            PictureFit::Shape => egui::TextureOptions::LINEAR,
        };
        let texture = match self.textures.screen.take() {
            Some(mut texture) => {
                texture.set(image, options);
                texture
            }
            None => ctx.load_texture("screen", image, options),
        };
        let id = texture.id();
        self.textures.screen = Some(texture);
        ScreenImage { texture: id }
    }

    /// The sides there is room for beside a middle of some width.
    pub(crate) fn sides_shown(&self, width: f32) -> Sides {
        let (left, right) = (self.left, self.right);
        let both = self.sides == Sides::BOTH;
        if both && width - left - right >= LEAST_BETWEEN {
            return Sides::BOTH;
        }
        // Of two there is no room for, the one asked for last is shown.
        Sides {
            left: self.sides.left && (!both || self.left_first) && width - left >= LEAST_BESIDE,
            right: self.sides.right && (!both || !self.left_first) && width - right >= LEAST_BESIDE,
        }
    }

    /// Puts a name first among what was opened lately.
    pub fn note_opened(&mut self, name: &str) {
        let is_built_in = BENCHES.contains(name) || SIGHTINGS.contains(name);
        let whole = std::path::absolute(name).ok().filter(|_| !is_built_in);
        let name = whole.map_or_else(|| name.to_string(), |path| path.display().to_string());
        self.recent.retain(|other| *other != name);
        self.recent.insert(0, name);
        self.recent.truncate(MOST_RECENT);
    }

    /// Gives the keyboard to the program, or takes it back.
    fn toggle_keyboard(&mut self) {
        self.keyboard = match self.keyboard {
            None => Some(HeldKeys::default()),
            Some(_) => None,
        };
    }

    /// Does what an entry of the menu, or a row of the list of keys, stands for.
    pub(crate) fn act(&mut self, action: KeyAction) {
        match action {
            KeyAction::Session(command) => self.ask(command),
            KeyAction::View(command) => self.view(command),
        }
    }

    /// Does what a key or a button asks of the window.
    pub(crate) fn view(&mut self, command: ViewCommand) {
        match command {
            ViewCommand::Help => self.help = !self.help,
            ViewCommand::Theme => self.theme = self.theme.other(),
            ViewCommand::Zoom => self.twice = !self.twice,
            ViewCommand::Fit => self.fit = self.fit.other(),
            ViewCommand::Left => {
                self.sides.left = !self.shown.left;
                self.left_first |= self.sides.left;
            }
            ViewCommand::Right => {
                self.sides.right = !self.shown.right;
                self.left_first &= !self.sides.right;
            }
            ViewCommand::Jump => self.fields.begin_jump(),
            ViewCommand::Open => self.open_asked = true,
            ViewCommand::Value => self.fields.begin_value(),
            ViewCommand::SaveWindow => self.requests.push(HostRequest::SaveWindow),
            ViewCommand::Close => {}
            ViewCommand::OtherUntil => {
                let here = StopCondition::ALL.iter().position(|until| until.words() == self.until.words()).unwrap_or(0);
                self.until = StopCondition::ALL[(here + 1) % StopCondition::ALL.len()];
            }
            ViewCommand::Keyboard => self.toggle_keyboard(),
            ViewCommand::Magnifier => self.magnifier = !self.magnifier,
            ViewCommand::Closer => self.closer_look.closer(2.0, egui::Vec2::ZERO),
            ViewCommand::Farther => self.closer_look.closer(0.5, egui::Vec2::ZERO),
            ViewCommand::Pan(right, down) => {
                let room = self.canvas_layout.map_or(egui::Vec2::ZERO, |layout| layout.rect.size());
                let step = room / self.closer_look.times() / PAN_STEPS;
                // What lies at the right is seen by moving the picture to the left.
                self.closer_look.move_by(-egui::vec2(f32::from(right), f32::from(down)) * step);
            }
            ViewCommand::FilterRegisters => {
                self.sides.right = true;
                self.left_first &= self.shown.right;
                self.register_filter.ask();
            }
            ViewCommand::ChangedRegisters => {
                self.register_filter.changed_only = !self.register_filter.changed_only;
            }
            ViewCommand::FitQuirk => self.quirk_list = Some(QuirkList::built_in()),
            ViewCommand::Cursor => self.stops.ask(),
            ViewCommand::Strip => sweep::next_strip(self),
            ViewCommand::ContextMenu => self.menu_key.ask(),
            ViewCommand::RunUntilChosen => self.commands.push(Command::RunUntil(self.until)),
        }
    }

    /// Its colours.
    pub(crate) fn colours(&self) -> theme::Colours {
        self.theme.colours()
    }
}
