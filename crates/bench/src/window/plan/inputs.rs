//! What the plan is worked out from: the rail, what it is for, the supply, the leads, the copper. What is left empty is
//! not known, and makes the plan stricter.

use egui::{ComboBox, RichText, TextEdit, Ui};

use super::{
    super::{command::Command, panels::tools, screen::Screen, session::Session},
    PlanCommand,
};
use crate::{
    case::plan::{PlanNumber, RailUse},
    theme::{Palette, SMALL},
};

/// Draws the form.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let case = &session.document.case;
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Injection").strong());
        tools::rail(ui, session, out);
        let chosen = case.plan.use_of(&case.rail);
        let named = |u: Option<RailUse>| u.map_or("kind: by its volts".to_owned(), |u| format!("kind: {}", u.words()));
        let response = ComboBox::from_id_salt("rail use")
            .selected_text(named(chosen))
            .show_ui(ui, |ui| {
                for choice in std::iter::once(None).chain(RailUse::ALL.map(Some)) {
                    if ui.selectable_label(chosen == choice, named(choice)).clicked() {
                        out.push(Command::Plan(PlanCommand::Use(choice)));
                    }
                }
            })
            .response;
        let _ = response.accessible_name(format!("Rail's {}", named(chosen))).on_hover_text("What the rail feeds");
        if let Some(ohms) = session.ohms_in_words() {
            ui.label(RichText::new(ohms).size(SMALL));
        } else {
            let ask = ui.small_button("No ohms yet: measure");
            if ask.on_hover_text("Opens the readings with the cursor at this rail").clicked() {
                out.push(session.ask_ohms());
            }
        }
        tools::leads(ui, session, screen, out);
        let stated =
            session.rail().is_some_and(|r| r.nominal_volts.is_some()) || case.plan.lowest_of(&case.rail).is_some();
        if !stated && session.rail().is_some() {
            let mut unknowable = case.plan.unknowable_volts.contains(&case.rail);
            let tick = ui.checkbox(&mut unknowable, RichText::new("volts cannot be known").size(SMALL));
            if tick.on_hover_text("The strictest limits stay; you are not asked for its volts again").clicked() {
                out.push(Command::Plan(PlanCommand::VoltsUnknowable(unknowable)));
            }
        }
        let mut surface = case.plan.trace_on_surface;
        let tick = ui.checkbox(&mut surface, RichText::new("trace on the surface").size(SMALL));
        if tick.on_hover_text("Copper inside the board carries less; it counts as inside unless you know").clicked() {
            out.push(Command::Plan(PlanCommand::TraceOnSurface(surface)));
        }
    });
    // A grid, so that a name is never parted from its field at the end of a line.
    let pairs = ((ui.available_width() / 190.0) as usize).clamp(1, PlanNumber::ALL.len());
    egui::Grid::new("plan numbers").num_columns(2 * pairs).spacing([8.0, 4.0]).show(ui, |ui| {
        for (index, number) in PlanNumber::ALL.into_iter().enumerate() {
            field(ui, session, screen, number, out);
            if (index + 1) % pairs == 0 {
                ui.end_row();
            }
        }
    });
    ui.label(RichText::new("Left empty means not known; the plan is then stricter.").size(SMALL).color(p.weak));
    if let Some(refused) = &screen.plan.refused {
        ui.label(RichText::new(refused).size(SMALL).color(p.refusal));
    }
}

fn field(ui: &mut Ui, session: &Session, screen: &mut Screen, number: PlanNumber, out: &mut Vec<Command>) {
    let case = &session.document.case;
    let said = number.of(&case.plan, &case.rail).map_or_else(String::new, |v| v.to_string());
    let typing = screen.plan.typing.as_ref().filter(|(n, _)| *n == number);
    let mut text = typing.map_or_else(|| said.clone(), |(_, text)| text.clone());
    let label = ui.add(egui::Label::new(RichText::new(number.words()).size(SMALL)));
    let response = ui.add(TextEdit::singleline(&mut text).desired_width(40.0)).labelled_by(label.id);
    let response = response.on_hover_text(number.help());
    if response.changed() {
        screen.plan.typing = Some((number, text.clone()));
        screen.plan.refused = None;
    }
    if !response.lost_focus() {
        return;
    }
    let Some((_, text)) = screen.plan.typing.take_if(|(n, _)| *n == number) else {
        return;
    };
    let text = text.trim().replace(',', ".");
    if text == said || ui.input(|i| i.key_pressed(egui::Key::Escape)) {
        return;
    }
    match text.parse::<f64>() {
        _ if text.is_empty() => out.push(Command::Plan(PlanCommand::Number(number, None))),
        Ok(v) if v.is_finite() && v >= 0.0 => out.push(Command::Plan(PlanCommand::Number(number, Some(v)))),
        _ => {
            let words = number.words();
            screen.plan.refused = Some(format!("'{text}' is not a number for {words}; nothing was changed"));
        }
    }
}
