//! The limits card: what may be injected at the step in force, each limit in large figures with its reason in the same
//! line of sight, and the present readings against it.

use egui::{Align, Frame, Layout, Rect, RichText, Sense, Stroke, Ui, WidgetInfo, vec2};

use super::super::{
    command::Command,
    map::readout,
    plan::{
        PlanCommand,
        view::{Figure, PlanView},
    },
    screen::Screen,
    session::Session,
    words,
};
use crate::{
    case::books::Books,
    theme::{self, LARGE, Palette, SMALL, SPACE},
};

/// Draws the card. `hottest` is the hottest value of the current frame, in the take's unit.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, hottest: Option<f32>, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let judged = session.judged();
    let plan = &judged.plan;
    head(ui, session, screen, out);
    if !plan.refusals.is_empty() {
        let frame = Frame::new().stroke(Stroke::new(2.0, p.refusal)).inner_margin(8).corner_radius(3);
        frame.show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.label(RichText::new("Do not inject").size(LARGE).color(p.refusal));
            for refusal in &plan.refusals {
                ui.add(egui::Label::new(RichText::new(refusal).color(p.refusal)).wrap());
            }
        });
        return;
    }
    let Some((at, step)) = plan.in_force(session.document.case.plan.step) else {
        ui.label("No step is allowed by these limits.");
        return;
    };
    steps(ui, plan, at, out);
    figure(ui, "Volts", &step.volts);
    figure(ui, "Amps", &step.amps);
    figure(ui, "Stop", &step.stop);
    figure(ui, "For", &step.dwell);
    if session.rail_is_negative() {
        let text = "Negative rail: red to ground, black to the rail.";
        ui.label(RichText::new(text).size(SMALL).strong().color(p.caution));
    }
    for over in session.document.case.plan.overrides.iter().filter(|o| o.rail == session.document.case.rail) {
        let rule = Books::in_force().limits.rule(&over.rule);
        let (name, unit) = rule.map_or((over.rule.as_str(), ""), |r| (r.words.as_str(), r.unit.as_str()));
        let text = format!("Override in force: {name}, {} {unit}, because {}", over.value, over.reason);
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).strong().color(p.caution)).wrap());
    }
    if let Some(note) = &step.note {
        ui.add(egui::Label::new(RichText::new(note).size(SMALL).color(p.caution)).wrap());
    }
    now(ui, session, screen, hottest);
    events(ui, session, screen, out);
}

fn head(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let rail = &session.document.case.rail;
    ui.horizontal(|ui| {
        let nominal = match session.rail().map(|r| r.nominal_volts) {
            Some(Some(volts)) => format!(", nominal {volts} V"),
            Some(None) => ", nominal unknown".to_owned(),
            None => String::new(),
        };
        theme::section(ui, format!("Limits{nominal}"));
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
}

/// Which step is in force, and the others to choose from.
fn steps(ui: &mut Ui, plan: &PlanView, at: usize, out: &mut Vec<Command>) {
    ui.horizontal(|ui| {
        ui.label(RichText::new(format!("Step {} of {}", at + 1, plan.steps.len())).strong());
        for step in (0..plan.steps.len()).filter(|_| plan.steps.len() > 1) {
            let response = ui.selectable_label(step == at, (step + 1).to_string());
            let response = response.accessible_name(format!("Put step {} in force", step + 1));
            if response.clicked() && step != at {
                out.push(Command::Plan(PlanCommand::Step(step)));
            }
        }
    });
}

/// A limit, its reason beside it; rule and source on hover and on focus.
fn figure(ui: &mut Ui, name: &str, figure: &Figure) {
    let p = Palette::of(ui);
    let row = ui.horizontal(|ui| {
        ui.allocate_ui_with_layout(vec2(92.0, LARGE + 4.0), Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_width(92.0);
            ui.label(RichText::new(&figure.text).size(LARGE));
        });
        ui.add(egui::Label::new(RichText::new(&figure.because).size(SMALL).color(p.weak)).wrap());
    });
    let rect: Rect = row.response.rect;
    let response = ui.interact(rect, ui.scope_id().with(("limit", name)), Sense::focusable_noninteractive());
    let aloud = format!("{name} up to {}: {}. {}", figure.text, figure.because, figure.source);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Label, true, &aloud));
    let more = format!("{}\n{}", figure.because, figure.source);
    if response.has_focus() {
        ui.painter().rect_stroke(rect, 2.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
        response.show_tooltip_text(more);
    } else {
        let _ = response.on_hover_text(more);
    }
}

/// The log and the hottest pixel at the current frame.
fn now(ui: &mut Ui, session: &Session, screen: &Screen, hottest: Option<f32>) {
    let p = Palette::of(ui);
    let Some(view) = session.view() else {
        return;
    };
    let timeline = &view.take.timeline;
    let at = |values: &[Option<f64>]| values.get(screen.frame).copied().flatten();
    let (volts, amps) = (at(&timeline.volts), at(&timeline.amps));
    let reading =
        |value: Option<f64>, unit: &str| value.map_or_else(|| format!("{unit} not logged"), |v| words::plain(v, unit));
    let injecting = timeline.injecting.get(screen.frame).copied().unwrap_or(false);
    let doing = if injecting { "injecting" } else { "not injecting" };
    let text = format!("now  {}  {}  {doing}", reading(volts, "V"), reading(amps, "A"));
    ui.label(RichText::new(text).size(SMALL));
    if let Some(hottest) = hottest.filter(|_| readout::absolute(view)) {
        let celsius = f64::from(hottest) - readout::ZERO_CELSIUS_K;
        let judged = session.judged();
        let stop = judged.plan.in_force(session.document.case.plan.step).map(|(_, s)| s.stop.text.clone());
        let most = judged.bound_c.as_ref().and_then(|b| b.get(screen.frame));
        let most = most.map_or_else(String::new, |c| format!(", a part {c:.0} \u{b0}C at most"));
        let text = format!("hottest pixel {celsius:.1} \u{b0}C{most}; stop at {}", stop.unwrap_or_default());
        ui.add(egui::Label::new(RichText::new(text).size(SMALL)).wrap()).on_hover_text(
            "A small or shiny part is hotter than its pixel says. The bound counts with the smallest part of the rail and \
             an emissivity of 0.8; bare metal may be hotter still.",
        );
    }
    let here = session.watch_at(screen.frame);
    if here.is_empty() {
        let ok = if volts.is_some() && amps.is_some() { "within these limits" } else { "cannot be compared in full" };
        ui.label(RichText::new(ok).size(SMALL).color(p.weak));
        return;
    }
    let heavy = here.iter().any(|e| e.stop);
    let (title, colour) = if heavy { ("Stop", p.refusal) } else { ("Look out", p.caution) };
    let frame = Frame::new().stroke(Stroke::new(2.0, colour)).inner_margin(6).corner_radius(3);
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(RichText::new(title).strong().size(if heavy { LARGE } else { theme::BODY }).color(colour));
        for event in &here {
            ui.add(egui::Label::new(RichText::new(&event.words).size(SMALL)).wrap());
        }
    });
}

/// What the plan noticed in this take, each to jump to.
fn events(ui: &mut Ui, session: &Session, screen: &Screen, out: &mut Vec<Command>) {
    let all = &session.judged().watch;
    if all.is_empty() {
        return;
    }
    let count = all.len();
    let title = format!("In this take, against the plan: {count} thing{}", if count == 1 { "" } else { "s" });
    egui::CollapsingHeader::new(RichText::new(title).size(SMALL)).id_salt("watch events").show(ui, |ui| {
        egui::ScrollArea::vertical().id_salt("watch").max_height(96.0).auto_shrink([false, true]).show(ui, |ui| {
            for event in all {
                let here = event.frames.contains(&screen.frame);
                let text = RichText::new(&event.said).size(SMALL);
                let response = ui.add(egui::Button::selectable(here, text).wrap());
                if response.on_hover_text("Shows that moment").clicked() {
                    out.push(Command::SetFrame(*event.frames.start()));
                }
            }
        });
    });
    ui.add_space(SPACE / 4.0);
}
