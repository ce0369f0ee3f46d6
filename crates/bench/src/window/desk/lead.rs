//! The lead's desk: what waits for a signature, verdicts, time, parts, comebacks.

use egui::{RichText, Ui};

use super::{
    super::command::Command,
    DeskCommand, Page,
    bars::{self, Bar},
};
use crate::{
    library::{Found, summary::Summary},
    theme::{self, Palette, SMALL},
};

/// Most bars of a kind.
const MOST_BARS: usize = 8;
/// Most cases of a kind that are listed here; the list itself has all.
const MOST_LISTED: usize = 8;

/// The plots, in the order in which they are drawn and written.
pub fn plots(summary: &Summary) -> Vec<(&'static str, Vec<Bar>)> {
    let count = |n: usize| Bar { name: String::new(), value: n as f64, words: n.to_string() };
    let verdicts = summary.verdicts.iter().map(|(words, n)| Bar { name: words.clone(), ..count(*n) }).collect();
    let several = summary.parts_used.iter().any(|p| p.model != summary.parts_used[0].model);
    let named = |part: &str, model: &str| if several { format!("{part}, {model}") } else { part.to_owned() };
    let parts = summary.parts_used.iter().take(MOST_BARS);
    let parts = parts.map(|p| Bar { name: named(&p.part, &p.model), ..count(p.count) }).collect();
    let minutes = summary.minutes.iter().take(MOST_BARS);
    let minutes = minutes
        .map(|m| Bar { name: m.folder.clone(), value: m.minutes, words: format!("{:.0} min", m.minutes) })
        .collect();
    vec![("Verdicts", verdicts), ("Parts put in anew", parts), ("Minutes at the bench, newest cases", minutes)]
}

/// Draws the desk.
pub(super) fn show(ui: &mut Ui, page: &Page, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let summary = &page.summary;
    ui.label(RichText::new("Lead's desk").strong());
    let text = "Of the cases in the list; practice cases do not count.";
    ui.label(RichText::new(text).size(SMALL).color(p.weak));
    cases(ui, "Waiting for a signature", &summary.waiting, "Nothing waits.", out);
    cases(ui, "Comebacks: the same serial number again", &summary.comebacks, "None.", out);
    for (title, drawn) in plots(summary) {
        theme::hairline(ui);
        theme::section(ui, title);
        if drawn.is_empty() {
            ui.label(RichText::new("Nothing yet.").size(SMALL).color(p.weak));
        }
        bars::show(ui, title, &drawn);
    }
    if let Some(median) = summary.median_minutes {
        let text =
            format!("Half of the cases took {median:.0} minutes or less; breaks over half an hour are left out.");
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(p.weak)).wrap());
    }
    if !summary.faults.is_empty() {
        theme::hairline(ui);
        theme::section(ui, "Cases that cannot be read");
        for (folder, why) in &summary.faults {
            ui.add(egui::Label::new(RichText::new(format!("{folder}: {why}")).size(SMALL).color(p.caution)).wrap());
        }
    }
}

fn cases(ui: &mut Ui, title: &str, found: &[Found], none: &str, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    theme::hairline(ui);
    theme::section(ui, format!("{title}: {}", found.len()));
    if found.is_empty() {
        ui.label(RichText::new(none).size(SMALL).color(p.weak));
    }
    for case in found.iter().take(MOST_LISTED) {
        let row = &case.row;
        let name = if row.name.is_empty() { &row.folder } else { &row.name };
        let verdict = row.verdict.map_or("no verdict", |v| v.words());
        let button = egui::Button::new(
            RichText::new(format!("{name}: {verdict}, {}", row.opened.get(..10).unwrap_or(&row.opened))).size(SMALL),
        )
        .wrap();
        if ui.add(button).on_hover_text("Opens the case").clicked() {
            out.push(Command::Desk(DeskCommand::Case(row.folder.clone())));
        }
    }
    if found.len() > MOST_LISTED {
        let more = format!("and {} more", found.len() - MOST_LISTED);
        ui.label(RichText::new(more).size(SMALL).color(p.weak));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::summary::PartUse;

    #[test]
    fn models_are_named_only_where_they_differ() {
        let part = |model: &str| PartUse { model: model.into(), part: "C12".into(), count: 2 };
        let one = Summary { parts_used: vec![part("radio")], ..Summary::default() };
        assert_eq!(plots(&one)[1].1[0].name, "C12");
        let two = Summary { parts_used: vec![part("radio"), part("logger")], ..Summary::default() };
        assert_eq!(plots(&two)[1].1[1].name, "C12, logger");
    }
}
