//! What a step shows: which picture, and how.

use egui::{ComboBox, DragValue, Ui};

use super::{super::session::Session, Change, HandoutCommand as C};
use crate::{
    layer::Layer,
    lesson::{Shows, Step},
    theme,
};

/// Draws the choice.
pub fn show(ui: &mut Ui, session: &Session, step: &Step, ask: &mut impl FnMut(C)) {
    theme::section(ui, "Shows");
    let now = &step.view.shows;
    let mut next = now.clone();
    kind(ui, session, &mut next);
    match &mut next {
        Shows::Words => {}
        Shows::Map { take, layer, frame, outlines, answer } => {
            takes(ui, session, take);
            choice(ui, "Layer", layer.words(), Layer::ALL.map(|l| (l.words().to_owned(), l)).to_vec(), layer);
            if layer.follows_time() {
                let last = session.views.get(take).map_or(*frame, |v| v.take.timeline.len().saturating_sub(1));
                ui.horizontal(|ui| {
                    let label = ui.label("Frame");
                    ui.add(DragValue::new(frame).range(0..=last)).labelled_by(label.id);
                });
            }
            ui.checkbox(outlines, "Board and parts over it");
            ui.checkbox(answer, "Hot spots and suspects over it");
        }
        Shows::Photo { face, outlines } => {
            faces(ui, session, face);
            ui.checkbox(outlines, "Parts over it");
        }
        Shows::Drawing { face, rail } => {
            faces(ui, session, face);
            let shown = rail.clone().unwrap_or_else(|| "none".to_owned());
            let mut all = vec![("none".to_owned(), None)];
            all.extend(session.board.rails.iter().map(|r| (r.name.clone(), Some(r.name.clone()))));
            choice(ui, "Rail set off", &shown, all, rail);
        }
        Shows::Curve { take, at_px, fit } => {
            takes(ui, session, take);
            ui.horizontal(|ui| {
                for (i, name) in ["Column", "row"].into_iter().enumerate() {
                    let label = ui.label(name);
                    ui.add(DragValue::new(&mut at_px[i]).max_decimals(1).suffix(" px")).labelled_by(label.id);
                }
            });
            ui.checkbox(fit, "What was fitted to it");
        }
    }
    if next != *now {
        ask(C::Change(Change::Shows(next)));
    }
    scale(ui, step, ask);
    if step.view.zoom.is_some() && ui.button("Show the whole picture").clicked() {
        ask(C::Change(Change::Zoom(None)));
    }
}

/// The kinds of picture that the case has.
fn kind(ui: &mut Ui, session: &Session, next: &mut Shows) {
    let take = next.take().map(str::to_owned).or_else(|| session.document.case.takes.first().map(|t| t.name.clone()));
    let face = match &*next {
        Shows::Photo { face, .. } | Shows::Drawing { face, .. } => Some(face.clone()),
        _ => session.board.faces.first().map(|f| f.name.clone()),
    };
    let photo = session.board.faces.iter().find(|f| f.photo.is_some()).map(|f| f.name.clone());
    let mut all = vec![Shows::Words];
    if let Some(take) = take {
        let view = session.views.get(&take);
        let layer = if view.is_some_and(|v| v.located.is_some()) { Layer::Rise } else { Layer::Frame };
        let spot = view
            .and_then(|v| v.located.as_ref())
            .and_then(|l| l.hot_spots.first())
            .map(|s| [s.centre_px.x, s.centre_px.y]);
        let frame = view.map_or(0, |v| v.take.timeline.len().saturating_sub(1));
        all.push(Shows::Map { take: take.clone(), layer, frame, outlines: true, answer: false });
        let middle = view.map_or([0.0, 0.0], |v| {
            let shape = v.take.stack.shape();
            [shape.width_px as f64 / 2.0, shape.height_px as f64 / 2.0].map(f64::round)
        });
        all.push(Shows::Curve { take, at_px: spot.unwrap_or(middle), fit: spot.is_some() });
    }
    all.extend(photo.map(|face| Shows::Photo { face, outlines: false }));
    all.extend(face.map(|face| Shows::Drawing { face, rail: None }));
    let mut chosen = next.words();
    let kinds = all.iter().map(|s| (s.words().to_owned(), s.words())).collect();
    choice(ui, "Picture", next.words(), kinds, &mut chosen);
    if chosen != next.words() {
        *next = all.into_iter().find(|s| s.words() == chosen).unwrap_or_default();
    }
}

fn takes(ui: &mut Ui, session: &Session, take: &mut String) {
    let all = session.document.case.takes.iter().map(|t| (t.name.clone(), t.name.clone())).collect();
    let shown = take.clone();
    choice(ui, "Take", &shown, all, take);
}

fn faces(ui: &mut Ui, session: &Session, face: &mut String) {
    let all = session.board.faces.iter().map(|f| (f.name.clone(), f.name.clone())).collect();
    let shown = face.clone();
    choice(ui, "Face", &shown, all, face);
}

/// A labelled list to choose from.
pub fn choice<T: PartialEq + Clone>(ui: &mut Ui, label: &str, shown: &str, all: Vec<(String, T)>, value: &mut T) {
    ui.horizontal(|ui| {
        let name = ui.label(label);
        let list = ComboBox::from_id_salt(label).width(ui.available_width() - 8.0).truncate().selected_text(shown);
        let list = list.show_ui(ui, |ui| {
            for (words, entry) in all {
                if ui.selectable_label(entry == *value, words).clicked() {
                    *value = entry;
                }
            }
        });
        let _ = list.response.labelled_by(name.id).accessible_name(format!("{label}: {shown}"));
    });
}

/// Ends of the colour scale.
fn scale(ui: &mut Ui, step: &Step, ask: &mut impl FnMut(C)) {
    if !matches!(step.view.shows, Shows::Map { .. }) {
        return;
    }
    let Some((low, high)) = step.view.range else {
        return;
    };
    let (mut a, mut b) = (low, high);
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Colours from");
        ui.add(DragValue::new(&mut a).range(f32::MIN..=high).speed(0.01).max_decimals(2)).labelled_by(label.id);
        let label = ui.label("to");
        ui.add(DragValue::new(&mut b).range(low..=f32::MAX).speed(0.01).max_decimals(2)).labelled_by(label.id);
        if ui.button("By themselves").on_hover_text("As the layer suggests").clicked() {
            ask(C::Change(Change::Range(None)));
        }
    });
    if (a, b) != (low, high) {
        ask(C::Change(Change::Range(Some((a, b)))));
    }
}
