//! File dialogs of the desktop.

use std::{path::PathBuf, time::Instant};

use super::Outcome;
use crate::window::{command::Pick, drawing::import};

/// Shows a file dialog. Runs off the window's thread, so that the window goes on.
pub fn pick(kind: Pick, start: Option<PathBuf>) -> Outcome {
    let since = Instant::now();
    let mut dialog = rfd::FileDialog::new();
    if let Some(start) = start {
        dialog = dialog.set_directory(start);
    }
    let picked = match kind {
        Pick::Case => dialog.set_title("Open a case folder").pick_folder(),
        Pick::FramesFolder => dialog.set_title("Folder of frames").pick_folder(),
        Pick::SaveCase => dialog.set_title("Folder for the new case").pick_folder(),
        Pick::FramesFile => dialog.set_title("Frames").pick_file(),
        Pick::Log => dialog.set_title("Capture log").add_filter("CSV", &["csv"]).pick_file(),
        Pick::Pairs => dialog.set_title("Point pairs").add_filter("CSV", &["csv"]).pick_file(),
        Pick::Photo => {
            dialog.set_title("Photo").add_filter("pictures", &["png", "jpg", "jpeg", "bmp", "webp"]).pick_file()
        }
        Pick::Design | Pick::DesignToo => {
            let dialog = dialog.set_title("Design file").add_filter("design files", &import::ENDINGS);
            dialog.add_filter("all files", &["*"]).pick_file()
        }
        Pick::ExportSvg => dialog.set_title("Export as SVG").set_file_name("board.svg").save_file(),
        Pick::ExportJson => dialog.set_title("Export as board.json").set_file_name("board.json").save_file(),
        Pick::BenchCard => dialog.set_title("Print the bench card").set_file_name("bench-card.html").save_file(),
        Pick::Report => {
            let dialog = dialog.set_title("Write the report").set_file_name("report.pdf");
            dialog.add_filter("PDF", &["pdf"]).add_filter("web page", &["html"]).save_file()
        }
        Pick::Handout(kind) => {
            let dialog = dialog.set_title("Hand the lesson out").set_file_name(format!("lesson.{}", kind.ending()));
            dialog.add_filter(kind.words(), &[kind.ending()]).save_file()
        }
        Pick::LibraryFolder => dialog.set_title("Folder of the shop's library").pick_folder(),
        Pick::LibraryCsv(_) => dialog.set_title("Export as CSV").set_file_name("library.csv").save_file(),
        Pick::LibraryPlots => dialog.set_title("Export the plots").set_file_name("desk.svg").save_file(),
        Pick::MakeExercise => dialog.set_title("New or empty folder for the exercise").pick_folder(),
        Pick::ClassFile => dialog.set_title("Class file").add_filter("CSV", &["csv"]).pick_file(),
        Pick::ClassCsv => dialog.set_title("Write the class in clear").set_file_name("class-in-clear.csv").save_file(),
        Pick::Board => dialog.set_title("Board drawing").add_filter("board", &["ron", "json"]).pick_file(),
    };
    // Nobody closes a dialog within a quarter of a second: the desktop has none to show.
    if picked.is_none() && since.elapsed().as_millis() < 250 {
        return Outcome::NoDialog(kind);
    }
    Outcome::Picked(kind, picked)
}
