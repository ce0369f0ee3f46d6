//! The row above the board: which takes, how they are laid out, and at which moment.

use egui::{ComboBox, RichText, Ui};

use super::{
    super::{command::Command, screen::Screen, session::Session, words},
    CompareCommand, How, act,
};
use crate::theme::{Palette, SMALL};

/// Draws the row.
pub fn show(ui: &mut Ui, session: &Session, screen: &Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let compare = &screen.compare;
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Repair check").strong());
        let Some((before, after)) = act::pair(&session.document.case, compare) else {
            let words = "A take before and a take after prove that the short is gone.";
            ui.label(RichText::new(words).size(SMALL).color(p.weak));
            return;
        };
        let names: Vec<&str> =
            session.document.case.takes.iter().filter(|t| !t.shows.is_plain()).map(|t| t.name.as_str()).collect();
        choice(ui, "before", &before, &names, out, CompareCommand::Before);
        choice(ui, "after", &after, &names, out, CompareCommand::After);
        for how in How::ALL {
            if ui.selectable_label(compare.how == how, how.words()).clicked() {
                out.push(Command::Compare(CompareCommand::How(how)));
            }
        }
        if compare.how == How::Blink {
            let mut blinking = compare.blinking;
            if ui.checkbox(&mut blinking, "by itself").clicked() {
                out.push(Command::Compare(CompareCommand::Blink(blinking)));
            }
            if ui.button("Show the other").clicked() {
                out.push(Command::Compare(CompareCommand::Other));
            }
        }
        if compare.how != How::Difference {
            let text = format!("at {}", words::plain(compare.since_onset_s, "s"));
            for (at_time, text) in [(false, "rise at the end".to_owned()), (true, text)] {
                if ui.selectable_label(compare.at_time == at_time, text).clicked() {
                    out.push(Command::Compare(CompareCommand::AtTime(at_time)));
                }
            }
        }
        if ui.button("Fit").on_hover_text("Fit the board: F").clicked() {
            out.push(Command::Compare(CompareCommand::Fit));
        }
    });
}

fn choice(
    ui: &mut Ui,
    what: &str,
    chosen: &str,
    names: &[&str],
    out: &mut Vec<Command>,
    command: impl Fn(String) -> CompareCommand,
) {
    let response = ComboBox::from_id_salt(("compare", what))
        .selected_text(format!("{what}: {chosen}"))
        .show_ui(ui, |ui| {
            for name in names {
                if ui.selectable_label(*name == chosen, *name).clicked() {
                    out.push(Command::Compare(command((*name).to_owned())));
                }
            }
        })
        .response;
    let _ = response.accessible_name(format!("Take {what}: {chosen}"));
}
