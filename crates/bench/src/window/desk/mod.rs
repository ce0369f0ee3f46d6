//! The shop's library in the window: finding cases, and the lead's desk beside it. The library computes; this shows.

mod bars;
mod lead;
mod list;
pub mod svg;
pub mod work;

use std::{collections::HashMap, path::PathBuf, sync::Arc};

use egui::{CentralPanel, ColorImage, Frame, Panel, RichText, TextEdit, TextureHandle, Ui};

use super::command::{Command, Pick};
use crate::{
    library::{Found, Refreshed, export::What, summary::Summary},
    theme::{self, Palette, SMALL},
};

/// What a search found.
#[derive(Clone, Debug)]
pub struct Page {
    /// The library's folder.
    pub folder: PathBuf,
    /// What was searched for.
    pub text: String,
    /// Cases, the newest first.
    pub found: Vec<Found>,
    /// What the lead sees of them.
    pub summary: Summary,
    /// What was done to the index on the way.
    pub refreshed: Refreshed,
}

/// What the screen knows about the library.
#[derive(Default)]
pub struct DeskScreen {
    /// What is being typed.
    pub text: String,
    /// What was found, or one line; `None` until the first answer.
    pub page: Option<Result<Arc<Page>, String>>,
    /// Small pictures by case folder.
    pub pictures: HashMap<String, TextureHandle>,
    /// Whether a folder has to be chosen first.
    pub no_folder: bool,
    /// Whether earlier cases count when suspects are ranked.
    pub earlier_count: bool,
    /// Whether the keyboard is to go to the search.
    pub focus: bool,
}

impl std::fmt::Debug for DeskScreen {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("DeskScreen").field("text", &self.text).field("page", &self.page).finish_non_exhaustive()
    }
}

/// Small pictures as they come from the background.
pub type Pictures = Vec<(String, ColorImage)>;

/// What the desk can ask for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DeskCommand {
    /// Open it.
    Open,
    /// Back to the case.
    Close,
    /// Search for what is typed.
    Search,
    /// Throw the index away and read every case.
    Rebuild,
    /// Use that folder as the library from now on.
    Folder(PathBuf),
    /// Let earlier cases count when suspects are ranked, or not.
    EarlierCount(bool),
    /// Open a case of the library.
    Case(String),
    /// Write CSV.
    Export(What, PathBuf),
    /// Write the plots.
    ExportPlots(PathBuf),
}

/// Draws the library in place of the case.
pub fn show(ui: &mut Ui, desk: &mut DeskScreen, narrow: bool, busy: bool, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    let page = match &desk.page {
        Some(Ok(page)) => Some(Arc::clone(page)),
        _ => None,
    };
    Panel::top("library").frame(bar).show(ui, |ui| search(ui, desk, page.as_deref(), out));
    if let Some(page) = &page {
        let width = if narrow { 340.0 } else { 420.0 };
        Panel::right("lead").frame(bar).exact_size(width).resizable(false).show(ui, |ui| {
            egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| lead::show(ui, page, out));
        });
    }
    CentralPanel::default().frame(Frame::new().fill(p.canvas).inner_margin(theme::margin())).show(ui, |ui| match &desk
        .page
    {
        _ if desk.no_folder => no_folder(ui, out),
        Some(Ok(page)) => list::show(ui, page, &desk.pictures, out),
        Some(Err(error)) => {
            ui.add(egui::Label::new(RichText::new(error).color(p.refusal)).wrap());
        }
        None if busy => drop(ui.label("Looking through the library\u{2026}")),
        None => {}
    });
}

fn no_folder(ui: &mut Ui, out: &mut Vec<Command>) {
    super::panels::empty::centred(ui, |ui| {
        ui.label(RichText::new("Where does the shop keep its cases?").strong());
        ui.label("Choose the folder that holds the case folders; it may lie on a file share that several benches use.");
        ui.add_space(theme::SPACE);
        if ui.button("Choose the library's folder\u{2026}").clicked() {
            out.push(Command::Pick(Pick::LibraryFolder));
        }
    });
}

fn search(ui: &mut Ui, desk: &mut DeskScreen, page: Option<&Page>, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    ui.horizontal_wrapped(|ui| {
        if ui.button("Back").on_hover_text("To the case: Esc").clicked() {
            out.push(Command::Desk(DeskCommand::Close));
        }
        let label = ui.label(RichText::new("Shop library").strong());
        let width = (ui.available_width() * 0.45).clamp(160.0, 520.0);
        let hint = "words, or rail:V12 part:C12 model:\"Buoy radio\" verdict:cleared from:2026-03 state:waiting";
        let field = ui.add(TextEdit::singleline(&mut desk.text).desired_width(width).hint_text(hint));
        let field = field.labelled_by(label.id).on_hover_text(hint);
        if std::mem::take(&mut desk.focus) {
            field.request_focus();
        }
        if field.changed() {
            out.push(Command::Desk(DeskCommand::Search));
        }
        let menu = |ui: &mut Ui, out: &mut Vec<Command>| {
            for (words, pick) in [
                ("Cases as CSV\u{2026}", Pick::LibraryCsv(What::Cases)),
                ("Confirmed faults as CSV\u{2026}", Pick::LibraryCsv(What::Culprits)),
                ("Good readings as CSV\u{2026}", Pick::LibraryCsv(What::Readings)),
                ("Plots as SVG\u{2026}", Pick::LibraryPlots),
            ] {
                if ui.button(words).clicked() {
                    out.push(Command::Pick(pick));
                    ui.close();
                }
            }
        };
        ui.menu_button("Export", |ui| menu(ui, out));
        if ui.button("Read all again").on_hover_text("The index is thrown away and made anew from the cases").clicked()
        {
            out.push(Command::Desk(DeskCommand::Rebuild));
        }
        let tick = ui.checkbox(&mut desk.earlier_count, "earlier cases count");
        if tick.on_hover_text("Faults proven in earlier cases move the ranking of suspects on the same rail").clicked()
        {
            out.push(Command::Desk(DeskCommand::EarlierCount(desk.earlier_count)));
        }
        if ui.button("Folder\u{2026}").on_hover_text("Another library").clicked() {
            out.push(Command::Pick(Pick::LibraryFolder));
        }
    });
    if let Some(page) = page {
        let read = if page.refreshed.read > 0 { format!(", {} read anew", page.refreshed.read) } else { String::new() };
        let text = format!("{} of {} cases in {}{read}", page.found.len(), page.refreshed.cases, page.folder.display());
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(p.weak)).truncate());
    }
}
