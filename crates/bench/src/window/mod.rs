//! The window: state of the case apart from state of the screen apart from running work; views return commands, and
//! one place carries them out.

pub mod app;
mod at_bench;
pub mod bench_edit;
pub mod cautions;
pub mod command;
pub mod document;
pub mod drawing;
pub mod engine;
mod face_view;
pub mod form;
pub mod frames_seen;
pub mod jobs;
pub mod journal;
mod keys;
pub mod lining;
pub mod map;
pub mod next;
mod panels;
pub mod plan;
mod practice;
pub mod readings;
pub mod screen;
pub mod session;
pub mod stage;
pub mod survey;
pub mod words;
pub mod work;

use std::path::PathBuf;

use app::App;

use crate::theme;

/// Joins the window's frame to the app.
struct Shell(App);

impl eframe::App for Shell {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let closing = ui.input(|i| i.viewport().close_requested());
        if closing && !self.0.may_close() {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::CancelClose);
        }
        self.0.ui(ui);
    }
}

/// The window's icon; an empty one if the bundled picture could not be decoded.
fn icon() -> egui::IconData {
    let bytes = include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets/icon.png"));
    eframe::icon_data::from_png_bytes(bytes).unwrap_or_default()
}

/// Opens the window and returns when it is closed. `start` is a case folder or loose files; without it the bundled
/// practice case is shown.
///
/// # Errors
/// When no window can be had: no display, no graphics.
pub fn run(start: Option<PathBuf>) -> anyhow::Result<()> {
    let viewport = egui::ViewportBuilder::default()
        .with_title("Joulemark")
        .with_app_id("joulemark")
        .with_icon(icon())
        .with_inner_size([1440.0, 900.0])
        .with_min_inner_size([800.0, 560.0]);
    let options = eframe::NativeOptions { viewport, ..Default::default() };
    let creator = |cc: &eframe::CreationContext<'_>| {
        theme::install(&cc.egui_ctx);
        let mut app = App::new(&cc.egui_ctx);
        match start {
            Some(path) => app.open(vec![path]),
            None => app.open_practice(),
        }
        Ok(Box::new(Shell(app)) as Box<dyn eframe::App>)
    };
    eframe::run_native("joulemark", options, Box::new(creator)).map_err(|e| {
        anyhow::anyhow!(
            "the window could not be opened: {e}; on a machine without a display use: joulemark locate CASE"
        )
    })
}
