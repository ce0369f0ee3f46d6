//! The map under the board drawing: the canvas, its mouse and keys, and what is drawn on it in which order.

pub mod furniture;
pub mod outline;
pub mod overlay;
mod patterns;
pub mod readout;
pub mod texture;
pub mod view;

use egui::{Color32, Rect, Sense, Ui, WidgetInfo, pos2, vec2};

use self::{
    texture::{MapTexture, Shown},
    view::{MapView, UiFromImage, zoom_asked},
};
use super::{
    command::Command,
    screen::{Layer, Screen},
    session::{Session, TakeView},
    words,
};
use crate::theme::{Palette, SPACE};

/// What a map was asked for.
#[derive(Debug)]
pub struct Pointed {
    /// From picture points to the screen, for further marks.
    pub map: UiFromImage,
    /// Where a click was, in picture points.
    pub clicked_px: Option<[f64; 2]>,
    /// Where it was drawn.
    pub canvas: Rect,
    /// Whether it has the keyboard's focus.
    pub focused: bool,
}

/// Draws the map on what is left of the region.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    view: &TakeView,
    screen: &mut Screen,
    textures: &mut [MapTexture; 2],
    out: &mut Vec<Command>,
) -> Pointed {
    let canvas = ui.available_rect_before_wrap();
    screen.canvas = Some(canvas);
    let shape = view.take.stack.shape();
    let response = ui.allocate_rect(canvas, Sense::click_and_drag());
    let label = format!(
        "Map: {} of take {}, {} by {} pixels",
        screen.layer.words(),
        view.take.name,
        shape.width_px,
        shape.height_px
    );
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));

    let mut at = screen.map.unwrap_or_else(|| MapView::fit(shape, canvas.size()));
    let mut moved = false;
    if response.dragged() {
        at.pan(response.drag_delta(), shape);
        moved = true;
    }
    let pointer = response.hover_pos().or_else(|| ui.input(|i| i.pointer.hover_pos()).filter(|p| canvas.contains(*p)));
    if let Some(pointer) = pointer.filter(|_| response.contains_pointer()) {
        let factor = zoom_asked(ui);
        if (factor - 1.0).abs() > 1e-4 {
            at.zoom(factor, pointer, canvas, shape);
            moved = true;
        }
        if response.double_clicked() {
            at.centre_px = UiFromImage::new(&at, canvas).to_image(pointer);
            at.keep_in(shape);
            moved = true;
        }
    }
    if moved {
        screen.map = Some(at);
    }
    let map = UiFromImage::new(&at, canvas);
    let pointer_px = pointer.filter(|_| response.contains_pointer()).map(|p| map.to_image(p));
    if pointer_px.is_some() {
        screen.pointer_px = pointer_px;
    }

    let [texture, upper] = textures;
    texture.update(ui.ctx(), view, Shown::of(screen, view));
    let painter = ui.painter_at(canvas);
    painter.rect_filled(canvas, 0.0, Palette::of(ui).canvas);
    if let Some(handle) = texture.handle() {
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        painter.image(handle.id(), map.picture(shape), whole, Color32::WHITE);
        if let Some(shown) = Shown::above(screen, view) {
            upper.update(ui.ctx(), view, shown);
            if let Some(handle) = upper.handle() {
                painter.image(handle.id(), map.picture(shape), whole, Color32::WHITE);
            }
        }
        patterns::crosses(&painter, texture, shape, map);
    }

    let part_under = pointer_px.and_then(|p| part_at(view, p)).map(str::to_owned);
    if part_under.is_some() {
        screen.hover_next.part.clone_from(&part_under);
    }
    if let Some(part) = part_under.as_ref().and_then(|name| session.board.part(name)).map(|(_, part)| part)
        && !response.dragged()
    {
        response.clone().on_hover_ui_at_pointer(|ui| super::drawing::reading::part(ui, session, part));
    }
    if response.clicked()
        && let Some(part) = part_under
    {
        out.push(Command::SelectPart(part));
    }

    overlay::board(&painter, session, view, screen, map);
    overlay::suspects(ui, &painter, view, screen, map, out);
    overlay::spots(ui, &painter, view, screen, map, out);
    furniture::scale_bar(&painter, canvas, view, &at);
    furniture::colour_bar(ui, canvas, view, screen);
    patterns::legend(ui, canvas, view, screen.layer, texture);
    if response.has_focus() {
        let ring = egui::Stroke::new(2.0, Palette::of(ui).accent);
        painter.rect_stroke(canvas.shrink(1.0), 0.0, ring, egui::StrokeKind::Inside);
    }
    if screen.layer.needs_answer() && view.located.is_none() {
        not_there_yet(ui, canvas, screen.layer, out);
    }
    let clicked = response.interact_pointer_pos().filter(|_| response.clicked());
    Pointed { map, clicked_px: clicked.map(|p| map.to_image(p)), canvas, focused: response.has_focus() }
}

/// Text on its own dark ground, over a map.
pub(super) fn overlay_text(painter: &egui::Painter, at: egui::Pos2, words: &str) {
    // Near the right border it goes to the other side of its mark.
    let left = at.x + 7.0 * words.len() as f32 > painter.clip_rect().max.x;
    let (at, align) =
        if left { (at - vec2(16.0, 0.0), egui::Align2::RIGHT_BOTTOM) } else { (at, egui::Align2::LEFT_BOTTOM) };
    overlay::text(painter, at, align, words, crate::theme::OVER_MAP);
}

/// The part under a picture point.
fn part_at(view: &TakeView, [x_px, y_px]: [f64; 2]) -> Option<&str> {
    let mm = view.alignment.as_ref()?.to_board(nalgebra::Point2::new(x_px, y_px));
    view.drawn.part_at(mm.x, mm.y).map(|p| p.designator.as_str())
}

/// Says that a layer needs an answer first, and offers to get it.
fn not_there_yet(ui: &mut Ui, canvas: Rect, layer: Layer, out: &mut Vec<Command>) {
    let place = Rect::from_center_size(canvas.center(), vec2(canvas.width().min(360.0), 76.0));
    ui.painter().rect_filled(place, 4.0, Palette::of(ui).panel);
    ui.scope_builder(egui::UiBuilder::new().max_rect(place.shrink(SPACE)), |ui| {
        ui.vertical_centered(|ui| {
            ui.label(format!("{} appears once the take is located.", layer.words()));
            ui.add_space(SPACE);
            if ui.button("Locate this take").clicked() {
                out.push(Command::Locate);
            }
        });
    });
}

/// Zooms so that a part fills a fair share of the canvas.
pub fn zoom_to_part(view: &TakeView, designator: &str, canvas: Rect) -> Option<MapView> {
    let part = view.drawn.part(designator)?;
    let xs = part.corners_px.map(|c| c[0]);
    let ys = part.corners_px.map(|c| c[1]);
    let span = |v: [f64; 4]| v.iter().copied().fold(f64::MIN, f64::max) - v.iter().copied().fold(f64::MAX, f64::min);
    let across = span(xs).max(span(ys)).max(4.0) as f32;
    let shape = view.take.stack.shape();
    let fitted = MapView::fit(shape, canvas.size()).points_per_px;
    let mut at =
        MapView { centre_px: part.centre_px, points_per_px: (canvas.size().min_elem() / (8.0 * across)).max(fitted) };
    at.keep_in(shape);
    Some(at)
}

/// A hot spot, as read aloud.
pub fn spot_label(view: &TakeView, spot: usize) -> String {
    let rise = view.located.as_ref().and_then(|l| l.hot_spots.get(spot)).map(|s| s.rise);
    rise.map_or_else(String::new, |rise| {
        format!("Hot spot {}, {}", spot + 1, words::with_doubt_aloud(rise.end, rise.end_se, view.take.unit))
    })
}
