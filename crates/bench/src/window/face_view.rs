//! A face of the drawing to look at and to point on, in millimetres: for stages that have no picture.

use egui::{Color32, Rect, Sense, Stroke, Ui, WidgetInfo};
use joulemark_locate::board::{Face, Part};

use super::{
    command::Command,
    drawing::{
        Drawing, marks, reading,
        view::{DrawingView, UiFromBoard},
    },
    map::view::{around, zoom_asked},
    screen::Screen,
    session::Session,
};
use crate::theme::Palette;

/// Parts are at least this large to the pointer, in points.
const LEAST_TARGET: f32 = 8.0;

/// What a face was asked for.
#[derive(Debug)]
pub struct Shown {
    /// From millimetres to the screen, for further marks.
    pub map: UiFromBoard,
    /// Where a click was, in millimetres of the face.
    pub clicked_mm: Option<[f64; 2]>,
    /// Where it was drawn.
    pub canvas: Rect,
    /// Whether it has the keyboard's focus.
    pub focused: bool,
}

/// Draws a face on what is left of the region. Parts of the lit rail carry a cross. With `points`, clicks are points on
/// the face; without, they select parts.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    face: &Face,
    screen: &mut Screen,
    rail: Option<&str>,
    points: bool,
    out: &mut Vec<Command>,
) -> Shown {
    let canvas = ui.available_rect_before_wrap();
    let response = ui.allocate_rect(canvas, Sense::click_and_drag());
    let label = format!("Drawing of {}", face.name);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
    let key = (face.name.clone(), session.serial);
    let kept = screen.face_view.as_ref().filter(|(k, _)| *k == key).map(|(_, view)| *view);
    let mut view = kept.unwrap_or_else(|| DrawingView::fit(Some(face), canvas.size()));
    let before = view;
    if response.dragged() {
        view.pan(response.drag_delta());
    }
    let pointer = ui.input(|i| i.pointer.hover_pos()).filter(|p| canvas.contains(*p));
    if let Some(pointer) = pointer.filter(|p| ui.ctx().layer_id_at(*p).is_none_or(|l| l == ui.layer_id())) {
        let factor = zoom_asked(ui);
        if (factor - 1.0).abs() > 1e-4 {
            view.zoom(factor, pointer, canvas);
        }
    }
    if view != before {
        screen.face_view = Some((key, view));
    }
    let map = UiFromBoard::new(&view, canvas);
    let painter = ui.painter_at(canvas);
    // The same dark ground in both themes, as on the drawing bench: lines and names need it.
    painter.rect_filled(canvas, 0.0, Color32::from_gray(54));
    let mut drawing = Drawing::new(&face.name);
    let lit = screen.hover.part.clone().or_else(|| screen.selection.part.clone());
    drawing.selected.extend(lit);
    marks::face(&painter, &session.board, face, &drawing, map, rail, None);
    parts(ui, canvas, session, face, screen, map, points, out);
    if response.has_focus() {
        let ring = Stroke::new(2.0, Palette::of(ui).accent);
        ui.painter().rect_stroke(canvas.shrink(1.0), 0.0, ring, egui::StrokeKind::Inside);
    }
    let clicked = response.interact_pointer_pos().filter(|_| points && response.clicked());
    Shown { map, clicked_mm: clicked.map(|p| map.to_mm(p)), canvas, focused: response.has_focus() }
}

#[expect(clippy::too_many_arguments, reason = "one call, to keep the list of parts apart from the canvas")]
fn parts(
    ui: &Ui,
    canvas: Rect,
    session: &Session,
    face: &Face,
    screen: &mut Screen,
    map: UiFromBoard,
    points: bool,
    out: &mut Vec<Command>,
) {
    let mut order: Vec<&Part> = face.parts.iter().collect();
    // Small parts last, so that they are found on top.
    order.sort_by(|a, b| (b.width_mm * b.height_mm).total_cmp(&(a.width_mm * a.height_mm)));
    for part in order {
        let rect = around(&marks::corners(part, map), LEAST_TARGET);
        if !rect.intersects(canvas) {
            continue;
        }
        let id = ui.scope_id().with(("face view", &part.designator));
        let sense = if points { Sense::hover() } else { Sense::click() };
        let response = ui.interact(rect.intersect(canvas), id, sense);
        response.widget_info(|| {
            let on = if part.rails.is_empty() { "no rail".to_owned() } else { part.rails.join(", ") };
            let words = format!("Part {}, {}, on {on}", part.designator, part.kind.words());
            WidgetInfo::selected(egui::Role::ListBoxOption, true, screen.part_selected(&part.designator), words)
        });
        if response.clicked() {
            out.push(Command::SelectPart(part.designator.clone()));
        }
        if response.hovered() {
            screen.hover_next.part = Some(part.designator.clone());
            response.on_hover_ui(|ui| reading::part(ui, session, part));
        }
    }
}
