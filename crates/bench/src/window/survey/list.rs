//! The list of points: where, how many millivolts, and how near to the fault.

use egui::{Id, Key, RichText, ScrollArea, TextEdit, Ui};
use joulemark_locate::survey::{CAUTIONS, MOST_AMPS};

use super::{
    super::{command::Command, session::Session},
    SurveyCommand, SurveyScreen,
};
use crate::theme::{Palette, SMALL};

/// Draws the panel.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut SurveyScreen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Millivolt survey").strong());
        amps(ui, session, screen, out);
        at_part(ui, session, screen, out);
        if session.board.faces.len() > 1 {
            for face in &session.board.faces {
                let shown = if screen.face.is_empty() {
                    session.board.faces.first().is_some_and(|f| f.name == face.name)
                } else {
                    screen.face == face.name
                };
                if ui.selectable_label(shown, format!("side: {}", face.name)).clicked() {
                    screen.face.clone_from(&face.name);
                }
            }
        }
        if ui.button("Back to the readings").clicked() {
            out.push(Command::Survey(SurveyCommand::Close));
        }
    });
    for caution in CAUTIONS {
        ui.add(egui::Label::new(RichText::new(caution).size(SMALL).color(p.caution)).wrap());
    }
    for note in &session.judged().survey_notes {
        ui.add(egui::Label::new(RichText::new(note).size(SMALL)).wrap());
    }
    if let Some(refused) = &screen.refused {
        ui.label(RichText::new(refused).size(SMALL).color(p.refusal));
    }
    let Some(survey) = session.survey().filter(|s| !s.points.is_empty()) else {
        let why = "One lead stays on ground; the other touches the rail at several points while the same current flows. \
                   The smallest drop to ground is nearest to the fault.";
        ui.add(egui::Label::new(RichText::new(why).color(p.weak)).wrap());
        return;
    };
    let judged = session.judged();
    let ranking = &judged.survey;
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        for (index, point) in survey.points.iter().enumerate() {
            ui.horizontal(|ui| {
                ui.label(RichText::new(format!("{}", index + 1)).strong());
                let near = session.near(&point.face, [point.x_mm, point.y_mm]);
                ui.label(RichText::new(format!("{near}, {:.1}, {:.1} mm", point.x_mm, point.y_mm)).size(SMALL));
                millivolts(ui, index, point.millivolts, screen, out);
                if let Some(rank) = ranking.iter().position(|r| r.point == index) {
                    let text = RichText::new(&ranking[rank].words).size(SMALL);
                    ui.label(if rank == 0 { text.strong() } else { text.color(p.weak) });
                }
                let gone = ui.small_button("Take away");
                if gone.accessible_name(format!("Take point {} away", index + 1)).clicked() {
                    out.push(Command::Survey(SurveyCommand::Remove(index)));
                }
            });
        }
    });
}

fn millivolts(ui: &mut Ui, index: usize, said: Option<f64>, screen: &mut SurveyScreen, out: &mut Vec<Command>) {
    let shown = said.map_or_else(String::new, |v| v.to_string());
    let mut text =
        screen.typing.as_ref().filter(|(i, _)| *i == index).map_or_else(|| shown.clone(), |(_, text)| text.clone());
    let field = TextEdit::singleline(&mut text).id(Id::unique(("survey point", index))).desired_width(72.0);
    let response = ui.add(field.hint_text("mV")).accessible_name(format!("Point {}, millivolts", index + 1));
    if screen.focus.take_if(|i| *i == index).is_some() {
        response.request_focus();
    }
    ui.label(RichText::new("mV").size(SMALL));
    if response.changed() {
        screen.typing = Some((index, text));
        screen.refused = None;
    }
    if !response.lost_focus() {
        return;
    }
    let Some((_, text)) = screen.typing.take_if(|(i, _)| *i == index) else {
        return;
    };
    if ui.input(|i| i.key_pressed(Key::Escape)) || text == shown {
        return;
    }
    let text = text.trim().trim_end_matches("mV").trim().replace(',', ".");
    match text.parse::<f64>() {
        _ if text.is_empty() => out.push(Command::Survey(SurveyCommand::Millivolts(index, None))),
        Ok(v) if v.is_finite() => out.push(Command::Survey(SurveyCommand::Millivolts(index, Some(v)))),
        _ => screen.refused = Some(format!("'{text}' is not a number of millivolts; nothing was changed")),
    }
}

fn amps(ui: &mut Ui, session: &Session, screen: &mut SurveyScreen, out: &mut Vec<Command>) {
    let said = session.survey().map_or_else(String::new, |s| s.amps.to_string());
    let label = ui.label(RichText::new("fixed current, A").size(SMALL));
    let mut text = screen.amps.clone().unwrap_or_else(|| said.clone());
    let response = ui
        .add(TextEdit::singleline(&mut text).desired_width(48.0).hint_text("0.5"))
        .labelled_by(label.id)
        .on_hover_text("The same for all points, at most 1 A");
    if response.changed() {
        screen.amps = Some(text);
    }
    if response.lost_focus()
        && let Some(text) = screen.amps.take().filter(|t| *t != said)
    {
        match text.trim().replace(',', ".").parse::<f64>() {
            Ok(v) if v > MOST_AMPS => {
                screen.refused = Some(format!("at most {MOST_AMPS} A for a survey; nothing was changed"));
            }
            Ok(v) if v.is_finite() && v > 0.0 => {
                screen.refused = None;
                out.push(Command::Survey(SurveyCommand::Amps(v)));
            }
            _ => screen.refused = Some(format!("'{text}' is not a current in amps; nothing was changed")),
        }
    }
}

/// A point by the keyboard: the middle of a part.
fn at_part(ui: &mut Ui, session: &Session, screen: &mut SurveyScreen, out: &mut Vec<Command>) {
    let label = ui.label(RichText::new("point at part").size(SMALL));
    let field = TextEdit::singleline(&mut screen.part).desired_width(64.0).hint_text("C12");
    let response = ui.add(field).labelled_by(label.id).on_hover_text("Enter adds a point at the middle of that part");
    if response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter)) && !screen.part.trim().is_empty() {
        let name = screen.part.trim().to_owned();
        let found = session.board.faces.iter().flat_map(|f| f.parts.iter().map(move |p| (f, p)));
        match found.into_iter().find(|(_, p)| p.designator.eq_ignore_ascii_case(&name)) {
            Some((face, part)) => {
                screen.face.clone_from(&face.name);
                screen.part.clear();
                screen.refused = None;
                let add = SurveyCommand::Add { face: face.name.clone(), at_mm: [part.x_mm, part.y_mm] };
                out.push(Command::Survey(add));
            }
            None => screen.refused = Some(format!("no part is called {name}; its name stands on the drawing")),
        }
    }
}
