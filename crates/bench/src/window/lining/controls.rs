//! What to do next, the ways of judging, and the pairs with their residuals.

use egui::{RichText, Slider, Ui};
use joulemark_locate::align::AlignmentKind;

use super::{Lining, LiningCommand, Look, Side};
use crate::{
    theme::{Palette, SMALL},
    window::{command::Command, session::Session},
};

pub(super) fn top(ui: &mut Ui, session: &Session, lining: &mut Lining, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let count = session.document.take(&session.shown).map_or(0, |t| t.pairs.len());
    let ask = |out: &mut Vec<Command>, command| out.push(Command::Lining(command));
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Lining up").strong());
        if ui.add_enabled(count > 1, egui::Button::new("Use these pairs")).on_hover_text("U").clicked() {
            ask(out, LiningCommand::Done);
        }
        let refine = egui::Button::new("Refine on the board's edges");
        if ui.add_enabled(count > 1, refine).on_hover_text("R").clicked() {
            ask(out, LiningCommand::Refine);
        }
        ui.separator();
        for (look, words, key) in Look::ALL {
            if ui.selectable_label(lining.look == look, words).on_hover_text(key.name()).clicked() {
                ask(out, LiningCommand::Look(look));
            }
        }
        ui.separator();
        let shown = session.document.take(&session.shown);
        let lined = |t: &&crate::case::TakeEntry| {
            t.pairs.len() > 1 && Some(&t.name) != shown.map(|s| &s.name) && Some(&t.face) == shown.map(|s| &s.face)
        };
        if let Some(from) = session.document.case.takes.iter().rev().find(lined) {
            let button = ui.button(format!("Take over from {}", from.name));
            if button.on_hover_text("If the camera did not move in between").clicked() {
                ask(out, LiningCommand::TakeOver(from.name.clone()));
            }
        }
        if count > 0 && ui.button("Start over").clicked() {
            ask(out, LiningCommand::Clear);
        }
    });
    // On a row of its own: a slider in a row that wraps would be cut at its end.
    let (value, name) = match lining.look {
        Look::Wipe => (&mut lining.wipe, "place of the wipe (, and .)"),
        _ => (&mut lining.opacity, "opacity of the drawing (, and .)"),
    };
    if matches!(lining.look, Look::Wipe | Look::Opacity) {
        ui.horizontal(|ui| {
            ui.add(Slider::new(value, 0.0..=1.0).show_value(false)).accessible_name(name);
            ui.label(RichText::new(name).size(SMALL).color(p.weak));
        });
    }
    let next = match (lining.pending, count) {
        (Some((Side::Picture, _)), _) => "Now click the same point on the drawing: corners snap.",
        (Some((Side::Drawing, _)), _) => "Now click the same point in the picture: the loupe shows it larger.",
        (None, 0) => {
            "Click a corner of the board in the picture, then the same corner on the drawing. Four pairs near the corners are best."
        }
        (None, 1) => "One more pair at least; four near the corners are best.",
        (None, 2 | 3) => "Further pairs, far apart, make it better; four near the corners are best.",
        (None, _) => "Judge it by wipe, opacity or blink; refine it; then use the pairs.",
    };
    ui.label(RichText::new(next).color(p.weak));
    if let Some(said) = &lining.said {
        let response = ui.label(RichText::new(said));
        let _ = response.accessible_name(said);
    }
}

pub(super) fn pairs(ui: &mut Ui, session: &Session, lining: &Lining, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let pairs = session.document.take(&session.shown).map(|t| t.pairs.as_slice()).unwrap_or_default();
    let Some(fit) = &lining.fit else { return };
    let mut text = words(fit.alignment.as_ref(), pairs.len());
    if lining.refined() {
        text += "; refined on the board's edges, so distances are from where the pairs were set";
    }
    ui.label(text);
    ui.horizontal_wrapped(|ui| {
        for (i, pair) in pairs.iter().enumerate() {
            let (text, weight) = match &fit.alignment {
                Ok(a) if i < a.residuals_px().len() => {
                    let worst = pairs.len() > 2 && a.worst_pair().is_some_and(|(w, _)| w == i);
                    let text = format!("{}: {:.1} px, {:.2} mm", i + 1, a.residuals_px()[i], a.residuals_mm()[i]);
                    (if worst { format!("{text}, worst") } else { text }, worst)
                }
                _ => (format!("{}: {:.1}, {:.1} mm", i + 1, pair.x_mm, pair.y_mm), false),
            };
            let text = RichText::new(text).size(SMALL);
            let label = ui.label(if weight { text.strong() } else { text });
            if label.labelled_button(ui, &format!("Remove pair {}", i + 1)) {
                out.push(Command::Lining(LiningCommand::Remove(i)));
            }
        }
    });
    if lining.alignment().is_some() {
        ui.label(
            RichText::new(
                "Ellipses: where a point of the drawing may lie, 95 %. Dashes at pairs: ten times the residual.",
            )
            .size(SMALL)
            .color(p.weak),
        );
    }
}

/// The mapping in words: kind, pairs, residuals, the pair that does not fit.
fn words(alignment: Result<&joulemark_locate::align::Alignment, &String>, count: usize) -> String {
    match alignment {
        Ok(a) => {
            let kind = match a.kind() {
                AlignmentKind::Similarity => "turn, scale and shift (similarity)",
                AlignmentKind::Affine => "with shear (affine)",
                AlignmentKind::Homography => "with perspective (homography)",
            };
            let mut text =
                format!("Mapping {kind} from {count} pairs: {:.1} px, {:.2} mm apart", a.rms_px(), a.rms_mm());
            if let Some((worst, px)) = a.worst_pair().filter(|_| count > 2) {
                text += &format!("; worst: pair {}, {px:.1} px", worst + 1);
            }
            if let Some(bad) = a.suspicious_pair() {
                text += &format!("; pair {} does not fit the others: correct or remove it", bad + 1);
            }
            text
        }
        Err(_) if count < 2 => format!("{count} pairs; two at least give a mapping"),
        Err(why) => why.clone(),
    }
}

/// A small button right behind a label.
trait LabelledButton {
    fn labelled_button(&self, ui: &mut Ui, label: &str) -> bool;
}

impl LabelledButton for egui::Response {
    fn labelled_button(&self, ui: &mut Ui, label: &str) -> bool {
        let response = ui.small_button("\u{d7}").on_hover_text(label);
        let clicked = response.clicked();
        let _ = response.accessible_name(label);
        clicked
    }
}
