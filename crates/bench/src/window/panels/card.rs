//! The limits card: what may be injected, each limit with its reason, and the present readings against it.

use egui::{Align, Frame, Layout, RichText, Stroke, Ui, vec2};
use joulemark_frames::Unit;

use super::super::{
    command::Command,
    limits::{self, STEP_JOULES, STOP_DEG_C},
    map::readout,
    screen::Screen,
    session::Session,
    words,
};
use crate::theme::{self, LARGE, Palette, SMALL};

/// Draws the card. `hottest` is the hottest value of the current frame, in the take's unit.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, hottest: Option<f32>, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let rail = &session.document.case.rail;
    ui.horizontal(|ui| {
        let nominal = match session.board.rail(rail).map(|r| r.nominal_volts) {
            Some(Some(volts)) => format!(", nominal {volts} V"),
            Some(None) => ", nominal unknown".to_owned(),
            None => String::new(),
        };
        theme::section(ui, format!("Limits, step 1{nominal}"));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let lit = screen.selection.rail.as_ref() == Some(rail);
            let response = ui
                .selectable_label(lit, RichText::new(format!("rail {rail}")).strong())
                .on_hover_text("Lights every part on this rail and on rails joined to it");
            if response.hovered() {
                screen.hover_next.rail = Some(rail.clone());
            }
            if response.clicked() {
                out.push(Command::SelectRail(rail.clone()));
            }
        });
    });
    let step = match limits::first_step(&session.board, rail) {
        Ok(step) => step,
        Err(refusal) => {
            let frame = Frame::new().stroke(Stroke::new(2.0, p.refusal)).inner_margin(8).corner_radius(3);
            frame.show(ui, |ui| ui.label(RichText::new(refusal).color(p.refusal)));
            return;
        }
    };
    let sign = if step.negative { "\u{2212}" } else { "" };
    figure(ui, &format!("{sign}{} V", step.volts), &step.volts_because);
    figure(ui, &format!("{} A", step.amps), &step.amps_because);
    let view = session.view();
    let relative = view.is_some_and(|v| v.take.unit == Unit::Relative);
    if relative {
        let seconds = STEP_JOULES / (step.volts * step.amps);
        let because = format!("at most, about {seconds:.0} s at these limits; a relative take has no temperature");
        figure(ui, &format!("{STEP_JOULES} J"), &because);
    } else {
        figure(ui, &format!("{STOP_DEG_C} \u{b0}C"), "stop, on the camera's display");
    }
    if step.negative {
        let text = "Negative rail: red to ground, black to the rail.";
        ui.label(RichText::new(text).size(SMALL).color(p.caution));
    }
    if let Some(view) = view {
        let now = limits::now(&view.take.timeline, screen.frame, Some(&step));
        let reading = |value: Option<f64>, unit: &str| {
            value.map_or_else(|| format!("{unit} not logged"), |v| words::plain(v, unit))
        };
        let doing = if now.injecting { "injecting" } else { "not injecting" };
        let text = format!("now  {}  {}  {doing}", reading(now.volts, "V"), reading(now.amps, "A"));
        ui.label(RichText::new(text).size(SMALL));
        if now.over.is_empty() {
            let ok =
                if now.volts.is_some() && now.amps.is_some() { "within these limits" } else { "cannot be compared" };
            ui.label(RichText::new(ok).size(SMALL).color(p.weak));
        } else {
            let frame = Frame::new().stroke(Stroke::new(2.0, p.caution)).inner_margin(6).corner_radius(3);
            frame.show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.label(RichText::new("Over step 1").strong().color(p.caution));
                for over in &now.over {
                    ui.label(RichText::new(over).size(SMALL));
                }
            });
        }
        if let Some(hottest) = hottest.filter(|_| readout::absolute(view)) {
            let text = format!("hottest pixel {:.1} \u{b0}C", f64::from(hottest) - readout::ZERO_CELSIUS_K);
            ui.label(RichText::new(text).size(SMALL))
                .on_hover_text("Uncorrected: a small or shiny part is hotter than its pixel says");
        }
    }
}

fn figure(ui: &mut Ui, figure: &str, because: &str) {
    let p = Palette::of(ui);
    ui.horizontal(|ui| {
        ui.allocate_ui_with_layout(vec2(84.0, LARGE + 4.0), Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_width(84.0);
            ui.label(RichText::new(figure).size(LARGE));
        });
        ui.add(egui::Label::new(RichText::new(because).size(SMALL).color(p.weak)).wrap());
    });
}
