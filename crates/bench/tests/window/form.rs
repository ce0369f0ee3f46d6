//! The new-case form.

use egui_kittest::kittest::{NodeT, Queryable};
use joulemark::window::{
    app::App,
    command::Command,
    form::{Draft, FramesFound, LawChoice},
};
use joulemark_frames::read::Scale;

use crate::common;

fn draft(scale: Scale) -> Draft {
    let found = FramesFound { description: "TIFF, 16-bit grey".into(), scale, frames: 120, timed: false };
    // The path does not exist, so that nothing is read and the finding stands.
    Draft {
        frames: "/bench/radio.tif".into(),
        frames_found: Some(("/bench/radio.tif".into(), Ok(found))),
        ..Draft::default()
    }
}

#[test]
fn counts_are_asked_for_and_the_answer_is_taken() {
    let mut window = common::window(App::default(), [1024.0, 700.0]);
    window.state_mut().apply(Command::NewCase(Box::new(draft(Scale::Counts { bits: 16 }))));
    window.run();
    window.get_by_label_contains("State what a count means; the camera's manual says it.");
    let button = window.get_by_label("Read");
    assert!(button.accesskit_node().is_disabled(), "reading is not offered before the law is stated");
    window.get_by_label("0.01 K (centikelvin)").click();
    window.run();
    assert_eq!(window.state().screen.form.as_ref().expect("open").law, LawChoice::Centikelvin);
    assert!(window.query_by_label_contains("State what a count means; ").is_none());
}

#[test]
fn kelvin_frames_ask_nothing() {
    let mut window = common::window(App::default(), [1024.0, 700.0]);
    window.state_mut().apply(Command::NewCase(Box::new(draft(Scale::Kelvin))));
    window.run();
    assert!(window.query_by_label("0.01 K (centikelvin)").is_none());
}

#[test]
fn a_faulty_board_is_said_under_its_field() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let board = folder.path().join("board.json");
    std::fs::write(&board, r#"{"name":"b","faces":[]}"#).expect("writes");
    let mut window = common::window(App::default(), [1024.0, 700.0]);
    window
        .state_mut()
        .apply(Command::NewCase(Box::new(Draft { board: board.display().to_string(), ..Draft::default() })));
    common::wait(&mut window, |app| app.screen.form.as_ref().is_some_and(|d| d.files_found.board.is_some()));
    window.run();
    window.get_by_label_contains("no faces; draw at least one face");
}

#[test]
fn dropped_files_land_in_their_fields() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("writes");
        path
    };
    let paths = vec![
        file("log.csv", "frame,time_s,injecting,volts,amps\n0,0,0,,\n1,1,1,,\n"),
        file("pairs.csv", "x_px,y_px,x_mm,y_mm\n0,0,0,0\n10,0,5,0\n"),
        file("board.ron", &joulemark::case::to_ron(&common::board()).expect("writes")),
    ];
    let mut window = common::window(App::default(), [1440.0, 900.0]);
    window.state_mut().open(paths);
    common::wait(&mut window, |app| app.screen.form.as_ref().is_some_and(|d| d.files_found.board.is_some()));
    window.run();
    let draft = window.state().screen.form.as_ref().expect("open");
    assert_eq!(draft.files_found.log, Some(Ok(2)));
    assert_eq!(draft.files_found.pairs.as_ref().and_then(|p| p.as_ref().ok()).map(Vec::len), Some(2));
    assert_eq!(draft.face, "top", "the only side is chosen");
    assert_eq!(draft.rail, "", "one of two rails is not guessed");
}
