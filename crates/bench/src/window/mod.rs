//! The window: state of the case apart from state of the screen apart from running work; views return commands, and
//! one place carries them out.

pub mod app;
mod at_bench;
pub mod bench_edit;
pub mod cautions;
pub mod command;
pub mod compare;
pub mod desk;
pub mod document;
pub mod drawing;
pub mod engine;
pub mod exercise;
mod face_view;
pub mod form;
pub mod frames_seen;
pub mod handout;
pub mod jobs;
pub mod journal;
mod keys;
pub mod lining;
pub mod map;
pub mod next;
mod panels;
pub mod plan;
mod play;
mod practice;
pub mod readings;
pub mod remember;
pub mod screen;
pub mod session;
pub mod stage;
pub mod survey;
pub mod words;
pub mod work;

use std::{
    path::PathBuf,
    time::{Duration, Instant},
};

use app::App;
use remember::Remembered;

use crate::theme;

/// Changes are written this long after the last writing at the earliest.
const WRITE_EVERY: Duration = Duration::from_secs(2);

/// Joins the window's frame to the app.
struct Shell {
    app: App,
    remembered: Remembered,
    file: Option<PathBuf>,
    written: Instant,
}

impl Shell {
    /// Writes what there is to remember when it changed; at once when the window closes.
    fn remember(&mut self, ui: &egui::Ui, closing: bool) {
        let mut now = Remembered::of(&self.app.screen, &self.remembered);
        let (maximised, size) = ui.input(|i| (i.viewport().maximized, i.viewport().inner_rect.map(|r| r.size())));
        now.maximised = maximised.unwrap_or(now.maximised);
        // The size to go back to is the one before the window filled the screen.
        if let Some(size) = size.filter(|_| !now.maximised) {
            now.size = Some([size.x, size.y]);
        }
        if now == self.remembered || (!closing && self.written.elapsed() < WRITE_EVERY) {
            return;
        }
        if let Some(file) = &self.file {
            now.write(file);
        }
        (self.remembered, self.written) = (now, Instant::now());
    }
}

impl eframe::App for Shell {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let closing = ui.input(|i| i.viewport().close_requested());
        if closing && !self.app.may_close() {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::CancelClose);
        }
        self.app.ui(ui);
        self.remember(ui, closing);
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
    let file = Remembered::file();
    let remembered = file.as_deref().map(Remembered::read).unwrap_or_default();
    let viewport = egui::ViewportBuilder::default()
        .with_title("Joulemark")
        .with_app_id("joulemark")
        .with_icon(icon())
        .with_inner_size(remembered.size.unwrap_or([1440.0, 900.0]))
        .with_maximized(remembered.maximised)
        .with_min_inner_size([800.0, 560.0]);
    let options = eframe::NativeOptions { viewport, ..Default::default() };
    let creator = |cc: &eframe::CreationContext<'_>| {
        theme::install(&cc.egui_ctx);
        let mut app = App::new(&cc.egui_ctx);
        remembered.restore(&mut app.screen);
        cc.egui_ctx.set_theme(app.screen.bench.theme());
        match start {
            Some(path) => app.open(vec![path]),
            None => app.open_practice(),
        }
        Ok(Box::new(Shell { app, remembered, file, written: Instant::now() }) as Box<dyn eframe::App>)
    };
    eframe::run_native("joulemark", options, Box::new(creator)).map_err(|e| {
        anyhow::anyhow!(
            "the window could not be opened: {e}; on a machine without a display use: joulemark locate CASE"
        )
    })
}
