//! The injection plan in the window: what the engine says in words ([`view`]), the ladder and what it was worked out
//! from in the middle, the step in force on the card.

mod act;
pub mod inputs;
pub mod ladder;
pub mod overrides;
pub mod view;

pub use act::{edit, over};

use egui::{CentralPanel, Frame, Panel, ScrollArea, Ui};

use super::{command::Command, face_view, screen::Screen, session::Session};
use crate::{
    case::plan::{PlanNumber, RailUse},
    theme::{self, Palette},
};

/// What the stage can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanCommand {
    /// Put a step in force, counted from 0.
    Step(usize),
    /// State a number, or take it back.
    Number(PlanNumber, Option<f64>),
    /// State what the rail is for, or leave it to its volts.
    Use(Option<RailUse>),
    /// Say that the rail's volts cannot be known, so that nobody is asked for them again.
    VoltsUnknowable(bool),
    /// Say whether the narrowest trace is known to lie on the surface.
    TraceOnSurface(bool),
    /// Loosen a rule, with the reason.
    Override {
        /// The rule, by its name in the rule book.
        rule: String,
        /// Its value instead.
        value: f64,
        /// Why.
        reason: String,
    },
    /// Take an override back.
    DropOverride(usize),
    /// Answer a question before filming.
    Ready(String, bool),
}

/// What the screen knows about the plan.
#[derive(Clone, Debug, Default)]
pub struct PlanScreen {
    /// A number being typed.
    pub typing: Option<(PlanNumber, String)>,
    /// The rule to be loosened, the value and the reason being typed.
    pub loosening: (String, String, String),
    /// Why something was refused, one line.
    pub refused: Option<String>,
    /// Whether the list before filming is open.
    pub ready_shown: bool,
}

/// The upper part of the middle at the injection stage.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    ScrollArea::vertical().id_salt("plan").auto_shrink(false).show(ui, |ui| {
        inputs::show(ui, session, screen, out);
        theme::hairline(ui);
        ladder::show(ui, session, out);
        overrides::show(ui, session, screen, out);
    });
}

/// How high the upper part is.
pub fn height(available: f32) -> f32 {
    (available * 0.5).clamp(180.0, 400.0)
}

/// The middle of a case without a take: the plan, and the board below it.
pub fn without_take(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    let height = height(ui.available_height());
    Panel::top("plan").frame(bar).exact_size(height).resizable(false).show(ui, |ui| show(ui, session, screen, out));
    CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
        if let Some(face) = session.face().or_else(|| session.board.faces.first()) {
            let rail = session.document.case.rail.clone();
            face_view::show(ui, session, face, screen, Some(&rail), false, out);
        }
    });
}
