//! The tools of the stage in force: one row above the map.

use egui::{ComboBox, DragValue, RichText, Ui};
use joulemark_frames::Unit;

use super::super::{
    command::Command,
    document::Edit,
    lining::LiningCommand,
    screen::Screen,
    session::{Session, TakeView},
    stage::Stage,
    words,
};
use crate::theme::{Palette, SMALL};

/// Draws the row.
pub fn show(ui: &mut Ui, session: Option<&Session>, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(screen.stage.words()).strong());
        let view = session.and_then(Session::view);
        match (screen.stage, session, view) {
            (Stage::Capture, Some(session), Some(view)) => capture(ui, session, view, screen, out),
            (Stage::HotSpots, _, Some(view)) => hot_spots(ui, view, screen, out),
            (Stage::Suspects, Some(session), _) => {
                rail(ui, session, out);
                leads(ui, session, screen, out);
                if ui.button("Locate now").clicked() {
                    out.push(Command::Locate);
                }
            }
            (stage, ..) => {
                ui.label(RichText::new(stage.sentence()).size(SMALL).color(p.weak));
            }
        }
    });
}

/// The shorted rail, to choose.
pub fn rail(ui: &mut Ui, session: &Session, out: &mut Vec<Command>) {
    let chosen = &session.document.case.rail;
    let response = ComboBox::from_id_salt("rail")
        .selected_text(format!("rail: {chosen}"))
        .show_ui(ui, |ui| {
            for rail in &session.board.rails {
                let volts = rail.nominal_volts.map_or("nominal unknown".to_owned(), |v| format!("{v} V"));
                if ui.selectable_label(rail.name == *chosen, format!("{}  {volts}", rail.name)).clicked() {
                    out.push(Command::Edit(Edit::Rail(rail.name.clone())));
                }
            }
        })
        .response;
    let _ =
        response.accessible_name(format!("Rail: {chosen}")).on_hover_text("The shorted rail, into which is injected");
}

/// Resistance of the supply's leads.
pub fn leads(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let said = session.document.case.lead_ohms.map_or_else(String::new, |v| v.to_string());
    let label = ui.label("leads, ohms");
    let mut typed = screen.fields.lead_ohms.clone().unwrap_or_else(|| said.clone());
    let field = egui::TextEdit::singleline(&mut typed).desired_width(56.0).hint_text("unknown");
    let response = ui
        .add(field)
        .labelled_by(label.id)
        .on_hover_text("Resistance of both leads together; without it the power at the board is only bounded");
    if response.changed() {
        screen.fields.lead_ohms = Some(typed.clone());
    }
    if response.lost_focus()
        && let Some(text) = screen.fields.lead_ohms.take()
    {
        let text = text.trim().replace(',', ".");
        match text.parse::<f64>() {
            _ if text.is_empty() => out.push(Command::Edit(Edit::LeadOhms(None))),
            Ok(v) if v.is_finite() && v >= 0.0 => out.push(Command::Edit(Edit::LeadOhms(Some(v)))),
            _ => screen.said = Some(format!("'{text}' is not a resistance in ohms; nothing was changed")),
        }
    }
}

fn capture(ui: &mut Ui, session: &Session, view: &TakeView, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let Some(entry) = session.document.take(&session.shown) else {
        return;
    };
    let shape = view.take.stack.shape();
    let counts = match (entry.counts, view.take.unit) {
        (_, Unit::Relative) => "relative, no kelvin".to_owned(),
        (Some(law), _) => format!("counts: {law}"),
        (None, Unit::Kelvin) => "kelvin-sized".to_owned(),
    };
    let text = format!("{} frames of {} x {}, {counts}", shape.frames, shape.width_px, shape.height_px);
    ui.label(RichText::new(text).size(SMALL).color(p.weak));
    let first = entry.inject_from.or_else(|| view.take.timeline.first_injected()).unwrap_or(0);
    let label = ui.label("injection starts at frame");
    let mut typed = screen.fields.inject_from.unwrap_or(first);
    let response = ui
        .add(DragValue::new(&mut typed).range(0..=shape.frames.saturating_sub(1)))
        .labelled_by(label.id)
        .on_hover_text("Drag, or click and type");
    if response.changed() {
        screen.fields.inject_from = Some(typed);
    }
    let set = |frame| Command::Edit(Edit::InjectFrom { take: session.shown.clone(), frame });
    if (response.drag_stopped() || response.lost_focus())
        && let Some(frame) = screen.fields.inject_from.take().filter(|&f| f != first)
    {
        out.push(set(Some(frame)));
    }
    if ui.button("Use current frame").on_hover_text(format!("Frame {}", screen.frame)).clicked() {
        out.push(set(Some(screen.frame)));
    }
    if entry.inject_from.is_some() && entry.log.is_some() && ui.button("As the log says").clicked() {
        out.push(set(None));
    }
    let open = super::before_filming::open(session);
    let words =
        if open == 0 { "Before filming: all seen to".to_owned() } else { format!("Before filming: {open} open") };
    if ui
        .selectable_label(screen.plan.ready_shown, words)
        .on_hover_text("What to see to before the next take")
        .clicked()
    {
        out.push(Command::BeforeFilming(!screen.plan.ready_shown));
    }
    if ui.button("Line up").on_hover_text("L: pairs of points in the picture and on the drawing").clicked() {
        out.push(Command::Lining(LiningCommand::Open));
    }
    let pairs = match &view.alignment {
        Some(alignment) => {
            format!("{} point pairs, {} apart", entry.pairs.len(), words::plain(alignment.rms_mm(), "mm"))
        }
        None => view.alignment_fault.clone().unwrap_or_default(),
    };
    ui.label(RichText::new(pairs).size(SMALL).color(p.weak));
    if let Some(pair) = view.alignment.as_ref().and_then(|a| a.suspicious_pair()) {
        let text = format!("pair {} does not fit the others: correct or remove it", pair + 1);
        ui.label(RichText::new(text).size(SMALL).color(p.caution));
    }
    if !view.take.notes.is_empty() {
        let notes: Vec<String> = view.take.notes.iter().map(ToString::to_string).collect();
        ui.label(RichText::new(format!("{} notes from reading", notes.len())).size(SMALL).color(p.caution))
            .on_hover_text(notes.join("\n"));
    }
}

fn hot_spots(ui: &mut Ui, view: &TakeView, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let Some(located) = &view.located else {
        ui.label(RichText::new(Stage::HotSpots.sentence()).size(SMALL).color(p.weak));
        return;
    };
    if located.hot_spots.is_empty() {
        ui.label("None: nothing on this take rises above its own noise.");
    }
    for (index, spot) in located.hot_spots.iter().enumerate() {
        let text = format!("{}   {}", index + 1, words::with_doubt(spot.rise.end, spot.rise.end_se, located.unit));
        let chance = format!("{:.1e} of healthy boards would show as much anywhere", spot.q_value);
        let response = ui.selectable_label(screen.selection.spot == Some(index), text).on_hover_text(chance);
        if response.hovered() {
            screen.hover_next.spot = Some(index);
        }
        if response.clicked() {
            out.push(Command::SelectSpot(index));
        }
    }
    let netd = words::plain(located.noise.netd, words::unit(located.unit));
    ui.label(RichText::new(format!("noise of one pixel {netd}")).size(SMALL).color(p.weak));
}
