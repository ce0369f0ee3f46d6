//! The two places where the cross is put: over the map and on the drawing.

use egui::{ComboBox, Frame, Panel, Pos2, Ui};
use joulemark_locate::board::{Face, Footprint};
use nalgebra::Point2;

use super::{
    super::{
        command::Command,
        drawing::marks::corners,
        face_view,
        map::{self, texture::MapTexture},
        screen::Screen,
        session::{Session, TakeView},
    },
    ExerciseCommand, Feedback, marks,
};
use crate::{
    case::exercise::{Answers, Place},
    theme::{self, Palette},
};

/// What the cross is called, by whether the answer is known.
fn cross_name(feedback: Option<&Feedback>) -> String {
    match feedback {
        Some(feedback) => match feedback.score.distance_mm {
            Some(mm) if mm > 0.0 => format!("you, {mm:.1} mm off"),
            Some(_) => "you, on it".to_owned(),
            None => "you".to_owned(),
        },
        None => "your place".to_owned(),
    }
}

/// The answers that are shown: those being given, or those that were handed in.
pub(super) fn shown(session: &Session) -> (Answers, Option<&Feedback>) {
    let Some(exercise) = &session.document.case.exercise else {
        return (Answers::default(), None);
    };
    let feedback = session.results.feedback.as_deref().filter(|_| exercise.open());
    match exercise.handed_in.last().filter(|_| feedback.is_some()) {
        Some(handed_in) => (handed_in.answers.clone(), feedback),
        None => (exercise.answers.clone(), None),
    }
}

/// The face of the drawing, with the cross.
pub(super) fn drawing(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let filmed = session.face().map(|f| f.name.clone()).unwrap_or_default();
    let name = screen.exercise.face.clone().unwrap_or(filmed);
    if session.board.faces.len() > 1 {
        let bar = Frame::new().fill(Palette::of(ui).panel).inner_margin(theme::margin());
        Panel::top("exercise face").frame(bar).show(ui, |ui| {
            let chosen = ComboBox::from_id_salt("exercise face").selected_text(&name).show_ui(ui, |ui| {
                for face in &session.board.faces {
                    if ui.selectable_label(face.name == name, &face.name).clicked() {
                        screen.exercise.face = Some(face.name.clone());
                    }
                }
            });
            let _ = chosen.response.accessible_name(format!("Face: {name}"));
        });
    }
    let Some(face) = session.board.face(&name) else {
        ui.label("This face is not on the drawing.");
        return;
    };
    let pointed = face_view::show(ui, session, face, screen, None, true, out);
    screen.exercise.on_canvas |= pointed.focused;
    let painter = ui.painter_at(pointed.canvas);
    let (answers, feedback) = shown(session);
    if let Some(feedback) = feedback {
        for part in feedback.answer.parts.iter().filter(|p| p.face == name) {
            if let Some((_, drawn)) = session.board.part(&part.designator) {
                marks::true_part(&painter, &corners(drawn, pointed.map), &part.designator);
            }
        }
    }
    if let Some(place) = answers.place.as_ref().filter(|p| p.face == name) {
        marks::cross(&painter, pointed.map.to_ui([place.x_mm, place.y_mm]), &cross_name(feedback));
    }
    if let Some(at) = pointed.clicked_mm.filter(|_| feedback.is_none()) {
        out.push(put(&face.name, at));
    }
}

/// The map of the take, with the cross.
pub(super) fn picture(
    ui: &mut Ui,
    session: &Session,
    view: &TakeView,
    screen: &mut Screen,
    textures: &mut [MapTexture; 2],
    out: &mut Vec<Command>,
) {
    let pointed = map::show(ui, session, view, screen, textures, out);
    screen.exercise.on_canvas |= pointed.focused;
    let Some((alignment, face)) = view.alignment.as_ref().zip(session.face()) else { return };
    let painter = ui.painter_at(pointed.canvas);
    let on_screen = |x_mm: f64, y_mm: f64| -> Pos2 {
        let px = alignment.to_image(Point2::new(x_mm, y_mm));
        pointed.map.to_ui([px.x, px.y])
    };
    let (answers, feedback) = shown(session);
    if let Some(feedback) = feedback {
        for part in feedback.answer.parts.iter().filter(|p| p.face == face.name) {
            if let Some((_, drawn)) = session.board.part(&part.designator) {
                let corners = Footprint::from(drawn).corners_mm().map(|c| on_screen(c.x, c.y));
                marks::true_part(&painter, &corners, &part.designator);
            }
        }
    }
    if let Some(place) = answers.place.as_ref().filter(|p| p.face == face.name) {
        marks::cross(&painter, on_screen(place.x_mm, place.y_mm), &cross_name(feedback));
    }
    if let Some([x, y]) = pointed.clicked_px.filter(|_| feedback.is_none()) {
        let mm = alignment.to_board(Point2::new(x, y));
        out.push(put(&face.name, [mm.x, mm.y]));
    }
}

fn put(face: &str, [x_mm, y_mm]: [f64; 2]) -> Command {
    // A hundredth of a millimetre is finer than anyone points.
    let hundredths = |v: f64| (v * 100.0).round() / 100.0;
    let place = Place { face: face.to_owned(), x_mm: hundredths(x_mm), y_mm: hundredths(y_mm) };
    Command::Exercise(ExerciseCommand::Place(place))
}

/// The part under a place.
pub(super) fn part_at<'a>(face: &'a Face, place: &Place) -> Option<&'a str> {
    face.part_at(Point2::new(place.x_mm, place.y_mm)).map(|p| p.designator.as_str())
}
