//! Who is suspected for the lit hot spot, with probability, reasons and group; what is not on the drawing; and nothing.

use egui::{Align2, Rect, RichText, Sense, Stroke, Ui, WidgetInfo, vec2};
use joulemark_locate::{Located, SpotRole, Suspect};

use super::super::{
    command::Command,
    drawing::reading,
    next::Next,
    screen::Screen,
    session::{Session, TakeView},
    words,
};
use crate::theme::{self, Palette, SMALL, SPACE};

/// Suspects below this are counted, not listed.
const LISTED_FROM: f64 = 0.01;

/// Draws the list.
pub fn show(ui: &mut Ui, session: &Session, view: &TakeView, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let Some(located) = &view.located else {
        theme::section(ui, "Suspects");
        if let Some(look_for) = view.inputs.shows.look_for() {
            let text =
                format!("This take shows {}. {look_for} Nothing is computed from it.", view.inputs.shows.words());
            ui.add(egui::Label::new(text).wrap());
            return;
        }
        ui.label("Suspects appear once the take is located.");
        return;
    };
    if located.hot_spots.is_empty() {
        theme::section(ui, "Suspects");
        ui.label("Nobody is suspected: no place on this take rises above its own noise.");
        warnings(ui, &located.warnings);
        return;
    }
    let spot = screen.lit_spot().unwrap_or(0).min(located.hot_spots.len() - 1);
    let count = located.hot_spots.len();
    let title = if count > 1 {
        format!("Suspects for hot spot {} of {count}", spot + 1)
    } else {
        "Suspects for the hot spot".to_owned()
    };
    ui.horizontal(|ui| {
        theme::section(ui, title);
        for other in (0..count).filter(|_| count > 1) {
            let response = ui.selectable_label(other == spot, (other + 1).to_string());
            let response = response.accessible_name(format!("Suspects of hot spot {}", other + 1));
            if response.clicked() {
                out.push(Command::SelectSpot(other));
            }
        }
    });
    let rise = located.hot_spots[spot].rise;
    ui.label(format!("rise {}", words::with_doubt(rise.end, rise.end_se, located.unit)));
    if let Some(pulse) = located.hot_spots[spot].pulse {
        let lag = words::measured(pulse.lag_deg, pulse.lag_se_deg, "degrees");
        ui.label(format!("follows the pulses of {} with a lag of {lag}", words::plain(pulse.period_s, "s")));
    }
    if let Some(alignment) = &view.alignment {
        let at_mm = alignment.to_board(located.hot_spots[spot].centre_px);
        let near = reading::nearest(&session.board, &view.inputs.face, at_mm);
        if !near.is_empty() {
            let text = format!("nearest parts: {}", reading::nearest_in_words(&near));
            ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(p.weak)).wrap());
        }
    }
    let Some(answer) = view.answer(spot) else {
        return;
    };
    if let Some(role) = role(answer.role) {
        ui.label(RichText::new(role).strong());
    }
    if session.out_of_date() {
        ui.label(RichText::new("Out of date: you changed something since.").strong().color(p.caution));
    }
    let listed: Vec<&Suspect> = answer
        .suspects
        .iter()
        .enumerate()
        .filter(|(i, s)| *i == 0 || s.probability >= LISTED_FROM)
        .map(|e| e.1)
        .collect();
    if listed.is_empty() {
        ui.label("No part of the drawing is near this spot.");
    }
    for (rank, suspect) in listed.iter().enumerate() {
        entry(ui, rank, suspect, spot, screen, out);
    }
    let rest = answer.suspects.len() - listed.len();
    if rest > 0 {
        let share: f64 = answer.suspects.iter().map(|s| s.probability).sum::<f64>()
            - listed.iter().map(|s| s.probability).sum::<f64>();
        let text = match rest {
            1 => format!("and 1 more part, {}", words::percent(share.max(0.0))),
            _ => format!("and {rest} more parts, {} together", words::percent(share.max(0.0))),
        };
        ui.label(RichText::new(text).size(SMALL).color(p.weak));
    }
    share(ui, "not on the drawing", answer.off_drawing_probability);
    share(ui, "not the short at all", answer.nothing_probability);
    if let Some(watts) = located.electrical_watts {
        let text = format!("power at the board {}", words::plain(watts, "W"));
        ui.label(RichText::new(text).size(SMALL).color(p.weak));
    }
    ledger(ui, located);
    warnings(ui, &located.warnings);
    repairs(ui, located);
}

/// What the spot is to the current, where that is known.
fn role(role: SpotRole) -> Option<String> {
    match role {
        SpotRole::End => Some("The warm track from the probe ends here.".into()),
        SpotRole::OnPath { towards } => Some(format!("On the track that feeds hot spot {}.", towards + 1)),
        SpotRole::AtProbe => Some("At the probe: move the probe and film again.".into()),
        SpotRole::Own => None,
    }
}

/// Watts per part.
fn ledger(ui: &mut Ui, located: &Located) {
    let Some(ledger) = &located.ledger else { return };
    theme::hairline(ui);
    theme::section(ui, "Heat ledger");
    for entry in &ledger.entries {
        let share = entry.share.map(|s| format!(", {} of the power", words::percent(s))).unwrap_or_default();
        let watts = words::measured(entry.watts, entry.watts_se, "W");
        ui.label(RichText::new(format!("{}  {watts}{share}", entry.part)).size(SMALL));
    }
    if ledger.elsewhere_watts > 0.0 {
        let text = format!("on no part of the drawing  {}", words::plain(ledger.elsewhere_watts, "W"));
        ui.label(RichText::new(text).size(SMALL));
    }
}

/// What was done to the recording.
fn repairs(ui: &mut Ui, located: &Located) {
    if located.repairs.is_empty() {
        return;
    }
    theme::hairline(ui);
    theme::section(ui, "Repaired");
    for repaired in &located.repairs {
        ui.add(egui::Label::new(RichText::new(&repaired.did).size(SMALL)).wrap());
    }
}

fn entry(ui: &mut Ui, rank: usize, suspect: &Suspect, spot: usize, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let selected = screen.part_selected(&suspect.part);
    let lit = selected || screen.part_hovered(&suspect.part);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 38.0), Sense::click());
    response.widget_info(|| {
        let label = format!("Suspect {}, {}", suspect.part, words::percent_aloud(suspect.probability));
        WidgetInfo::selected(egui::Role::Button, true, selected, label)
    });
    let fill = match (selected, lit || response.hovered()) {
        (true, _) => p.selected,
        (false, true) => p.hovered,
        (false, false) => p.panel,
    };
    ui.painter().rect_filled(rect, 3.0, fill);
    if selected {
        ui.painter().rect_filled(rect.with_max_x(rect.left() + 3.0), 0.0, p.accent);
    }
    if response.has_focus() {
        ui.painter().rect_stroke(rect, 3.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    let line = rect.shrink2(vec2(10.0, 0.0));
    let y = rect.top() + 15.0;
    let text = |x: f32, align, words: &str, font, colour| {
        ui.painter().text(egui::pos2(x, y), align, words, font, colour);
    };
    text(line.left(), Align2::LEFT_CENTER, &(rank + 1).to_string(), theme::small(), p.weak);
    text(line.left() + 20.0, Align2::LEFT_CENTER, &suspect.part, theme::body(), p.text);
    text(line.right(), Align2::RIGHT_CENTER, &words::percent(suspect.probability), theme::body(), p.text);
    bar(
        ui,
        Rect::from_min_max(egui::pos2(line.left() + 20.0, rect.bottom() - 9.0), line.right_bottom()),
        suspect.probability,
    );
    if response.hovered() {
        screen.hover_next.part = Some(suspect.part.clone());
    }
    if response.clicked() {
        out.push(Command::SelectSuspect { spot, part: suspect.part.clone() });
    }
    if selected || (rank == 0 && screen.selection.part.is_none()) {
        ui.indent(("why", &suspect.part), |ui| {
            for because in &suspect.because {
                ui.add(egui::Label::new(RichText::new(because).size(SMALL)).wrap());
            }
            ui.add_space(SPACE / 2.0);
        });
    }
}

fn bar(ui: &Ui, place: Rect, share: f64) {
    let p = Palette::of(ui);
    let track = Rect::from_min_size(place.min, vec2(place.width(), 4.0));
    ui.painter().rect_filled(track, 2.0, p.hairline);
    let filled = track.with_max_x(track.left() + track.width() * share.clamp(0.0, 1.0) as f32);
    ui.painter().rect_filled(filled, 2.0, p.accent);
}

fn share(ui: &mut Ui, what: &str, probability: f64) {
    let p = Palette::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 30.0), Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(egui::Role::Label, true, format!("{what}, {}", words::percent_aloud(probability)))
    });
    let line = rect.shrink2(vec2(10.0, 0.0));
    let y = rect.top() + 11.0;
    let at = egui::pos2(line.left() + 20.0, y);
    ui.painter().text(at, Align2::LEFT_CENTER, what, theme::small(), p.weak);
    let at = egui::pos2(line.right(), y);
    ui.painter().text(at, Align2::RIGHT_CENTER, words::percent(probability), theme::small(), p.text);
    bar(ui, Rect::from_min_max(egui::pos2(line.left() + 20.0, rect.bottom() - 8.0), line.right_bottom()), probability);
}

fn warnings(ui: &mut Ui, warnings: &[String]) {
    if warnings.is_empty() {
        return;
    }
    theme::hairline(ui);
    theme::section(ui, "Worth knowing");
    for warning in warnings {
        ui.add(egui::Label::new(RichText::new(warning).size(SMALL)).wrap());
    }
}

/// The next sensible action, one button and its reason.
pub fn next_button(ui: &mut Ui, next: Option<&Next>, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let Some(next) = next else {
        ui.label(RichText::new("Working\u{2026} you can go on looking around.").size(SMALL).color(p.weak));
        return;
    };
    theme::section(ui, "Next");
    let button = egui::Button::new(RichText::new(&next.words).strong())
        .stroke(Stroke::new(1.5, p.accent))
        .min_size(vec2(ui.available_width(), 32.0))
        .wrap();
    if ui.add(button).clicked() {
        out.push(next.command.clone());
    }
    ui.add(egui::Label::new(RichText::new(&next.because).size(SMALL).color(p.weak)).wrap());
    // One in sight, all on hover: the list of the stage stands above.
    if let Some(first) = next.cautions.first() {
        let caution = egui::Label::new(RichText::new(first).size(SMALL).color(p.caution)).wrap();
        ui.add(caution).on_hover_text(next.cautions.join("\n"));
    }
}
