//! Drawing a board by hand: pointer and keys as a user moves them, and how many it takes.

use egui::{Event, Key, Modifiers, PointerButton, Pos2};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::window::{
    app::App,
    command::Command,
    document::Edit,
    drawing::{Draw, Tool, view::UiFromBoard},
    form::Draft,
};
use joulemark_locate::board::Board;

use crate::common;

/// A window with a bench on nothing, and a count of what the user's hands do.
struct Hands {
    window: Harness<'static, App>,
    inputs: usize,
}

impl Hands {
    fn on(app: App) -> Self {
        let mut window = common::window(app, [1440.0, 900.0]);
        window.run();
        Self { window, inputs: 0 }
    }

    fn board(&self) -> &Board {
        &self.window.state().session.as_ref().expect("a case").board
    }

    fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.inputs += 1;
        self.window.key_press_modifiers(modifiers, key);
        self.window.run();
    }

    /// One field typed: one input.
    fn type_into(&mut self, label: &str, text: &str) {
        self.inputs += 1;
        self.window.get_by_label(label).focus();
        self.window.run();
        self.window.get_by_label(label).type_text(text);
        self.window.run();
    }

    fn pointer(&mut self, at: Pos2, pressed: Option<bool>) {
        self.window.event(Event::PointerMoved(at));
        if let Some(pressed) = pressed {
            let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
            self.window.event(Event::PointerButton { pos: at, button, pressed, modifiers });
        }
        self.window.step();
    }

    /// A press, a drag, a release: one input.
    fn drag(&mut self, from: Pos2, to: Pos2) {
        self.inputs += 1;
        self.pointer(from, None);
        self.pointer(from, Some(true));
        self.pointer(from + (to - from) / 2.0, None);
        self.pointer(to, None);
        self.pointer(to, Some(false));
        self.window.run();
    }

    fn click(&mut self, at: Pos2) {
        self.inputs += 1;
        self.pointer(at, None);
        self.pointer(at, Some(true));
        self.pointer(at, Some(false));
        // Two clicks in one place within the double-click time are still two clicks to the bench.
        self.window.run();
    }

    /// A place on the canvas in millimetres of the face.
    fn at(&self, x_mm: f64, y_mm: f64) -> Pos2 {
        let state = self.window.state();
        let drawing = state.screen.drawing.as_ref().expect("the bench is open");
        let canvas = drawing.canvas().expect("it was drawn");
        UiFromBoard::new(&drawing.view_on(&state.session.as_ref().expect("a case").board, canvas), canvas)
            .to_ui([x_mm, y_mm])
    }
}

#[test]
fn six_parts_take_far_fewer_than_sixty_inputs() {
    let mut hands = Hands::on(App::default());
    hands.inputs += 1;
    hands.window.get_by_label("Draw the board").click();
    hands.window.run();
    // The outline, by four corners and Enter.
    hands.key(Modifiers::NONE, Key::O);
    for (x, y) in [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)] {
        hands.click(hands.at(x, y));
    }
    hands.key(Modifiers::NONE, Key::Enter);
    hands.type_into("New rail", "V12");
    hands.key(Modifiers::NONE, Key::Enter);
    for (x, y) in [(10.0, 10.0), (20.0, 10.0), (30.0, 10.0), (40.0, 10.0)] {
        hands.drag(hands.at(x - 1.0, y - 0.5), hands.at(x + 1.0, y + 0.5));
    }
    hands.window.state_mut().apply(Command::Draw(Draw::Kind(joulemark_locate::board::PartKind::Ic)));
    hands.inputs += 2;
    hands.drag(hands.at(20.0, 20.0), hands.at(26.0, 26.0));
    hands.click(hands.at(45.0, 25.0));

    let board = hands.board();
    assert_eq!(board.check(), Ok(()));
    let names: Vec<&str> = board.faces[0].parts.iter().map(|p| p.designator.as_str()).collect();
    assert_eq!(names, ["C1", "C2", "C3", "C4", "U1", "U2"]);
    assert!(board.faces[0].parts.iter().all(|p| p.rails == ["V12"]), "the rail is chosen once and kept");
    for (part, (x, y)) in board.faces[0].parts.iter().zip([(10.0, 10.0), (20.0, 10.0), (30.0, 10.0), (40.0, 10.0)]) {
        // Corners snap to a grid of 0.1 mm, and a screen point is about 0.1 mm here.
        assert!((part.x_mm - x).abs() < 0.2 && (part.y_mm - y).abs() < 0.2, "{part:?}");
        assert!((part.width_mm - 2.0).abs() < 0.3 && (part.height_mm - 1.0).abs() < 0.3, "{part:?}");
    }
    println!("six parts with outline and rail: {} inputs", hands.inputs);
    assert!(hands.inputs <= 60, "{} inputs", hands.inputs);
}

/// A bench on the common case.
fn bench() -> Hands {
    let mut hands = Hands::on(App::with_session(common::session()));
    hands.key(Modifiers::NONE, Key::D);
    assert!(hands.window.state().screen.drawing.is_some());
    hands
}

#[test]
fn drawing_undoes_step_by_step_back_to_the_start() {
    let mut hands = bench();
    let start = hands.board().clone();
    hands.key(Modifiers::NONE, Key::P);
    hands.drag(hands.at(3.0, 3.0), hands.at(4.5, 4.0));
    assert_eq!(hands.board().faces[0].parts.len(), start.faces[0].parts.len() + 1);
    hands.key(Modifiers::NONE, Key::ArrowRight);
    hands.key(Modifiers::NONE, Key::R);
    hands.key(Modifiers::NONE, Key::D);
    hands.key(Modifiers::NONE, Key::M);
    hands.key(Modifiers::NONE, Key::Delete);
    hands.key(Modifiers::SHIFT, Key::N);
    let end = hands.board().clone();
    assert_eq!(end.faces.len(), 2);
    let mut steps = 0;
    while hands.board() != &start {
        hands.key(Modifiers::COMMAND, Key::Z);
        steps += 1;
        assert!(steps < 20, "undo does not come back to the start");
    }
    for _ in 0..steps {
        hands.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    }
    assert_eq!(hands.board(), &end, "redo comes back to the end");
}

#[test]
fn a_box_selects_a_drag_moves_and_the_map_follows() {
    let mut hands = bench();
    hands.key(Modifiers::NONE, Key::S);
    hands.drag(hands.at(3.5, 5.0), hands.at(15.0, 9.0));
    let selected = hands.window.state().screen.drawing.as_ref().map(|d| d.selected.clone()).unwrap();
    assert_eq!(selected.iter().map(String::as_str).collect::<Vec<_>>(), ["C12", "C13"]);
    hands.drag(hands.at(9.0, 7.0), hands.at(9.0, 9.0));
    let moved = hands.board().part("C13").map(|(_, p)| (p.x_mm, p.y_mm)).unwrap();
    assert!((moved.1 - 9.0).abs() < 0.15 && (moved.0 - 13.0).abs() < 0.15, "{moved:?}");
    hands.key(Modifiers::NONE, Key::W);
    let view = hands.window.state().session.as_ref().and_then(|s| s.view()).cloned().unwrap();
    let y_px = view.drawn.part("C13").unwrap().centre_px[1];
    assert!((y_px * 0.25 - moved.1).abs() < 0.01, "the part on the map moved along, at 0.25 mm a pixel");
    assert!(hands.window.state().session.as_ref().unwrap().out_of_date(), "the answer came from the old drawing");
}

#[test]
fn exact_millimetres_are_typed_in_the_panel() {
    let mut hands = bench();
    hands.window.state_mut().apply(Command::Draw(Draw::Select { parts: vec!["C12".into()], add: false }));
    hands.window.run();
    let field = "x mm";
    hands.window.get_by_label(field).focus();
    hands.window.run();
    hands.key(Modifiers::COMMAND, Key::A);
    hands.window.get_by_label(field).type_text("9,375");
    hands.window.run();
    hands.key(Modifiers::NONE, Key::Enter);
    assert_eq!(hands.board().part("C12").map(|(_, p)| p.x_mm), Some(9.375));
    hands.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(hands.board().part("C12").map(|(_, p)| p.x_mm), Some(9.0));
}

#[test]
fn a_photo_is_squared_up_by_four_clicks_and_two_lengths() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("photo.png");
    image::RgbImage::from_fn(400, 300, |x, y| image::Rgb([(x / 2) as u8, (y / 2) as u8, 90])).save(&file).unwrap();
    let mut hands = Hands::on(App::default());
    hands.window.state_mut().apply(Command::Draw(Draw::Open));
    hands.window.state_mut().read_photo(file.clone());
    let placed = |app: &App| app.session.as_ref().is_some_and(|s| s.board.faces[0].photo.is_some());
    common::wait(&mut hands.window, placed);
    assert_eq!(hands.window.state().screen.drawing.as_ref().map(|d| d.tool), Some(Tool::Square));
    // The unsquared photo is 100 mm wide: a quarter of a millimetre a pixel, from its edge at -0.5 px.
    let corners = [[40.0, 30.0], [360.0, 20.0], [350.0, 270.0], [50.0, 280.0]];
    for [x, y] in corners {
        hands.click(hands.at((x + 0.5) / 4.0, (y + 0.5) / 4.0));
        // Once more, by mistake.
        hands.click(hands.at((x + 0.5) / 4.0, (y + 0.5) / 4.0));
    }
    // A corner that is clicked twice counts once.
    hands.window.get_by_label("4 of 4 corners clicked, in any order.");
    hands.type_into("Upper side, mm", "60");
    hands.type_into("Left side, mm", "45");
    hands.key(Modifiers::NONE, Key::Enter);
    let photo = hands.board().faces[0].photo.clone().unwrap();
    for (got, wanted) in photo.corners_px.iter().zip(corners) {
        // A click lands within a screen point, which is about half a pixel of the photo here.
        assert!((got[0] - wanted[0]).abs() < 1.0 && (got[1] - wanted[1]).abs() < 1.0, "{got:?} {wanted:?}");
    }
    assert_eq!((photo.width_mm, photo.height_mm), (60.0, 45.0));
    assert_eq!(hands.board().faces[0].outline.len(), 4, "the squared-up rectangle is the first outline");
    assert_eq!(hands.board().check(), Ok(()));
    // Saved and opened again: photo and drawing are in the case.
    let case = folder.path().join("case");
    hands.window.state_mut().save_in(case.clone());
    common::wait(&mut hands.window, |app| app.session.as_ref().is_some_and(|s| !s.unsaved()));
    assert!(case.join("photo.png").exists() && case.join("board.ron").exists());
    let opened = joulemark::case::CaseFolder::open(&case).unwrap();
    assert_eq!(&opened.drawing().unwrap(), hands.board());
    assert_eq!(hands.board().faces[0].photo.as_ref().map(|p| p.file.as_str()), Some("photo.png"));
}

#[test]
fn the_palette_finds_a_part_in_the_drawing_and_a_stage_leads_back_to_the_map() {
    let mut hands = bench();
    hands.window.state_mut().apply(Command::ShowPart("C20".into()));
    hands.window.run();
    let selected = hands.window.state().screen.drawing.as_ref().map(|d| d.selected.clone()).unwrap();
    assert_eq!(selected.into_iter().collect::<Vec<_>>(), ["C20"]);
    hands.key(Modifiers::NONE, Key::Num4);
    assert!(hands.window.state().screen.drawing.is_none());
    // The heat was put on C12; its neighbours lie 4 mm aside, less half a width.
    assert!(hands.window.query_by_label_contains("nearest parts: C12 0.0 mm, C13 ").is_some());
}

#[test]
fn every_part_is_named_for_assistive_technology_and_selects() {
    let mut hands = bench();
    hands.key(Modifiers::NONE, Key::S);
    hands.window.get_by_label("Part U5, integrated circuit, on V12, V5").click_accesskit();
    hands.window.run();
    assert!(hands.window.state().screen.drawing.as_ref().is_some_and(|d| d.selected.contains("U5")));
}

/// With a case open, drawing from the new-case form begins another case of the typed name, and asks before changes are lost.
#[test]
fn the_form_begins_a_new_case_with_its_drawing() {
    let mut window = common::opened();
    let draft = Draft { name: "Buoy logger 7".into(), ..Draft::default() };
    window.state_mut().apply(Command::NewCase(Box::new(draft)));
    window.run();
    window.get_by_label("Draw the board").click();
    window.run();
    let app = window.state();
    let session = app.session.as_ref().expect("a case");
    assert_eq!(session.document.case.name, "Buoy logger 7");
    assert!(session.board.faces.iter().all(|f| f.parts.is_empty()), "the open case's parts were taken over");
    assert!(app.screen.drawing.is_some() && app.screen.form.is_none());

    let mut window = common::opened();
    window.state_mut().apply(Command::Edit(Edit::Name("Changed".into())));
    window.state_mut().apply(Command::NewDrawing(String::new()));
    window.run();
    let app = window.state();
    assert_eq!(app.session.as_ref().expect("a case").document.case.name, "Changed");
    assert!(app.screen.fault.as_ref().is_some_and(|f| f.title.contains("not saved")));
}
