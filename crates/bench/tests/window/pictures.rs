//! The main screens against pictures that were looked at. `UPDATE_SNAPSHOTS=1` draws them anew; look at them before they are kept.

use egui_kittest::SnapshotOptions;
use joulemark::window::{app::App, command::Command, screen::Bench, stage::Stage};

use crate::common;

const SIZE: [f32; 2] = [1024.0, 700.0];
/// Renderers round edges differently; a picture has 716 800 pixels, and a button that moves changes thousands.
const MOST_PIXELS: usize = 1500;

fn held(name: &str, bench: Bench, stage: Stage) {
    let mut window = common::window(App::with_session(common::session()), SIZE);
    for command in [Command::SetBench(bench), Command::SetStage(stage)] {
        window.state_mut().apply(command);
        window.run_steps(2);
    }
    window.run_steps(4);
    let options = SnapshotOptions::new()
        .output_path(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/pictures"))
        .max_failed_pixels(MOST_PIXELS);
    window.snapshot_options(name, &options);
}

#[test]
fn suspects() {
    held("suspects-light", Bench::Light, Stage::Suspects);
}

#[test]
fn readings() {
    held("readings-dark", Bench::Dark, Stage::Readings);
}

#[test]
fn injection() {
    held("injection-dark", Bench::Dark, Stage::Injection);
}

#[test]
fn capture() {
    held("capture-light", Bench::Light, Stage::Capture);
}
