//! The meter's readings as they were taken. What they mean is for the student to say.

use egui::{Grid, RichText, ScrollArea, Ui};

use super::super::session::Session;
use crate::{
    case::reading::{Quantity, ReadingEntry, shown},
    theme::{self, Palette, SMALL, SPACE},
};

/// Draws the table.
pub(super) fn show(ui: &mut Ui, session: &Session) {
    let p = Palette::of(ui);
    let frame = egui::Frame::new().fill(p.panel).inner_margin(theme::margin());
    egui::CentralPanel::default().frame(frame).show(ui, |ui| {
        ScrollArea::both().auto_shrink(false).show(ui, |ui| {
            ui.label(RichText::new("Readings of the rails to ground, board switched off").strong());
            ui.add_space(SPACE);
            table(ui, session);
            ui.add_space(SPACE);
            let leads = session.document.case.readings.iter().find_map(|r| r.meter_lead_ohms);
            let leads = match leads {
                Some(ohms) => format!("The meter's leads have {ohms} ohms, which the ohms still hold. "),
                None => String::new(),
            };
            let supply = match session.document.case.lead_ohms {
                Some(ohms) => format!("The supply's leads have {ohms} ohms, both together."),
                None => String::new(),
            };
            ui.label(RichText::new(leads + &supply).size(SMALL).color(p.weak));
        });
    });
}

fn table(ui: &mut Ui, session: &Session) {
    let readings = &session.document.case.readings;
    let measured = |quantity: Quantity| readings.iter().any(|r| r.quantity == quantity);
    let columns: Vec<Quantity> = Quantity::ALL.into_iter().filter(|q| measured(*q)).collect();
    let p = Palette::of(ui);
    let small = |text: String| RichText::new(text).size(SMALL).color(p.weak);
    Grid::new("exercise readings").num_columns(2 + columns.len()).spacing([32.0, 8.0]).striped(true).show(ui, |ui| {
        ui.label(small("rail".into()));
        ui.label(small("nominal".into()));
        for quantity in &columns {
            ui.label(small(quantity.words().into()));
        }
        ui.end_row();
        for rail in &session.board.rails {
            ui.label(RichText::new(&rail.name).strong());
            ui.label(rail.nominal_volts.map_or("unknown".to_owned(), |v| format!("{v} V")));
            for quantity in &columns {
                let of = |r: &&ReadingEntry| r.rail == rail.name && r.quantity == *quantity;
                let said: Vec<String> = readings.iter().filter(of).map(said).collect();
                ui.label(if said.is_empty() { "not measured".to_owned() } else { said.join("; ") });
            }
            ui.end_row();
        }
    });
}

/// A value with what it was measured against, where that is not ground on this board.
fn said(reading: &ReadingEntry) -> String {
    let mut text = shown(reading.value, reading.quantity);
    if !reading.against.is_empty() {
        text += &format!(" against {}", reading.against);
    }
    if !reading.face.is_empty() {
        text += &format!(" on {}", reading.face);
    }
    if reading.good_board {
        text += " on a good board";
    }
    text
}
