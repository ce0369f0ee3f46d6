//! What design files hold, and what is to be taken from them, before anything changes.

use egui::{ComboBox, Grid, Id, Modal, RichText, ScrollArea, Ui};

use super::super::{
    command::{Command, Pick},
    drawing::{
        import::{Found, Import, ImportCommand, List, Wish, names},
        toolbar::capital,
    },
};
use crate::{
    board_files::{Design, FileKind, Side, centroid::Column, units::LengthUnit},
    theme::{Palette, SMALL, SPACE},
};

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, import: &Option<Import>, out: &mut Vec<Command>) {
    let Some(import) = import else {
        return;
    };
    let mut wish = import.wish.clone();
    let response = Modal::new(Id::unique("import")).show(ui.ctx(), |ui| {
        ui.set_width(680.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new(format!("Import drawing: {}", names(&wish.files))).strong());
        ui.add_space(SPACE);
        let found = import.found.as_deref();
        let height = ui.ctx().content_rect().height() - 220.0;
        let area = ScrollArea::vertical().max_height(height).min_scrolled_height(height);
        area.show(ui, |ui| match found {
            Some(found) => body(ui, import, found, &mut wish),
            None => {
                ui.label("Reading the file\u{2026}");
            }
        });
        ui.add_space(2.0 * SPACE);
        let ready = found.is_some_and(|f| f.design.is_ok() && f.wish == import.wish);
        ui.horizontal(|ui| {
            let take = ui.add_enabled(ready, egui::Button::new("Import"));
            let cancel = ui.button("Cancel");
            // Enter imports; Esc cancels whatever has focus.
            if ready && ui.ctx().memory(|m| m.focused()).is_none() {
                take.request_focus();
            }
            if take.on_disabled_hover_text("Nothing can be taken in yet: see above").clicked() {
                out.push(Command::Import(ImportCommand::Take));
            }
            if cancel.clicked() {
                out.push(Command::Import(ImportCommand::Cancel));
            }
            let more = ui.button("Add a file of the same design\u{2026}");
            if more.on_hover_text("An outline, parts and nets that belong together share their zero").clicked() {
                out.push(Command::Pick(Pick::DesignToo));
            }
        });
    });
    if response.backdrop_response.clicked() {
        out.push(Command::Import(ImportCommand::Cancel));
    } else if wish != import.wish {
        out.push(Command::Import(ImportCommand::Wish(Box::new(wish))));
    }
}

fn body(ui: &mut Ui, import: &Import, found: &Found, wish: &mut Wish) {
    let p = Palette::of(ui);
    let formats: Vec<&str> = found.formats.iter().map(|f| f.map_or("unknown format", FileKind::words)).collect();
    if !formats.is_empty() {
        ui.label(format!("Format: {}", formats.join(", ")));
    }
    match &found.design {
        Ok((design, _)) => {
            ui.label(counts(design));
        }
        Err(error) => {
            let words = RichText::new(format!("Cannot be imported: {error}")).color(p.refusal);
            ui.add(egui::Label::new(words).wrap());
        }
    }
    ui.add_space(SPACE);
    Grid::new("import choices").num_columns(2).spacing([16.0, 6.0]).show(ui, |ui| {
        ui.label(format!("Face {} is", import.face));
        ui.horizontal(|ui| {
            ui.selectable_value(&mut wish.side, Side::Top, "the design's top");
            ui.selectable_value(&mut wish.side, Side::Bottom, "its bottom");
        });
        ui.end_row();
        if found.formats.iter().any(|f| *f != Some(FileKind::Gerber)) {
            unit(ui, found.list.as_ref(), wish);
        }
    });
    if let Some(list) = &found.list {
        ui.add_space(SPACE);
        ui.label(RichText::new("Which column holds what").strong());
        Grid::new("import columns").num_columns(4).spacing([12.0, 6.0]).show(ui, |ui| {
            for (i, column) in Column::ALL.into_iter().enumerate() {
                mapping(ui, list, column, wish);
                if i % 2 == 1 {
                    ui.end_row();
                }
            }
        });
    }
    if let Ok((design, _)) = &found.design
        && !design.nets.is_empty()
    {
        ui.checkbox(&mut wish.every_net, "Take every net as a rail, not only those with names of supplies");
    }
    if let Ok((design, merged)) = &found.design {
        ui.add_space(SPACE);
        ui.label(RichText::new("What importing does").strong());
        for words in design.notes.iter().chain(&merged.words) {
            ui.add(egui::Label::new(RichText::new(format!("\u{2022} {words}")).size(SMALL)).wrap());
        }
    }
}

/// How much of everything.
pub fn counts(design: &Design) -> String {
    let below = design.parts.iter().filter(|p| p.side == Side::Bottom).count();
    let supplies = design.nets.iter().filter(|n| n.looks_like_supply()).count();
    let outline = design.outline.as_ref().map_or("none".to_owned(), |o| format!("{} corners", o.len()));
    format!(
        "Parts: {} ({below} on the bottom). Nets: {} ({supplies} with names of supplies). Outline: {outline}. Cut-outs: {}.",
        design.parts.len(),
        design.nets.len(),
        design.cutouts.len()
    )
}

fn unit(ui: &mut Ui, list: Option<&List>, wish: &mut Wish) {
    let p = Palette::of(ui);
    ui.label("Lengths in");
    ui.vertical(|ui| {
        let found = list.map_or("as the file says".to_owned(), |l| format!("{} (as found)", l.unit.unit.words()));
        let shown = wish.choices.unit.map_or(found.clone(), |u| u.words().to_owned());
        let choice = ComboBox::from_id_salt("import unit").width(220.0).selected_text(shown).show_ui(ui, |ui| {
            ui.selectable_value(&mut wish.choices.unit, None, found);
            for unit in LengthUnit::ALL {
                ui.selectable_value(&mut wish.choices.unit, Some(unit), unit.words());
            }
        });
        let _ = choice.response.accessible_name("Unit of lengths");
        if let Some(list) = list {
            let sure = if list.unit.stated { "Stated" } else { "A guess" };
            let why = RichText::new(format!("{sure}: {}", list.unit.reason)).size(SMALL).color(p.weak);
            ui.add(egui::Label::new(why).wrap());
        }
    });
    ui.end_row();
}

/// Which column holds one thing.
fn mapping(ui: &mut Ui, list: &List, column: Column, wish: &mut Wish) {
    ui.label(capital(column.words()));
    let at = list.columns.at(column);
    let name = |i: usize| list.header.get(i).map_or("", String::as_str).to_owned();
    let mut chosen = at;
    let shown = at.map_or("none".to_owned(), name);
    let choice = ComboBox::from_id_salt(("import column", column.words())).width(170.0).selected_text(shown);
    let choice = choice.show_ui(ui, |ui| {
        ui.selectable_value(&mut chosen, None, "none");
        for i in 0..list.header.len() {
            ui.selectable_value(&mut chosen, Some(i), name(i));
        }
    });
    let _ = choice.response.accessible_name(format!("Column that holds the {}", column.words()));
    if chosen != at {
        let mut columns = list.columns.clone();
        columns.set(column, chosen);
        wish.choices.columns = Some(columns);
    }
}
