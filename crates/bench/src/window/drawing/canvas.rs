//! The canvas of the drawing bench: mouse, zoom, and every part in the accessibility tree.

use egui::{Color32, PointerButton, Rect, Sense, Shape, Stroke, Ui, WidgetInfo, vec2};
use joulemark_locate::board::{Board, Part};

use super::{
    super::{
        command::Command,
        document::Edit,
        map::{furniture, overlay, view::zoom_asked},
        screen::Screen,
        session::Session,
    },
    Draw, Drawing, Tool, gesture, marks,
    photo::Underlay,
    reading,
    view::{DrawingView, UiFromBoard},
};
use crate::theme::{OVER_MAP, Palette, SPACE};

/// Parts are at least this large to the pointer, in points.
const LEAST_TARGET: f32 = 6.0;
/// Grid lines stand at least this far apart, in points.
const GRID_POINTS: f32 = 12.0;

/// Draws the canvas on what is left of the region.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    drawing: &mut Drawing,
    screen: &mut Screen,
    underlay: &mut Underlay,
    out: &mut Vec<Command>,
) {
    let board = &*session.board;
    let canvas = ui.available_rect_before_wrap();
    drawing.canvas = Some(canvas);
    let response = ui.allocate_rect(canvas, Sense::click_and_drag());
    let label = format!("Drawing of {}: {}", drawing.face, drawing.tool.sentence());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
    let mut view = drawing.view.unwrap_or_else(|| DrawingView::fit(drawing.face(board), canvas.size()));
    // The pointer rests on parts too: what counts is that nothing else covers the canvas there.
    let pointer = ui.input(|i| i.pointer.hover_pos()).filter(|p| canvas.contains(*p));
    let over = pointer.filter(|p| ui.ctx().layer_id_at(*p).is_none_or(|l| l == ui.layer_id()));
    if let Some(pointer) = over {
        let factor = zoom_asked(ui);
        if (factor - 1.0).abs() > 1e-4 {
            view.zoom(factor, pointer, canvas);
            drawing.view = Some(view);
        }
    }
    let map = UiFromBoard::new(&view, canvas);
    let mut edit = None;
    let add = ui.input(|i| i.modifiers.shift || i.modifiers.command);
    if response.drag_started() {
        // Where the button went down, not where the pointer has got to since.
        let from = ui.input(|i| i.pointer.press_origin()).or(response.interact_pointer_pos());
        if let Some(from) = from {
            let pans =
                response.drag_started_by(PointerButton::Middle) || response.drag_started_by(PointerButton::Secondary);
            gesture::start(board, drawing, map.to_mm(from), pans, add);
        }
    }
    if response.dragged() {
        if drawing.gesture == Some(gesture::Gesture::Pan) {
            view.pan(response.drag_delta());
            drawing.view = Some(view);
        } else if let Some(at) = response.interact_pointer_pos() {
            gesture::follow(drawing, map.to_mm(at));
        }
    }
    if response.drag_stopped() {
        if let Some(at) = response.interact_pointer_pos() {
            gesture::follow(drawing, map.to_mm(at));
        }
        // What is drawn next must not shift the view under the hand.
        drawing.view = Some(view);
        edit = gesture::end(board, drawing, map);
    } else if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        drawing.view = Some(view);
        edit = gesture::click(board, drawing, map.to_mm(at), map, add);
    }
    paint(ui, canvas, board, drawing, screen, underlay, map, over);
    edit = edit.or_else(|| parts(ui, canvas, session, drawing, screen, map, out));
    if let Some(edit) = edit {
        out.push(Command::Edit(Edit::Board(edit)));
    }
    if response.has_focus() {
        let ring = Stroke::new(2.0, Palette::of(ui).accent);
        ui.painter().rect_stroke(canvas.shrink(1.0), 0.0, ring, egui::StrokeKind::Inside);
    }
    first_steps(ui, canvas, board, drawing, out);
}

#[expect(clippy::too_many_arguments, reason = "one call, to keep painting apart from the hands")]
fn paint(
    ui: &Ui,
    canvas: Rect,
    board: &Board,
    drawing: &Drawing,
    screen: &Screen,
    underlay: &mut Underlay,
    map: UiFromBoard,
    pointer: Option<egui::Pos2>,
) {
    let painter = ui.painter_at(canvas);
    // The same dark ground in both themes: lines and names over a photo need it.
    painter.rect_filled(canvas, 0.0, Color32::from_gray(54));
    grid(&painter, canvas, map);
    let Some(face) = drawing.face(board) else {
        return;
    };
    if let Some(photo) = &face.photo
        && let Some(mesh) = underlay.mesh(ui.ctx(), photo, map)
    {
        painter.add(Shape::mesh(mesh));
    }
    let lit = screen.hover.rail.as_deref().or(drawing.rail.as_deref());
    marks::face(&painter, board, face, drawing, map, lit, screen.hover.part.as_deref());
    furniture::ruler(&painter, canvas, 1.0 / f64::from(map.points_per_mm));
    if let Some(at) = pointer {
        let [x, y] = map.to_mm(at);
        let corner = canvas.right_bottom() - vec2(2.0 * SPACE, 1.5 * SPACE);
        overlay::text(&painter, corner, egui::Align2::RIGHT_BOTTOM, &format!("{x:.2}, {y:.2} mm"), OVER_MAP);
    }
    let next = pointer.and_then(|p| gesture::preview(board, drawing, p, map));
    marks::doing(&painter, face, drawing, map, next);
}

/// Lines at round millimetres, as far apart as the eye needs.
fn grid(painter: &egui::Painter, canvas: Rect, map: UiFromBoard) {
    let Some(step) = [1.0, 5.0, 10.0, 50.0, 100.0].into_iter().find(|s| *s as f32 * map.points_per_mm >= GRID_POINTS)
    else {
        return;
    };
    let (low, high) = (map.to_mm(canvas.min), map.to_mm(canvas.max));
    let stroke = Stroke::new(1.0, Color32::from_gray(66));
    let mut x = (low[0] / step).ceil() * step;
    while x <= high[0] {
        painter.vline(map.to_ui([x, 0.0]).x, canvas.y_range(), stroke);
        x += step;
    }
    let mut y = (low[1] / step).ceil() * step;
    while y <= high[1] {
        painter.hline(canvas.x_range(), map.to_ui([0.0, y]).y, stroke);
        y += step;
    }
}

/// Names every part for assistive technology; a click on one selects it. Tools that click anywhere keep their clicks.
fn parts(
    ui: &Ui,
    canvas: Rect,
    session: &Session,
    drawing: &mut Drawing,
    screen: &mut Screen,
    map: UiFromBoard,
    out: &mut Vec<Command>,
) -> Option<super::BoardEdit> {
    let board = &*session.board;
    let selects = matches!(drawing.tool, Tool::Select | Tool::Part);
    let sense = if selects { Sense::click() } else { Sense::hover() };
    let mut order: Vec<&Part> = drawing.face(board)?.parts.iter().collect();
    // Small parts last, so that they are found on top.
    order.sort_by(|a, b| (b.width_mm * b.height_mm).total_cmp(&(a.width_mm * a.height_mm)));
    for part in order {
        let rect = super::super::map::view::around(&marks::corners(part, map), LEAST_TARGET);
        if !rect.intersects(canvas) {
            continue;
        }
        let chosen = drawing.selected.contains(&part.designator);
        let id = ui.scope_id().with(("part", &part.designator));
        let response = ui.interact(rect.intersect(canvas), id, sense);
        response.widget_info(|| {
            let on = if part.rails.is_empty() { "no rail".to_owned() } else { part.rails.join(", ") };
            let words = format!("Part {}, {}, on {on}", part.designator, part.kind.words());
            WidgetInfo::selected(egui::Role::ListBoxOption, true, chosen, words)
        });
        if response.clicked() {
            let add = ui.input(|i| i.modifiers.shift || i.modifiers.command);
            out.push(Command::Draw(Draw::Select { parts: vec![part.designator.clone()], add }));
        }
        if response.hovered() {
            screen.hover_next.part = Some(part.designator.clone());
            if drawing.gesture.is_none() {
                response.on_hover_ui(|ui| reading::part(ui, session, part));
            }
        }
    }
    None
}

/// What to do on an empty face.
fn first_steps(ui: &mut Ui, canvas: Rect, board: &Board, drawing: &Drawing, out: &mut Vec<Command>) {
    let bare = |f: &joulemark_locate::board::Face| f.photo.is_none() && f.outline.is_empty() && f.parts.is_empty();
    if !drawing.face(board).is_some_and(bare) || !drawing.points.is_empty() || drawing.gesture.is_some() {
        return;
    }
    let size = vec2(canvas.width().min(430.0), 108.0);
    let place = Rect::from_min_size(canvas.left_top() + vec2(2.0 * SPACE, 2.0 * SPACE), size);
    ui.painter().rect_filled(place, 4.0, Palette::of(ui).panel);
    let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(place.shrink(1.5 * SPACE)));
    inner.label("Take a photo of the board from straight above and put it under the drawing, or draw freely.");
    inner.add_space(SPACE / 2.0);
    inner.horizontal(|ui| {
        if ui.button("Choose a photo\u{2026}").clicked() {
            out.push(Command::Pick(super::super::command::Pick::Photo));
        }
        if ui.button("Draw the outline").clicked() {
            out.push(Command::Draw(Draw::Tool(Tool::Outline)));
        }
    });
}
