//! The millivolt survey: points clicked on the board or named by a part, their millivolts typed, and which of them lies
//! nearest to the fault. For shorts so hard that they hardly warm.

mod act;
mod list;

pub use act::edit;

use egui::{Align2, CentralPanel, Frame, Panel, Stroke, Ui, vec2};

use super::{command::Command, face_view, map::overlay_text, screen::Screen, session::Session};
use crate::theme::{self, HALO, OVER_MAP, Palette, SUSPECT_OVER_MAP};

/// What the screen knows about a survey.
#[derive(Clone, Debug, Default)]
pub struct SurveyScreen {
    /// The face shown; the first when empty.
    pub face: String,
    /// Millivolts being typed at a point.
    typing: Option<(usize, String)>,
    /// Amps being typed.
    amps: Option<String>,
    /// The part whose place is to be a point, being typed.
    part: String,
    /// What was refused last, and why.
    refused: Option<String>,
    /// The point whose field is to get the keyboard.
    pub focus: Option<usize>,
}

/// What the survey can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum SurveyCommand {
    /// Open it.
    Open,
    /// Back to the readings.
    Close,
    /// The current of the survey.
    Amps(f64),
    /// A point on a face.
    Add {
        /// The face.
        face: String,
        /// Where.
        at_mm: [f64; 2],
    },
    /// Millivolts at a point.
    Millivolts(usize, Option<f64>),
    /// Take a point away.
    Remove(usize),
}

/// The middle of the window while a survey is open: the list, and the board below it.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let Some(mut survey) = screen.survey.take() else {
        return;
    };
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    let height = (ui.available_height() * 0.42).max(200.0);
    Panel::top("survey").frame(bar).exact_size(height).resizable(false).show(ui, |ui| {
        list::show(ui, session, &mut survey, out);
    });
    let face = session.board.face(&survey.face).or_else(|| session.face()).or_else(|| session.board.faces.first());
    CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
        let Some(face) = face else {
            return;
        };
        let rail = session.document.case.rail.clone();
        let shown = face_view::show(ui, session, face, screen, Some(&rail), true, out);
        let painter = ui.painter_at(shown.canvas);
        let nearest = session.judged().survey.first().map(|r| r.point);
        for (index, point) in session.survey().iter().flat_map(|s| s.points.iter().enumerate()) {
            if point.face != face.name {
                continue;
            }
            let at = shown.map.to_ui([point.x_mm, point.y_mm]);
            let first = nearest == Some(index);
            let colour = if first { SUSPECT_OVER_MAP } else { OVER_MAP };
            // The nearest is told by a second ring, not by colour alone.
            for radius in if first { &[5.0, 9.0][..] } else { &[5.0][..] } {
                painter.circle_stroke(at, *radius, Stroke::new(4.0, HALO));
                painter.circle_stroke(at, *radius, Stroke::new(2.0, colour));
            }
            let millivolts = point.millivolts.map_or("? mV".to_owned(), |v| format!("{v} mV"));
            overlay_text(&painter, at + vec2(11.0, 4.0), &format!("{}  {millivolts}", index + 1));
        }
        if session.survey().is_none_or(|s| s.points.is_empty()) {
            let words = "Click where the probe touches the rail, then type the millivolts.";
            let at = shown.canvas.center_top() + vec2(0.0, 16.0);
            let galley = painter.layout_no_wrap(words.to_owned(), theme::body(), OVER_MAP);
            let place = Align2::CENTER_TOP.anchor_size(at, galley.size());
            painter.rect_filled(place.expand2(vec2(6.0, 2.0)), 3.0, HALO);
            painter.galley(place.min, galley, OVER_MAP);
        }
        if let Some(at_mm) = shown.clicked_mm {
            out.push(Command::Survey(SurveyCommand::Add { face: face.name.clone(), at_mm }));
        }
    });
    screen.survey = Some(survey);
}
