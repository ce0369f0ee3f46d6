//! The readings stage: a table of rails to type meter readings into, what they say, and what to measure next. Judgement
//! comes from the engine; here are the hands.

mod act;
mod context;
mod paste;
mod says;
mod table;

pub use act::{enter, take_pasted};
pub use paste::{Paste, show as show_paste};
pub use says::{RailSays, Weight, ranking};

use egui::{CentralPanel, Frame, Panel, Ui};

use super::{command::Command, drawing::Draw, face_view, screen::Screen, session::Session};
use crate::{
    case::reading::Quantity,
    theme::{self, Palette, SPACE},
};

/// What the screen knows about the table.
#[derive(Clone, Debug, Default)]
pub struct ReadingsScreen {
    /// The face or half that is touched; empty when it does not matter.
    pub face: String,
    /// The rail that the other lead is on; ground when empty.
    pub against: String,
    /// After which intervention; the latest when `None`.
    pub after: Option<u32>,
    /// Whether a good board is measured.
    pub good_board: bool,
    /// Diode tests with the red lead on the rail.
    pub red_on_rail: bool,
    /// The cell being typed in: rail, quantity, text.
    typing: Option<(String, Quantity, String)>,
    /// A cell whose text was refused, and why.
    refused: Option<(String, Quantity, String)>,
    /// What was assumed about the last reading.
    note: Option<String>,
    /// The cell that is to get the keyboard.
    focus: Option<(String, Quantity)>,
    /// Whether the field for the meter's leads is to get the keyboard.
    pub ask_leads: bool,
    /// Resistance of the meter's leads being typed.
    meter_leads: Option<String>,
    /// Only rails that contain this.
    filter: String,
    /// The pasted log, while its dialog is open.
    pub paste: Option<Paste>,
}

impl ReadingsScreen {
    /// The diode test's column.
    fn diode(&self) -> Quantity {
        if self.red_on_rail { Quantity::DiodeRedOnRail } else { Quantity::DiodeRedOnGround }
    }

    /// Puts the keyboard into a cell.
    pub fn focus(&mut self, rail: &str, quantity: Quantity) {
        self.red_on_rail = match quantity {
            Quantity::DiodeRedOnGround => false,
            Quantity::DiodeRedOnRail => true,
            _ => self.red_on_rail,
        };
        self.filter.clear();
        self.focus = Some((rail.to_owned(), quantity));
    }
}

/// What the stage can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum ReadingsCommand {
    /// A reading was typed into a cell; none takes it away.
    Enter {
        /// The rail.
        rail: String,
        /// The column.
        quantity: Quantity,
        /// What the display said: `Some(None)` is open.
        value: Option<Option<f64>>,
    },
    /// Resistance of the meter's leads.
    MeterLeads(Option<f64>),
    /// Open the stage with the keyboard in a cell.
    Ask {
        /// The rail.
        rail: String,
        /// The column.
        quantity: Quantity,
        /// The face to touch; any when empty.
        face: String,
        /// Whether a good board is to be measured.
        good_board: bool,
        /// The rail that the other lead is on; ground when empty.
        against: String,
    },
    /// Open the stage with the keyboard in the field for the meter's leads.
    AskLeads,
    /// Open or close the dialog for a pasted log.
    Paste(bool),
    /// Take the readings of the pasted log in.
    TakePasted,
}

/// The middle of the window at this stage: the table, and the board below it.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    if session.board.rails.is_empty() {
        CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| no_rails(ui, out));
        return;
    }
    let height = (ui.available_height() * 0.56).max(220.0);
    let mut readings = std::mem::take(&mut screen.readings);
    Panel::top("readings").frame(bar).exact_size(height).resizable(false).show(ui, |ui| {
        context::show(ui, session, &mut readings, out);
        theme::hairline(ui);
        table::show(ui, session, &mut readings, screen, out);
    });
    let face = session.board.face(&readings.face).or_else(|| session.face()).or_else(|| session.board.faces.first());
    let rail = screen.hover.rail.clone().or_else(|| screen.selection.rail.clone());
    let rail = rail.unwrap_or_else(|| session.document.case.rail.clone());
    CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
        if let Some(face) = face {
            face_view::show(ui, session, face, screen, Some(&rail), false, out);
        }
    });
    screen.readings = readings;
}

fn no_rails(ui: &mut Ui, out: &mut Vec<Command>) {
    super::panels::empty::centred(ui, |ui| {
        ui.label(
            "Readings belong to rails, and this drawing has none yet. Name the rails on the drawing bench, or read them \
             from a netlist; then type what the meter shows, rail by rail.",
        );
        ui.add_space(SPACE);
        if ui.button("Draw the board").clicked() {
            out.push(Command::Draw(Draw::Open));
        }
    });
}
