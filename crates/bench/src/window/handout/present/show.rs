//! What the class sees.

use egui::{Align, Align2, Color32, FontId, Layout, Rect, RichText, Sense, Ui, WidgetInfo, pos2};

use super::{
    super::{
        super::{command::Command, screen::Screen, session::Session},
        HandoutCommand as C, paint, preview,
    },
    Playing, Turn,
};
use crate::{
    lesson::{Lesson, Shows, Step, View, shapes::shapes},
    theme::DARK,
};

/// Heights of heading and text over the height of the screen: read from the last row of a class-room.
const HEADING: f32 = 0.052;
/// See [`HEADING`].
const TEXT: f32 = 0.034;
/// Words in the picture.
const WORDS: f32 = 0.024;
/// How much of the width the text takes beside a picture.
const TEXT_SHARE: f32 = 0.32;

/// Draws the step on the whole window.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let case = &session.document.case;
    let handout = &mut screen.handout;
    let whole = ui.available_rect_before_wrap();
    let (Some(lesson), Some(step)) = (handout.lesson(case), handout.step(case)) else {
        return;
    };
    let Some(presenting) = handout.presenting.as_mut() else {
        return;
    };
    presenting.playing = presenting.playing.map(|p| settled(ui, session, step, p));
    let presenting = presenting.clone();
    let painter = ui.painter_at(whole);
    let response = ui.allocate_rect(whole, Sense::click());
    let count = format!("{} of {}", handout.step + 1, lesson.steps.len());
    let aloud = format!("Presenting {}, step {count}: {}", lesson.name, step.title);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &aloud));
    if response.clicked() {
        out.push(Command::Handout(C::Turn(Turn::Next)));
    }
    if presenting.blank {
        painter.rect_filled(whole, 0.0, Color32::BLACK);
        return;
    }
    painter.rect_filled(whole, 0.0, DARK.canvas);
    let unit = whole.height();
    let margin = 0.03 * unit;
    let inner = whole.shrink(margin);
    let below = footer(ui, inner, lesson, step, &count, &presenting);
    let mut room = inner.with_max_y(below - 0.4 * margin);
    if !step.title.trim().is_empty() {
        let font = FontId::proportional(HEADING * unit);
        let title = painter.layout(step.title.trim().to_owned(), font, DARK.text, room.width());
        let height = title.size().y;
        painter.galley(room.min, title, DARK.text);
        room.min.y += height + 0.5 * margin;
    }
    let text = !step.text.trim().is_empty();
    if step.view.shows == Shows::Words {
        let narrow = Rect::from_min_max(room.min, pos2(room.left() + room.width().min(1.5 * unit), room.bottom()));
        preview::fitted(ui, narrow, &step.text, TEXT * 1.25 * unit, DARK.text);
        return;
    }
    let picture = if text { room.with_max_x(room.right() - TEXT_SHARE * room.width() - margin) } else { room };
    if text {
        let beside = room.with_min_x(picture.right() + margin);
        preview::fitted(ui, beside, &step.text, TEXT * unit, DARK.text);
    }
    let view = at_moment(ui, session, step, &presenting);
    handout.picture.update(ui.ctx(), session, &handout.photos, &view, picture, WORDS * unit);
    if let Some(fault) = handout.picture.fault() {
        let font = FontId::proportional(TEXT * unit);
        let said = painter.layout(fault.to_owned(), font, DARK.caution, picture.width());
        painter.galley(picture.min, said, DARK.caution);
        return;
    }
    handout.picture.paint(&painter);
    if let Some((placing, inside)) = handout.picture.placing().zip(handout.picture.rect()) {
        let clip = painter.with_clip_rect(inside.intersect(whole));
        for mark in lesson.marks_in_sight(handout.step, presenting.revealed) {
            paint::shapes(&clip, &shapes(mark, placing), &[]);
        }
    }
}

/// What is played, over once its last frame is reached.
fn settled(ui: &Ui, session: &Session, step: &Step, playing: Playing) -> Playing {
    let seen = step.view.shows.take().and_then(|take| session.views.get(take));
    seen.zip(step.plays)
        .map_or(playing, |(v, plays)| playing.settled(plays, &v.take.timeline.time_s, ui.input(|i| i.time)))
}

/// The step's view at the frame that is played.
fn at_moment(ui: &Ui, session: &Session, step: &Step, presenting: &super::Presenting) -> View {
    let mut view = step.view.clone();
    let now = ui.input(|i| i.time);
    let (Shows::Map { take, frame, .. }, Some(playing), Some(plays)) =
        (&mut view.shows, presenting.playing, step.plays)
    else {
        return view;
    };
    if let Some(seen) = session.views.get(take.as_str()) {
        *frame = playing.frame(plays, &seen.take.timeline.time_s, now);
        if playing.moves() {
            ui.ctx().request_repaint_after(std::time::Duration::from_millis(30));
        }
    }
    view
}

/// Step, and the keys that matter now. Returns where it begins.
fn footer(ui: &mut Ui, inner: Rect, lesson: &Lesson, step: &Step, count: &str, shown: &super::Presenting) -> f32 {
    let size = (0.02 * inner.height()).max(13.0);
    let place = inner.with_min_y(inner.bottom() - 1.6 * size);
    let mut keys = Vec::new();
    if super::more(step, shown.revealed).is_some() {
        keys.push("Space: show more".to_owned());
    } else if shown.playing.is_none() && step.plays.is_some() {
        keys.push("P: play".to_owned());
    } else if shown.playing.is_some_and(Playing::moves) {
        keys.push("P: hold".to_owned());
    } else if shown.playing.is_some() {
        keys.push("P: play on".to_owned());
    }
    keys.push("Esc: end".to_owned());
    ui.painter().text(
        place.left_bottom(),
        Align2::LEFT_BOTTOM,
        format!("{}    {}", lesson.name, keys.join("   ")),
        FontId::proportional(size),
        DARK.weak,
    );
    let mut corner = ui.new_child(egui::UiBuilder::new().max_rect(place).layout(Layout::right_to_left(Align::Max)));
    corner.label(RichText::new(count).size(1.5 * size).color(DARK.text));
    place.top()
}
