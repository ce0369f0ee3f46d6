//! The middle of the stage: the step's picture with its marks, the hands on it, and every mark in the accessibility tree.

use egui::{Color32, CursorIcon, Pos2, Rect, Sense, Stroke, Ui, WidgetInfo, vec2};

use super::{
    super::{command::Command, map::view::zoom_asked, screen::Screen, session::Session},
    HandoutCommand as C, HandoutScreen, Tool, act, empty,
    gesture::{self, Gesture},
    names, paint,
};
use crate::{
    lesson::{Mark, Shows, Step, View, What, shapes::shapes},
    report::typeface::Fonts,
    theme::{DARK, Palette, SPACE},
};

/// Height of words on the picture, in points.
const WORDS: f32 = 15.0;
/// The same dark ground in both themes: marks and maps need it.
const GROUND: Color32 = Color32::from_rgb(24, 26, 30);
/// Half a handle's side.
const HANDLE: f32 = 5.0;

/// Draws the canvas on what is left of the region.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let case = &session.document.case;
    let handout = &mut screen.handout;
    let (Some(lesson), Some(step)) = (handout.lesson(case), handout.step(case)) else {
        return;
    };
    let canvas = ui.available_rect_before_wrap();
    if step.view.shows == Shows::Words {
        super::preview::page(ui, canvas.shrink(2.0 * SPACE), step);
        return;
    }
    let response = ui.allocate_rect(canvas, Sense::click_and_drag());
    let view = View { zoom: handout.look.or(step.view.zoom), ..step.view.clone() };
    handout.picture.update(ui.ctx(), session, &handout.photos, &view, canvas.shrink(SPACE), WORDS);
    let seen = handout.picture.alt();
    let label = format!("Picture of step {}. {seen}. {}", handout.step + 1, handout.tool.sentence());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
    ui.painter().rect_filled(canvas, 0.0, GROUND);
    if let Some(fault) = handout.picture.fault() {
        empty::no_picture(ui, canvas, fault, handout.reading, out);
        return;
    }
    hands(ui, canvas, &response, step, handout, out);
    let painter = ui.painter_at(canvas);
    handout.picture.paint(&painter);
    let Some(placing) = handout.picture.placing() else {
        return;
    };
    // As on paper: no mark leaves the picture.
    let inside = handout.picture.rect().map_or(canvas, |r| r.intersect(canvas));
    let over = painter.with_clip_rect(inside);
    let own = step.marks.len();
    let all = lesson.marks_in_sight(handout.step, u32::MAX);
    let earlier = all.len() - own;
    for (index, mark) in all.into_iter().enumerate() {
        let index = index.checked_sub(earlier);
        let moved = index.and_then(|i| followed(mark, i, handout));
        paint::shapes(&over, &shapes(moved.as_ref().unwrap_or(mark), placing), &[]);
    }
    if let Some(Gesture::New { from, to }) = handout.gesture
        && let Some(mark) = new_mark(step, handout, [from.into(), to.into()])
    {
        paint::shapes(&over, &shapes(&mark, placing), &[]);
    }
    handout.on_picture = response.has_focus();
    nodes(ui, canvas, step, handout, out);
    if response.has_focus() {
        let ring = Stroke::new(2.0, Palette::of(ui).accent);
        ui.painter().rect_stroke(canvas.shrink(1.0), 0.0, ring, egui::StrokeKind::Inside);
    }
}

/// The mark that a drag would make.
fn new_mark(step: &Step, handout: &HandoutScreen, points: [[f32; 2]; 2]) -> Option<Mark> {
    let placing = handout.picture.placing()?;
    let space = act::space(&step.view, placing, handout.stays_on);
    let what = act::from_points(handout.tool, &space, placing, points, step.next_number())?;
    Some(Mark { space, what, style: handout.style, reveal: 0 })
}

/// A mark as it lies while it follows the pointer.
fn followed(mark: &Mark, index: usize, handout: &HandoutScreen) -> Option<Mark> {
    match handout.gesture {
        Some(Gesture::Move { mark: moved, place, by }) if moved == index => {
            act::nudged(mark, handout.picture.placing()?, place, by.into())
        }
        _ => None,
    }
}

/// Mouse and touchpad.
fn hands(
    ui: &Ui,
    canvas: Rect,
    response: &egui::Response,
    step: &Step,
    handout: &mut HandoutScreen,
    out: &mut Vec<Command>,
) {
    let pointer = ui.input(|i| i.pointer.hover_pos()).filter(|p| canvas.contains(*p));
    let over = pointer.filter(|p| ui.ctx().layer_id_at(*p).is_none_or(|l| l == ui.layer_id()));
    let factor = zoom_asked(ui);
    if let Some(at) = over.filter(|_| (factor - 1.0).abs() > 1e-4)
        && let Some(look) = handout.picture.zoomed(factor, Some(at.into()))
    {
        out.push(Command::Handout(C::Look(Some(look))));
    }
    let Some(placing) = handout.picture.placing() else {
        return;
    };
    if let Some(at) = over {
        let on_mark = gesture::hit(&step.marks, handout.mark, placing, at).is_some();
        let cursor = match handout.tool {
            Tool::Select if on_mark => CursorIcon::Move,
            Tool::Select => CursorIcon::Default,
            _ => CursorIcon::Crosshair,
        };
        ui.set_cursor_icon(cursor);
    }
    let at = response.interact_pointer_pos();
    if response.drag_started()
        && let Some(from) = ui.input(|i| i.pointer.press_origin()).or(at)
    {
        let pans = !response.drag_started_by(egui::PointerButton::Primary);
        let tool = handout.tool;
        let started = gesture::start(tool, &step.marks, handout.mark, placing, from);
        if let Gesture::Move { mark, .. } = started {
            handout.mark = Some(mark);
        }
        handout.gesture = Some(if pans { Gesture::Pan } else { started });
    }
    let origin = ui.input(|i| i.pointer.press_origin());
    match (&mut handout.gesture, at) {
        (Some(Gesture::New { to, .. }), Some(at)) => *to = at,
        (Some(Gesture::Move { by, .. }), Some(at)) => *by = origin.map_or(*by, |o| at - o),
        (Some(Gesture::Pan), _) if response.dragged() => {
            if let Some(look) = handout.picture.panned(response.drag_delta()) {
                out.push(Command::Handout(C::Look(Some(look))));
            }
        }
        _ => {}
    }
    if response.drag_stopped() {
        let gesture = handout.gesture.clone();
        out.extend(gesture.and_then(|g| ended(step, handout, &g)).map(Command::Handout));
        handout.gesture = None;
    } else if response.clicked()
        && let Some(at) = at
    {
        out.extend(clicked(step, handout, at).map(Command::Handout));
    }
}

fn ended(step: &Step, handout: &HandoutScreen, gesture: &Gesture) -> Option<C> {
    match gesture {
        Gesture::New { from, to } if from.distance(*to) < gesture::CLICK => clicked(step, handout, *from),
        Gesture::New { from, to } => new_mark(step, handout, [(*from).into(), (*to).into()]).map(C::Add),
        Gesture::Move { mark, .. } => {
            let moved = followed(step.marks.get(*mark)?, *mark, handout)?;
            Some(C::Mark { index: *mark, mark: Box::new(moved), doing: "move", goes_on: false })
        }
        Gesture::Pan => None,
    }
}

fn clicked(step: &Step, handout: &HandoutScreen, at: Pos2) -> Option<C> {
    let placing = handout.picture.placing()?;
    if handout.tool == Tool::Select {
        let hit = gesture::hit(&step.marks, handout.mark, placing, at);
        return Some(C::Select(hit.map(|(mark, _)| mark)));
    }
    let points = gesture::clicked(handout.tool, at.into(), placing.rect());
    new_mark(step, handout, points).map(C::Add)
}

/// Every mark, and the places of the selected one, for the keyboard and for assistive technology.
fn nodes(ui: &Ui, canvas: Rect, step: &Step, handout: &mut HandoutScreen, out: &mut Vec<Command>) {
    // The ground is dark in both themes.
    let accent = DARK.accent;
    let painter = ui.painter_at(canvas);
    let Some(placing) = handout.picture.placing() else {
        return;
    };
    let Ok(fonts) = Fonts::shared() else {
        return;
    };
    let mut select = None;
    let mut handle_in_hand = None;
    for (index, mark) in step.marks.iter().enumerate() {
        let mark = followed(mark, index, handout);
        let mark = mark.as_ref().unwrap_or(&step.marks[index]);
        let Some(bounds) = paint::bounds(&shapes(mark, placing), fonts) else {
            continue;
        };
        let chosen = handout.mark == Some(index);
        let place = bounds.expand(3.0).intersect(canvas);
        let place = if place.is_positive() { place } else { Rect::from_center_size(canvas.center(), vec2(1.0, 1.0)) };
        let id = ui.scope_id().with(("mark", handout.step, index));
        let node = ui.interact(place, id, Sense::focusable_noninteractive());
        node.widget_info(|| WidgetInfo::selected(egui::Role::ListBoxOption, true, chosen, names::aloud(step, index)));
        handout.on_picture |= node.has_focus();
        if node.gained_focus() {
            select = Some(index);
        }
        if chosen && handout.focus_mark {
            node.request_focus();
        }
        if !chosen {
            continue;
        }
        let stroke = Stroke::new(if node.has_focus() { 2.5 } else { 1.5 }, accent);
        painter.rect_stroke(place, 2.0, stroke, egui::StrokeKind::Outside);
        let handles = gesture::handles(mark, placing);
        for (number, at) in handles.iter().enumerate() {
            let Some(at) = at.filter(|_| handles.len() > 1) else {
                continue;
            };
            let knob = Rect::from_center_size(at, vec2(2.0 * HANDLE, 2.0 * HANDLE));
            let handle = ui.interact(knob, id.with(number), Sense::focusable_noninteractive());
            let what = names::handle_name(&mark.what, number);
            let where_ = names::place_words(&mark.space, mark.what.places()[number]);
            let label = format!("{}, {what}, at {where_}", names::mark_name(step, index));
            handle.widget_info(|| WidgetInfo::labeled(egui::Role::Slider, true, &label));
            if handle.has_focus() {
                handout.on_picture = true;
                handle_in_hand = Some(number);
            }
            // A callout's number stays readable under its handle.
            let hollow = number == 1 && matches!(mark.what, What::Callout { .. });
            if !hollow {
                painter.rect_filled(knob, 1.0, if handle.has_focus() { accent } else { Color32::WHITE });
            } else if handle.has_focus() {
                painter.rect_stroke(knob.expand(3.0), 1.0, Stroke::new(2.0, accent), egui::StrokeKind::Outside);
            }
            painter.rect_stroke(knob, 1.0, Stroke::new(1.5, Color32::BLACK), egui::StrokeKind::Outside);
        }
    }
    handout.focus_mark = false;
    handout.handle = handle_in_hand;
    if let Some(index) = select.filter(|i| handout.mark != Some(*i)) {
        out.push(Command::Handout(C::Select(Some(index))));
    }
}
