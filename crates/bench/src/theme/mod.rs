//! Every colour, text size and distance of the window, for a dark and a light bench. Views take them from here only.

pub mod ramp;
pub mod scales;

use egui::{
    Color32, Context, CornerRadius, FontData, FontFamily, FontId, Margin, Shadow, Stroke, Style, TextStyle, Ui, Vec2,
    epaint::text::{FontInsert, FontPriority, InsertFontFamily},
    vec2,
};

use crate::report::typeface;

/// Distance between neighbours; larger distances are multiples of it.
pub const SPACE: f32 = 8.0;
/// Small text: reasons, units, axis labels.
pub const SMALL: f32 = 12.5;
/// Body text.
pub const BODY: f32 = 14.5;
/// The limits card's figures.
pub const LARGE: f32 = 22.0;
/// Below this width the stages fold and the strip gets half its height.
pub const NARROW_WIDTH: f32 = 1100.0;
/// The regular font of reports, within the window.
const REPORT: &str = "report";
/// The bold one.
const REPORT_BOLD: &str = "report bold";
/// Radius of every corner.
const CORNER: u8 = 3;

/// The colours of one theme. Text colours have a contrast of at least 4.5:1 on every surface that carries text
/// (WCAG 2.2, success criterion 1.4.3), see the test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Palette {
    /// Behind the map.
    pub canvas: Color32,
    /// Bars and columns.
    pub panel: Color32,
    /// Buttons, fields, dialogs.
    pub raised: Color32,
    /// Under the pointer.
    pub hovered: Color32,
    /// Lines between regions.
    pub hairline: Color32,
    /// Text.
    pub text: Color32,
    /// Text of lesser weight.
    pub weak: Color32,
    /// The one accent: selection, links, progress.
    pub accent: Color32,
    /// Surface of what is selected; carries `text`.
    pub selected: Color32,
    /// Text of cautions and warnings.
    pub caution: Color32,
    /// Text of refusals and errors.
    pub refusal: Color32,
    /// Volts in the time strip.
    pub volts: Color32,
    /// Amps in the time strip.
    pub amps: Color32,
    /// Surface of the injected span in the time strip.
    pub injecting: Color32,
}

/// For a dark bench.
pub const DARK: Palette = Palette {
    canvas: Color32::from_rgb(0x10, 0x12, 0x14),
    panel: Color32::from_rgb(0x1A, 0x1D, 0x20),
    raised: Color32::from_rgb(0x27, 0x2C, 0x31),
    hovered: Color32::from_rgb(0x32, 0x38, 0x3F),
    hairline: Color32::from_rgb(0x3A, 0x41, 0x48),
    text: Color32::from_rgb(0xEC, 0xEE, 0xF0),
    weak: Color32::from_rgb(0xB4, 0xBC, 0xC4),
    accent: Color32::from_rgb(0x5C, 0xD0, 0xBE),
    selected: Color32::from_rgb(0x1F, 0x4A, 0x46),
    caution: Color32::from_rgb(0xF2, 0xB8, 0x4B),
    refusal: Color32::from_rgb(0xFF, 0x9E, 0x91),
    volts: Color32::from_rgb(0x8F, 0xBC, 0xF2),
    amps: Color32::from_rgb(0xF2, 0xB8, 0x4B),
    injecting: Color32::from_rgb(0x22, 0x2F, 0x33),
};

/// For a light bench.
pub const LIGHT: Palette = Palette {
    canvas: Color32::from_rgb(0xE3, 0xE6, 0xE8),
    panel: Color32::from_rgb(0xFB, 0xFB, 0xFA),
    raised: Color32::from_rgb(0xEC, 0xEE, 0xF0),
    hovered: Color32::from_rgb(0xDD, 0xE2, 0xE6),
    hairline: Color32::from_rgb(0xC8, 0xCE, 0xD3),
    text: Color32::from_rgb(0x1A, 0x1D, 0x20),
    weak: Color32::from_rgb(0x4C, 0x55, 0x5D),
    accent: Color32::from_rgb(0x00, 0x69, 0x5C),
    selected: Color32::from_rgb(0xCD, 0xE9, 0xE4),
    caution: Color32::from_rgb(0x7A, 0x4D, 0x00),
    refusal: Color32::from_rgb(0xA8, 0x1E, 0x14),
    volts: Color32::from_rgb(0x1D, 0x55, 0x9E),
    amps: Color32::from_rgb(0x8A, 0x55, 0x00),
    injecting: Color32::from_rgb(0xE4, 0xEF, 0xED),
};

/// Lines drawn over a map, whose colours are not known: light on a dark halo.
pub const OVER_MAP: Color32 = Color32::WHITE;
/// The halo under [`OVER_MAP`].
pub const HALO: Color32 = Color32::from_rgba_premultiplied(0, 0, 0, 190);
/// A suspected part over a map: readable on every open scale thanks to its halo.
pub const SUSPECT_OVER_MAP: Color32 = Color32::from_rgb(0x7D, 0xF5, 0xE3);

impl Palette {
    /// The palette of the theme in force.
    pub fn of(ui: &Ui) -> &'static Self {
        if ui.visuals().dark_mode { &DARK } else { &LIGHT }
    }
}

/// Sets both themes up. Call once, before the first frame.
pub fn install(ctx: &Context) {
    for (name, bytes) in [(REPORT, typeface::REGULAR), (REPORT_BOLD, typeface::BOLD)] {
        let family = InsertFontFamily { family: FontFamily::Name(name.into()), priority: FontPriority::Highest };
        ctx.add_font(FontInsert::new(name, FontData::from_static(bytes), vec![family]));
    }
    ctx.style_mut_of(egui::Theme::Dark, |style| dress(style, &DARK));
    ctx.style_mut_of(egui::Theme::Light, |style| dress(style, &LIGHT));
}

/// The card's figures.
pub fn large() -> FontId {
    FontId::proportional(LARGE)
}

/// A font of reports, so that words on a picture take the room on the screen that was reckoned for them.
pub fn report(size: f32, bold: bool) -> FontId {
    FontId::new(size, FontFamily::Name(if bold { REPORT_BOLD } else { REPORT }.into()))
}

/// Small text.
pub fn small() -> FontId {
    FontId::proportional(SMALL)
}

/// Body text.
pub fn body() -> FontId {
    FontId::proportional(BODY)
}

/// Margin within bars and columns.
pub fn margin() -> Margin {
    Margin::symmetric(12, 8)
}

fn dress(style: &mut Style, p: &Palette) {
    style.text_styles = [
        (TextStyle::Small, small()),
        (TextStyle::Body, body()),
        (TextStyle::Button, body()),
        (TextStyle::Heading, large()),
        (TextStyle::Monospace, FontId::monospace(SMALL)),
    ]
    .into();
    let spacing = &mut style.spacing;
    spacing.item_spacing = vec2(SPACE, SPACE / 2.0);
    spacing.button_padding = vec2(SPACE, 3.0);
    spacing.interact_size = vec2(40.0, 24.0);
    spacing.window_margin = Margin::same(16);
    spacing.menu_margin = Margin::same(8);
    spacing.tooltip_width = 360.0;
    let v = &mut style.visuals;
    v.override_text_color = Some(p.text);
    v.weak_text_color = Some(p.weak);
    v.hyperlink_color = p.accent;
    v.faint_bg_color = p.raised;
    v.extreme_bg_color = p.panel;
    v.text_edit_bg_color = Some(p.raised);
    v.code_bg_color = p.raised;
    v.warn_fg_color = p.caution;
    v.error_fg_color = p.refusal;
    v.panel_fill = p.panel;
    v.window_fill = p.panel;
    v.window_stroke = Stroke::new(1.0, p.hairline);
    v.window_corner_radius = CornerRadius::same(CORNER + 1);
    v.menu_corner_radius = CornerRadius::same(CORNER);
    v.window_shadow = Shadow { offset: [0, 4], blur: 16, spread: 0, color: Color32::from_black_alpha(80) };
    v.popup_shadow = Shadow { offset: [0, 2], blur: 8, spread: 0, color: Color32::from_black_alpha(60) };
    v.selection.bg_fill = p.selected;
    v.selection.stroke = Stroke::new(1.5, p.text);
    v.disabled_alpha = 0.7;
    v.slider_trailing_fill = true;
    let corner = CornerRadius::same(CORNER);
    let w = &mut v.widgets;
    for (state, fill, line) in [
        (&mut w.noninteractive, p.panel, p.hairline),
        (&mut w.inactive, p.raised, p.hairline),
        (&mut w.hovered, p.hovered, p.weak),
        (&mut w.active, p.hovered, p.accent),
        (&mut w.open, p.raised, p.weak),
    ] {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::new(1.0, line);
        state.fg_stroke = Stroke::new(1.0, p.text);
        state.corner_radius = corner;
        state.expansion = 0.0;
    }
    // Keyboard focus is drawn with the active or hovered stroke: make it the accent, and heavy enough to see.
    w.hovered.bg_stroke = Stroke::new(1.0, p.weak);
    w.active.bg_stroke = Stroke::new(2.0, p.accent);
}

/// A heading within a column: small, strong, spaced.
pub fn section(ui: &mut Ui, text: impl Into<String>) -> egui::Response {
    let text = text.into();
    ui.add(egui::Label::new(egui::RichText::new(text).size(SMALL).color(Palette::of(ui).weak)).selectable(false))
}

/// A hairline across the column, with breathing space.
pub fn hairline(ui: &mut Ui) {
    ui.add_space(SPACE / 2.0);
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), 1.0), egui::Sense::hover());
    ui.painter().hline(rect.x_range(), rect.center().y, Stroke::new(1.0, Palette::of(ui).hairline));
    ui.add_space(SPACE / 2.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast as defined in WCAG 2.2.
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let channel = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * channel(c.r()) + 0.7152 * channel(c.g()) + 0.0722 * channel(c.b())
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn contrast_of_black_on_white_is_the_published_21() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn every_text_colour_reads_on_every_surface() {
        for (name, p) in [("dark", DARK), ("light", LIGHT)] {
            let surfaces = [p.panel, p.raised, p.hovered, p.selected, p.injecting, p.canvas];
            for text in [p.text, p.weak, p.accent, p.caution, p.refusal, p.volts, p.amps] {
                for surface in surfaces {
                    let c = contrast(text, surface);
                    assert!(c >= 4.5, "{name}: {text:?} on {surface:?} has {c:.2}");
                }
            }
        }
        // Text over a map sits on the halo, the least dark ground being the halo over white.
        let halo_over_white = Color32::from_gray(65);
        for text in [OVER_MAP, SUSPECT_OVER_MAP] {
            assert!(contrast(text, halo_over_white) >= 4.5);
        }
    }
}
