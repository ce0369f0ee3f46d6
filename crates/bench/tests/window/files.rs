//! Design files into the drawing, the drawing into files, and the shelf.

use std::path::{Path, PathBuf};

use egui::{Key, Modifiers};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    board_files::{Choices, Side, units::LengthUnit},
    shelf::Shelf,
    window::{
        app::App,
        command::{Command, Pick},
        drawing::{
            Draw,
            import::{ImportCommand, Wish},
        },
    },
};
use joulemark_locate::board::Board;

use crate::common;

/// The repository's own examples.
pub fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/boards").join(name)
}

fn board(window: &Harness<'static, App>) -> Board {
    (*window.state().session.as_ref().expect("a case").board).clone()
}

fn read(window: &mut Harness<'static, App>) {
    common::wait(window, |app| {
        app.screen.import.as_ref().is_some_and(|i| i.found.as_ref().is_some_and(|f| f.wish == i.wish))
    });
}

/// An empty drawing bench.
pub fn bench(size: [f32; 2]) -> Harness<'static, App> {
    let mut window = common::window(App::default(), size);
    window.state_mut().apply(Command::Draw(Draw::Open));
    window.run();
    window
}

#[test]
fn a_centroid_list_is_shown_then_taken_in_as_one_step_that_undoes() {
    let mut window = bench([1440.0, 900.0]);
    let start = board(&window);
    window.state_mut().apply(Command::Typed(Pick::Design, Some(example("centroid.csv"))));
    read(&mut window);
    for words in ["centroid list", "Parts: 6 (1 on the bottom)", "the column 'Mid X (mm)' says so"] {
        assert!(window.query_by_label_contains(words).is_some(), "{words} is not shown");
    }
    assert_eq!(board(&window), start, "looking changes nothing");
    window.run();
    // The button has focus once everything is read.
    window.key_press(Key::Enter);
    window.run();
    let taken = board(&window);
    assert!(window.state().screen.import.is_none());
    let top: Vec<&str> = taken.face("top").unwrap().parts.iter().map(|p| p.designator.as_str()).collect();
    assert_eq!(top, ["U1", "C12", "L1", "F1", "C13"]);
    assert_eq!(taken.face("bottom").unwrap().parts[0].designator, "D1");
    // 35 mm and 8 mm in the list: the top face keeps distances along x.
    let x = |name: &str| taken.part(name).map(|(_, p)| p.x_mm).unwrap();
    assert!((x("C12") - x("F1") - 27.0).abs() < 1e-3, "rounded to a ten-thousandth each");
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run();
    assert_eq!(board(&window), start, "one undo takes all of it back");
}

#[test]
fn cancel_changes_nothing_and_choices_are_followed() {
    let mut window = bench([1440.0, 900.0]);
    let start = board(&window);
    window.state_mut().apply(Command::Open(vec![example("centroid.csv")]));
    read(&mut window);
    let wish = Wish {
        files: vec![example("centroid.csv")],
        choices: Choices { unit: Some(LengthUnit::Mil), ..Choices::default() },
        side: Side::Top,
        every_net: false,
    };
    window.state_mut().apply(Command::Import(ImportCommand::Wish(Box::new(wish))));
    read(&mut window);
    let width = |window: &Harness<'static, App>| {
        let found = window.state().screen.import.as_ref().unwrap().found.clone().unwrap();
        let (design, _) = found.design.as_ref().unwrap();
        design.parts[1].x_mm
    };
    assert!((width(&window) - 35.0 * 0.0254).abs() < 1e-9, "35 mil by definition; only rounding remains");
    window.key_press(Key::Escape);
    window.run();
    assert!(window.state().screen.import.is_none());
    assert_eq!(board(&window), start);
}

#[test]
fn an_outline_with_a_cut_out_becomes_outline_and_hole_and_goes_out_again() {
    let mut window = bench([1440.0, 900.0]);
    window.state_mut().import_files(vec![example("profile.gbr")]);
    read(&mut window);
    window.run();
    window.get_by_label("Import").click();
    window.run();
    let face = board(&window).face("top").unwrap().clone();
    assert!(face.outline.len() > 3);
    // ORIGIN.md: one round cut-out of 3 mm.
    assert_eq!(face.holes.len(), 1);
    assert!((face.holes[0].diameter_mm - 3.0).abs() < 0.05, "{:?}", face.holes[0]);
    let folder = tempfile::tempdir().unwrap();
    for (pick, name) in [(Pick::ExportSvg, "a.svg"), (Pick::ExportJson, "board.json")] {
        let file = folder.path().join(name);
        window.state_mut().apply(Command::Typed(pick, Some(file.clone())));
        common::wait(&mut window, |_| file.exists());
        common::wait(&mut window, |app| app.running().next().is_none());
    }
    let written: Board = serde_json::from_slice(&std::fs::read(folder.path().join("board.json")).unwrap()).unwrap();
    assert_eq!(written, board(&window));
    assert!(std::fs::read_to_string(folder.path().join("a.svg")).unwrap().contains("id=\"outline\""));
}

#[test]
fn a_file_that_is_no_design_is_said_in_the_dialog() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("list.csv");
    std::fs::write(&file, "a,b,c,d\n1,2,3,4\n").unwrap();
    let mut window = bench([1440.0, 900.0]);
    let start = board(&window);
    window.state_mut().import_files(vec![file]);
    read(&mut window);
    assert!(window.query_by_label_contains("Cannot be imported: ").is_some());
    window.state_mut().apply(Command::Import(ImportCommand::Take));
    window.run();
    assert_eq!(board(&window), start);
}

/// A window whose shelf is in a folder.
pub fn shelved(app: App, folder: &Path, size: [f32; 2]) -> Harness<'static, App> {
    let mut window = common::window(app, size);
    window.state_mut().own_shelf = Some(Shelf::at(folder));
    window.run();
    window
}

#[test]
fn a_drawing_put_on_the_shelf_is_taken_by_a_new_case() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = shelved(App::with_session(common::session()), folder.path(), [1440.0, 900.0]);
    window.key_press(Key::D);
    window.run();
    window.key_press_modifiers(Modifiers::SHIFT, Key::G);
    window.run();
    common::wait(&mut window, |app| app.screen.said.as_ref().is_some_and(|s| s.contains("on the shelf, version 1")));
    let drawn = board(&window);

    let mut other = shelved(App::default(), folder.path(), [1440.0, 900.0]);
    other.state_mut().apply(Command::Draw(Draw::Open));
    other.run();
    let start = board(&other);
    other.key_press(Key::G);
    other.run();
    common::wait(&mut other, |app| app.screen.shelf.as_ref().is_some_and(|s| s.found.is_some()));
    other.get_by_label("Find a drawing by name or rail").type_text("v12");
    other.run();
    assert!(other.query_by_label_contains("Buoy radio: 6 parts; V12, V5; version 1").is_some());
    other.key_press(Key::Enter);
    other.run();
    common::wait(&mut other, |app| app.session.as_ref().is_some_and(|s| s.board.name == "Buoy radio"));
    assert_eq!(board(&other), drawn);
    other.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    other.run();
    assert_eq!(board(&other), start, "one undo takes it back");
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn gallery_of_the_dialogs() {
    let folder = tempfile::tempdir().unwrap();
    Shelf::at(folder.path()).save(&common::board()).unwrap();
    let pictures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/screens");
    std::fs::create_dir_all(&pictures).unwrap();
    for (tag, size) in [("large", [1440.0, 900.0]), ("small", [1024.0, 700.0])] {
        let save = |what: &str, window: &mut Harness<'static, App>| {
            window.run_steps(4);
            window.render().unwrap().save(pictures.join(format!("files-{what}-{tag}.png"))).unwrap();
        };
        for file in ["centroid.csv", "profile.gbr", "netlist.ipc"] {
            let mut window = bench(size);
            window.state_mut().import_files(vec![example(file)]);
            read(&mut window);
            save(file, &mut window);
            window.state_mut().apply(Command::Import(ImportCommand::Take));
            save(&format!("{file}-taken"), &mut window);
        }
        let mut window = shelved(App::default(), folder.path(), size);
        save("empty", &mut window);
        window.state_mut().apply(Command::Draw(Draw::FromShelf));
        common::wait(&mut window, |app| app.screen.shelf.as_ref().is_some_and(|s| s.found.is_some()));
        save("shelf", &mut window);
        let mut window = bench(size);
        window.get_by_label("Import, shelf").click();
        save("menu", &mut window);
    }
}
