//! Theme: colours, text sizes, and the shapes of the verdicts.
//!
//! Each verdict has a word, a colour and a shape (ring, half square, cross),
//! the same as on contact sheets, so that they need not be told apart by colour.

use backporch_analysis::Verdict;
use egui::{Color32, CornerRadius, FontFamily, FontId, Rect, RichText, Stroke, TextStyle, Ui, Vec2, pos2, vec2};

/// Light or dark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// Light text on a dark ground.
    #[default]
    Dark,
    /// Dark text on a light ground.
    Light,
}

impl Theme {
    /// The other one.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Dark => Self::Light,
            Self::Light => Self::Dark,
        }
    }

    /// Its colours.
    #[must_use]
    pub fn colours(self) -> Colours {
        let rgb = Color32::from_rgb;
        match self {
            Self::Dark => Colours {
                ground: rgb(20, 22, 27),
                panel: rgb(29, 32, 39),
                raised: rgb(42, 46, 56),
                rule: rgb(58, 63, 75),
                outline: rgb(114, 120, 134),
                ink: rgb(228, 229, 224),
                faint: rgb(150, 156, 168),
                accent: rgb(160, 152, 255),
                clean: rgb(92, 172, 206),
                edge: rgb(250, 204, 84),
                broken: rgb(240, 104, 160),
                well: rgb(11, 12, 15),
            },
            Self::Light => Colours {
                ground: rgb(232, 230, 224),
                panel: rgb(246, 245, 241),
                raised: rgb(226, 224, 217),
                rule: rgb(204, 201, 192),
                outline: rgb(128, 126, 118),
                ink: rgb(32, 34, 40),
                faint: rgb(98, 101, 110),
                accent: rgb(84, 70, 196),
                clean: rgb(20, 100, 138),
                edge: rgb(140, 92, 0),
                broken: rgb(182, 28, 98),
                well: rgb(60, 61, 66),
            },
        }
    }
}

/// The few colours there are.
#[derive(Clone, Copy, Debug)]
pub struct Colours {
    /// Between panels.
    pub ground: Color32,
    /// Behind what belongs together.
    pub panel: Color32,
    /// Behind what can be pressed or edited.
    pub raised: Color32,
    /// Lines that part one thing from another.
    pub rule: Color32,
    /// Round what can be pressed or edited.
    pub outline: Color32,
    /// Text.
    pub ink: Color32,
    /// Text of lesser weight.
    pub faint: Color32,
    /// What is active, chosen or pointed at.
    pub accent: Color32,
    /// Clean.
    pub clean: Color32,
    /// Edge-damaged, and what differs from start-up.
    pub edge: Color32,
    /// Broken, and errors.
    pub broken: Color32,
    /// Behind pictures.
    pub well: Color32,
}

impl Colours {
    /// The colour of a verdict.
    #[must_use]
    pub fn of(&self, verdict: Verdict) -> Color32 {
        match verdict {
            Verdict::Clean => self.clean,
            Verdict::EdgeDamaged => self.edge,
            Verdict::Broken => self.broken,
        }
    }
}

/// Points of small and of plain text.
const SMALL: f32 = 12.0;
const PLAIN: f32 = 13.0;
/// Points of what is to be read from a distance.
pub(crate) const LARGE: f32 = 22.0;

/// Sets colours, sizes and spacing of everything.
pub(crate) fn apply_theme(ctx: &egui::Context, theme: Theme) {
    let colours = theme.colours();
    let mut visuals = match theme {
        Theme::Dark => egui::Visuals::dark(),
        Theme::Light => egui::Visuals::light(),
    };
    // A window at rest stays at rest while a field is open.
    visuals.text_cursor.blink = false;
    let corners = CornerRadius::same(3);
    visuals.panel_fill = colours.panel;
    visuals.window_fill = colours.panel;
    visuals.window_stroke = Stroke::new(1.0, colours.rule);
    visuals.extreme_bg_color = colours.ground;
    visuals.faint_bg_color = colours.raised.gamma_multiply(0.45);
    visuals.override_text_color = Some(colours.ink);
    visuals.hyperlink_color = colours.accent;
    visuals.selection.bg_fill = colours.accent.gamma_multiply(0.35);
    visuals.selection.stroke = Stroke::new(1.0, colours.accent);
    let widgets = &mut visuals.widgets;
    for (state, fill, stroke) in [
        (&mut widgets.noninteractive, colours.panel, colours.rule),
        (&mut widgets.inactive, colours.raised, colours.outline),
        (&mut widgets.hovered, colours.raised, colours.ink),
        (&mut widgets.active, colours.raised, colours.accent),
        (&mut widgets.open, colours.raised, colours.accent),
    ] {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::new(1.0, stroke);
        state.fg_stroke = Stroke::new(1.0, colours.ink);
        state.corner_radius = corners;
        state.expansion = 0.0;
    }
    let theme = match theme {
        Theme::Dark => egui::Theme::Dark,
        Theme::Light => egui::Theme::Light,
    };
    ctx.set_theme(theme);
    ctx.set_visuals_of(theme, visuals);
    ctx.all_styles_mut(|style| {
        style.spacing.item_spacing = vec2(6.0, 4.0);
        style.spacing.button_padding = vec2(8.0, 3.0);
        style.spacing.interact_size.y = 22.0;
        style.spacing.slider_width = 110.0;
        style.spacing.scroll = egui::style::ScrollStyle::thin();
        style.animation_time = 0.0;
        style.text_styles = [
            (TextStyle::Small, FontId::new(SMALL, FontFamily::Proportional)),
            (TextStyle::Body, FontId::new(PLAIN, FontFamily::Proportional)),
            (TextStyle::Button, FontId::new(PLAIN, FontFamily::Proportional)),
            (TextStyle::Heading, FontId::new(LARGE, FontFamily::Proportional)),
            (TextStyle::Monospace, FontId::new(12.5, FontFamily::Monospace)),
        ]
        .into();
    });
}

/// The name of a group of things, with a rule to the panel's edge.
pub(crate) fn heading(ui: &mut Ui, colours: &Colours, words: &str) {
    ui.add_space(5.0);
    ui.horizontal(|ui| {
        ui.label(RichText::new(words).small().strong().color(colours.accent));
        let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width().max(0.0), 12.0), egui::Sense::hover());
        ui.painter().hline(rect.x_range(), rect.center().y, Stroke::new(1.0, colours.rule));
    });
    ui.add_space(1.0);
}

/// Text of lesser weight.
pub(crate) fn secondary(colours: &Colours, words: impl Into<String>) -> RichText {
    RichText::new(words).small().color(colours.faint)
}

/// Figures, all of one width.
pub(crate) fn monospace(words: impl Into<String>) -> RichText {
    RichText::new(words).monospace()
}

/// Draws a verdict's shape into a square: ring, half square, or cross.
pub(crate) fn shape(painter: &egui::Painter, square: Rect, verdict: Verdict, colour: Color32) {
    let inner = square.shrink(square.width() * 0.14);
    let line = Stroke::new((square.width() * 0.16).max(1.5), colour);
    match verdict {
        Verdict::Clean => {
            painter.circle_stroke(inner.center(), inner.width() * 0.44, line);
        }
        Verdict::EdgeDamaged => {
            painter.rect_stroke(inner, CornerRadius::ZERO, Stroke::new(1.5, colour), egui::StrokeKind::Inside);
            let right = Rect::from_min_max(pos2(inner.center().x, inner.top()), inner.max);
            painter.rect_filled(right, CornerRadius::ZERO, colour);
        }
        Verdict::Broken => {
            painter.line_segment([inner.left_top(), inner.right_bottom()], line);
            painter.line_segment([inner.right_top(), inner.left_bottom()], line);
        }
    }
}

/// Takes room for a verdict's shape and draws it, with its word for screen readers.
pub(crate) fn mark(ui: &mut Ui, colours: &Colours, verdict: Verdict, side: f32) {
    let (rect, response) = ui.allocate_exact_size(Vec2::splat(side), egui::Sense::hover());
    shape(ui.painter(), rect, verdict, colours.of(verdict));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Label, true, verdict.word()));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast of two colours, from 1 to 21 (relative luminance as in Web Content Accessibility Guidelines 2.2).
    fn contrast(one: Color32, other: Color32) -> f64 {
        let linear = |level: u8| match f64::from(level) / 255.0 {
            level if level <= 0.04045 => level / 12.92,
            level => ((level + 0.055) / 1.055).powf(2.4),
        };
        let luminance = |colour: Color32| {
            0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b()) + 0.05
        };
        let (one, other) = (luminance(one), luminance(other));
        one.max(other) / one.min(other)
    }

    #[test]
    fn letters_and_what_can_be_pressed_stand_out() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        for theme in [Theme::Dark, Theme::Light] {
            let colours = theme.colours();
            for ground in [colours.panel, colours.ground] {
                // Success criterion 1.4.11: what marks a control against what lies beside it.
                for mark in [colours.outline, colours.accent] {
                    assert!(contrast(mark, ground) >= 3.0, "{theme:?}: {mark:?} on {ground:?}");
                }
                // Success criterion 1.4.3: letters.
                for ink in [colours.ink, colours.faint, colours.accent, colours.clean, colours.edge, colours.broken] {
                    assert!(
                        contrast(ink, ground) >= 4.5,
                        "{theme:?}: {ink:?} on {ground:?}: {}",
                        contrast(ink, ground)
                    );
                }
            }
        }
    }
}
