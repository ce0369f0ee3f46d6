//! The row above the table: which side, which board, after what, and how the leads lie.

use egui::{ComboBox, RichText, Ui};

use super::{
    super::{command::Command, session::Session},
    ReadingsCommand, ReadingsScreen,
};
use crate::theme::{Palette, SMALL};

/// Draws the row.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut ReadingsScreen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let case = &session.document.case;
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Readings").strong());
        if session.board.faces.len() > 1 {
            let named = |face: &str| if face.is_empty() { "any side".to_owned() } else { face.to_owned() };
            let response = ComboBox::from_id_salt("reading face")
                .selected_text(named(&screen.face))
                .show_ui(ui, |ui| {
                    for face in std::iter::once("").chain(session.board.faces.iter().map(|f| f.name.as_str())) {
                        ui.selectable_value(&mut screen.face, face.to_owned(), named(face));
                    }
                })
                .response;
            let _ = response
                .accessible_name(format!("Side touched: {}", named(&screen.face)))
                .on_hover_text("The face or half that the probe touches. Halves of a stack are measured one by one.");
        }
        let now = session.document.latest_intervention();
        let name = |number: u32| {
            case.interventions
                .iter()
                .find(|i| i.number == number)
                .map_or("as it came in".to_owned(), |i| format!("after: {}", i.words()))
        };
        let shown = screen.after.unwrap_or(now);
        let response = ComboBox::from_id_salt("reading after")
            .selected_text(name(shown))
            .truncate()
            .show_ui(ui, |ui| {
                for number in std::iter::once(0).chain(case.interventions.iter().map(|i| i.number)) {
                    let choice = if number == now { None } else { Some(number) };
                    ui.selectable_value(&mut screen.after, choice, name(number));
                }
            })
            .response;
        let _ = response
            .accessible_name(format!("Readings {}", name(shown)))
            .on_hover_text("Readings before and after everything that was done to the board are kept apart");
        let board = if screen.good_board { "a good board" } else { "this device" };
        let response = ComboBox::from_id_salt("reading board")
            .selected_text(board)
            .show_ui(ui, |ui| {
                ui.selectable_value(&mut screen.good_board, false, "this device");
                ui.selectable_value(&mut screen.good_board, true, "a good board");
            })
            .response;
        let _ = response.accessible_name(format!("Measured on {board}"));
        let named = |rail: &str| if rail.is_empty() { "to ground".to_owned() } else { format!("to {rail}") };
        let response = ComboBox::from_id_salt("reading against")
            .selected_text(named(&screen.against))
            .show_ui(ui, |ui| {
                for rail in std::iter::once("").chain(session.board.rails.iter().map(|r| r.name.as_str())) {
                    ui.selectable_value(&mut screen.against, rail.to_owned(), named(rail));
                }
            })
            .response;
        let _ = response
            .accessible_name(format!("Other lead {}", named(&screen.against)))
            .on_hover_text("Ground, or another rail: rails may be shorted to each other");
        let polarity = if screen.red_on_rail { "diode: red on rail" } else { "diode: red on ground" };
        if ui
            .button(polarity)
            .on_hover_text("Where the meter's red lead is in the diode test; a click swaps it")
            .clicked()
        {
            screen.red_on_rail = !screen.red_on_rail;
        }
        meter_leads(ui, session, screen, out);
        if ui.button("Paste a meter's log\u{2026}").on_hover_text("Text from the meter's serial line or file").clicked()
        {
            out.push(Command::Readings(ReadingsCommand::Paste(true)));
        }
        if let Some(note) = &screen.note {
            ui.label(RichText::new(note).size(SMALL).color(p.caution));
        }
    });
}

fn meter_leads(ui: &mut Ui, session: &Session, screen: &mut ReadingsScreen, out: &mut Vec<Command>) {
    let said = session.document.case.meter_lead_ohms.map_or_else(String::new, |v| v.to_string());
    let label = ui.label(RichText::new("meter's leads, ohms").size(SMALL));
    let mut typed = screen.meter_leads.clone().unwrap_or(said);
    let field = egui::TextEdit::singleline(&mut typed).desired_width(48.0).hint_text("0.2");
    let response = ui.add(field).labelled_by(label.id).on_hover_text(
        "What the meter shows with its leads held together; it is taken off every ohms reading from now on",
    );
    if std::mem::take(&mut screen.ask_leads) {
        response.request_focus();
    }
    if response.changed() {
        screen.meter_leads = Some(typed);
    }
    if response.lost_focus()
        && let Some(text) = screen.meter_leads.take()
    {
        let text = text.trim().replace(',', ".");
        match text.parse::<f64>() {
            _ if text.is_empty() => out.push(Command::Readings(ReadingsCommand::MeterLeads(None))),
            Ok(ohms) if ohms.is_finite() && ohms >= 0.0 => {
                out.push(Command::Readings(ReadingsCommand::MeterLeads(Some(ohms))));
            }
            _ => screen.note = Some(format!("'{text}' is not a resistance in ohms; nothing was changed")),
        }
    }
}
