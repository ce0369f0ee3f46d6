//! Takes of the open case: added, undone, removed; what a part reads; the range kept from take to take.

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

use egui_kittest::kittest::{NodeT, Queryable};
use joulemark::{
    case::CaseFolder,
    window::{
        app::App,
        command::{Command, Pick},
        document::Edit,
        screen::{Layer, Over, Range},
        session::Session,
    },
};

use crate::{cases::bundled, common};

/// A case that was drawn and saved, without any take: the practice case's own drawing.
fn drawn(folder: &std::path::Path) -> App {
    let board = CaseFolder::open(&bundled("ceramic-capacitor")).unwrap().board().unwrap();
    std::fs::write(folder.join("board.ron"), joulemark::case::to_ron(&board).unwrap()).unwrap();
    let case = joulemark::case::Case { name: "Drawn first".into(), board: "board.ron".into(), ..Default::default() };
    let mut saved = CaseFolder { folder: folder.to_owned(), case };
    saved.save().unwrap();
    let document = joulemark::window::document::Document { case: saved.case, ..Default::default() };
    App::with_session(Session::new(Some(folder.to_owned()), document, std::sync::Arc::new(board)))
}

#[test]
fn a_case_that_began_with_its_drawing_takes_a_take_and_a_second_one() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = common::window(drawn(folder.path()), [1440.0, 900.0]);
    window.run();
    window.get_by_label("Add a take").click();
    window.run();
    window.get_by_label("Add a take to Drawn first");
    let from = bundled("ceramic-capacitor");
    window.state_mut().open(["frames.tif", "log.csv"].map(|name| from.join(name)).to_vec());
    common::wait(&mut window, |app| app.screen.form.as_ref().is_some_and(|d| d.frames_read().is_some()));
    common::type_law_of_the_bundled_case(&mut window);
    window.state_mut().screen.form.as_mut().unwrap().rail = "V5".into();
    window.run();
    assert!(!window.get_by_label("Add the take").accesskit_node().is_disabled());
    window.get_by_label("Add the take").click();
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.view().is_some()));
    let session = window.state().session.clone().unwrap();
    assert_eq!(session.folder.as_deref(), Some(folder.path()), "the same case, in its own folder");
    assert_eq!((session.shown.as_str(), session.document.case.rail.as_str()), ("inject 1", "V5"));
    assert!(session.view().unwrap().located.is_none(), "there is nothing to locate with before lining up");
    window.get_by_label("Line the picture up");

    // One step back, and again.
    window.state_mut().apply(Command::Undo);
    window.run();
    let undone = window.state().session.clone().unwrap();
    assert!(undone.document.case.takes.is_empty() && undone.document.case.rail.is_empty());
    window.get_by_label("Add a take");
    window.state_mut().apply(Command::Redo);
    window.state_mut().apply(Command::ShowTake("inject 1".into()));
    window.run();

    // A second take is proposed with what the first one said, under a name of its own.
    window.state_mut().apply(Command::AddTake(["frames.tif", "log.csv", "pairs.csv"].map(|n| from.join(n)).to_vec()));
    let ready = |app: &App| {
        app.screen.form.as_ref().is_some_and(|d| d.frames_read().is_some() && d.files_found.pairs.is_some())
    };
    common::wait(&mut window, ready);
    let draft = window.state().screen.form.clone().unwrap();
    assert_eq!((draft.take_name.as_str(), draft.rail.as_str(), draft.face.as_str()), ("inject 2", "V5", "top"));
    assert_eq!(draft.missing(), [] as [String; 0]);
    window.state_mut().apply(Command::LocateForm);
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.shown == "inject 2"));
    let located = window.state().session.as_ref().unwrap().view().unwrap().clone();
    let truth = CaseFolder::open(&from).unwrap().case.practice.unwrap().part.unwrap();
    assert_eq!(located.leading(0).map(|s| s.part.clone()), Some(truth));

    // Saved, the folder holds everything; a removed take comes back by undo.
    window.state_mut().save_in(folder.path().to_owned());
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| !s.unsaved()));
    let saved = CaseFolder::open(folder.path()).unwrap().case;
    assert_eq!(saved.takes.iter().map(|t| t.name.as_str()).collect::<Vec<_>>(), ["inject 1", "inject 2"]);
    assert!(saved.takes.iter().all(|t| folder.path().join(&t.frames).exists()));
    window.state_mut().apply(Command::Edit(Edit::RemoveTake("inject 2".into())));
    window.run();
    window.state_mut().apply(Command::Undo);
    assert_eq!(window.state().session.as_ref().unwrap().document.case.takes.len(), 2);
}

#[test]
fn a_selected_part_says_what_it_is_and_what_the_picture_measures_over_it() {
    let mut window = common::opened();
    window.state_mut().apply(Command::SelectPart("C12".into()));
    common::wait(&mut window, |app| app.screen.part_curve.is_some());
    window.get_by_label("Part C12");
    window.get_by_label("capacitor of 1.6 by 0.8 mm");
    window.get_by_label("on V12, nominal 12 V");
    // 1.6 by 0.8 mm at a quarter of a millimetre a pixel: columns 33 to 39 and rows 27 to 29, edges included.
    window.get_by_label_contains("crosses: C12, mean of 21 pixels");
    let curve = window.state().screen.part_curve.clone().unwrap().curve.unwrap();
    // A bump of 2 K and 3 px that warms with 3 s for 7.9 s: 0.93 of it at the end, 0.785 of that as mean over 7 by 3 pixels.
    let last = curve.rise.last().copied().unwrap();
    assert!((1.40..1.52).contains(&last), "{last}");
    // Noise of 50 mK averaged over 21 pixels.
    assert!(curve.sigma.is_some_and(|s| (0.005..0.02).contains(&s)), "{:?}", curve.sigma);
    window.get_by_label("Rail V12").click();
    window.run();
    assert_eq!(window.state().screen.selection.rail.as_deref(), Some("V12"));
    window.state_mut().apply(Command::SelectPart("C20".into()));
    common::wait(&mut window, |app| app.screen.part_curve.as_ref().is_some_and(|c| c.of.1 == "C20"));
    let cool = window.state().screen.part_curve.clone().unwrap().curve.unwrap();
    assert!(cool.rise.last().copied().unwrap() < 0.3, "nothing warms there");
}

#[test]
fn ranges_by_percentile_and_kept_over_takes_and_a_second_layer() {
    let mut window = common::opened();
    let range = |app: &App| {
        let view = app.session.as_ref().unwrap().view().unwrap();
        joulemark::window::map::texture::range(&app.screen, view)
    };
    window.state_mut().apply(Command::SetRange(Range::Percentiles(50.0, 99.0)));
    window.run();
    let (low, high) = range(window.state());
    let auto = window.state().session.as_ref().unwrap().view().unwrap().ranges.of(Layer::Rise);
    assert!(low > auto.0 - 0.2 && high < auto.1 && low < high, "{low} {high} {auto:?}");
    window.state_mut().apply(Command::KeepRange(true));
    assert_eq!(window.state().screen.range, Range::Between(low, high), "the ends themselves are kept");
    // Another take is shown: the same ends. Another layer is another quantity: its own.
    let session = window.state().session.clone().unwrap();
    window.state_mut().screen.welcome(&session);
    assert_eq!(range(window.state()), (low, high));
    window.state_mut().apply(Command::SetLayer(Layer::Z));
    assert_eq!((window.state().screen.range, window.state().screen.range_kept), (Range::Auto, false));

    let over = Over { layer: Layer::Before, share: 0.5, by_value: true };
    window.state_mut().apply(Command::SetOver(Some(over)));
    window.run();
    assert_eq!(window.state().textures[1].rebuilds, 1, "the second layer has a texture of its own");
    window.run();
    assert_eq!(window.state().textures[1].rebuilds, 1, "which is not rebuilt without need");
    window.state_mut().apply(Command::SetOver(None));
    window.state_mut().screen.welcome(&session);
    assert_eq!(window.state().screen.layer, Layer::Z, "the layer that was chosen last is shown again");
}

#[test]
fn pixels_without_a_value_are_told_by_pattern_and_legend() {
    let mut window = common::opened();
    window.state_mut().apply(Command::SetLayer(Layer::TimeConstant));
    window.run();
    assert!(window.state().textures[0].unknown() > 0, "most pixels have no time constant above their noise");
    window.get_by_label_contains("below its noise: ");
}

#[test]
fn faces_and_rails_are_renamed_and_refused_with_the_reason() {
    use joulemark::window::drawing::{Draw, Tool};
    let mut window = common::opened();
    window.state_mut().apply(Command::Draw(Draw::Open));
    window.state_mut().apply(Command::Draw(Draw::Tool(Tool::Select)));
    window.run();
    let rename = |window: &mut egui_kittest::Harness<'static, App>, field: &str, to: &str| {
        window.get_by_label(field).focus();
        window.run();
        window.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
        window.get_by_label(field).type_text(to);
        window.run();
        window.key_press(egui::Key::Enter);
        window.run();
    };
    rename(&mut window, "Name of V12", "VIN");
    let session = window.state().session.clone().unwrap();
    assert_eq!(session.document.case.rail, "VIN", "the case follows");
    assert!(session.board.part("C12").is_some_and(|(_, p)| p.rails == ["VIN"]));
    rename(&mut window, "Name of V5", "VIN");
    window.get_by_label("VIN is there already: give another name");
    assert!(window.get_by_label("Remove rail V5").accesskit_node().is_disabled(), "parts are on it");
    rename(&mut window, "Face name", "upper");
    let session = window.state().session.clone().unwrap();
    assert_eq!(
        (session.board.faces[0].name.as_str(), session.document.case.takes[0].face.as_str()),
        ("upper", "upper")
    );
    assert_eq!(window.state().screen.drawing.as_ref().unwrap().face, "upper", "the same face stays in hand");
    window.state_mut().apply(Command::Undo);
    window.state_mut().apply(Command::Undo);
    assert_eq!(*window.state().session.as_ref().unwrap().board, common::board());
}

#[test]
fn writing_asks_before_it_replaces() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("board.json");
    std::fs::write(&file, "mine").unwrap();
    let mut window = common::opened();
    window.state_mut().apply(Command::Typed(Pick::ExportJson, Some(file.clone())));
    window.run();
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
    window.get_by_label("Replace it").click();
    common::wait(&mut window, |app| app.screen.said.as_ref().is_some_and(|s| s.starts_with("Written")));
    assert_ne!(std::fs::read_to_string(&file).unwrap(), "mine");

    // A folder that holds another case is not taken over unasked.
    std::fs::write(folder.path().join("case.ron"), "theirs").unwrap();
    window.state_mut().apply(Command::Typed(Pick::SaveCase, Some(folder.path().to_owned())));
    window.run();
    window.get_by_label("Replace it");
    assert_eq!(std::fs::read_to_string(folder.path().join("case.ron")).unwrap(), "theirs");
}
