use joulemark_locate::board::Hole;

use super::*;

fn start() -> (Board, Drawing) {
    let face = Face {
        name: "top".into(),
        outline: vec![[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]],
        ..Face::default()
    };
    (Board { name: "b".into(), faces: vec![face], rails: Vec::new() }, Drawing::new("top"))
}

/// Carries a request out as the app does.
fn ask(board: &mut Board, drawing: &mut Drawing, draw: Draw) -> Option<BoardEdit> {
    let inverse = act(board, drawing, draw)?.apply(board);
    assert!(inverse.is_some(), "an edit that was asked for fits the board");
    inverse
}

fn place(board: &mut Board, drawing: &mut Drawing, x: f64, y: f64) {
    let part = new_part(board, drawing, [x, y], [2.0, 1.0]);
    let face = board.faces[0].clone();
    assert!(add(drawing, &face, vec![part]).apply(board).is_some());
}

fn names(board: &Board) -> Vec<&str> {
    board.faces.iter().flat_map(|f| &f.parts).map(|p| p.designator.as_str()).collect()
}

#[test]
fn parts_take_kind_rail_and_the_next_free_number() {
    let (mut board, mut drawing) = start();
    ask(&mut board, &mut drawing, Draw::NewRail(" V12 ".into()));
    place(&mut board, &mut drawing, 5.0, 5.0);
    place(&mut board, &mut drawing, 9.0, 5.0);
    ask(&mut board, &mut drawing, Draw::Kind(PartKind::Inductor));
    place(&mut board, &mut drawing, 15.0, 5.0);
    assert_eq!(names(&board), ["C1", "C2", "L1"]);
    assert!(board.faces[0].parts.iter().all(|p| p.rails == ["V12"]));
    assert!(board.faces[0].parts[2].series && !board.faces[0].parts[0].series);
    assert_eq!(board.check(), Ok(()));
}

#[test]
fn an_array_is_named_spaced_and_one_step_to_undo() {
    let (mut board, mut drawing) = start();
    place(&mut board, &mut drawing, 5.0, 5.0);
    let before = board.clone();
    let inverse =
        ask(&mut board, &mut drawing, Draw::Array { columns: 3, rows: 2, dx_mm: 3.0, dy_mm: 0.0 }).expect("copies");
    assert_eq!(names(&board), ["C1", "C2", "C3", "C4", "C5", "C6"]);
    let last = &board.faces[0].parts[5];
    assert_eq!((last.x_mm, last.y_mm), (11.0, 6.4), "no distance means side by side, 0.4 mm apart");
    assert_eq!(drawing.selected.len(), 5, "the copies are selected");
    inverse.apply(&mut board);
    assert_eq!(board, before);
    assert_eq!(act(&board, &mut drawing, Draw::Array { columns: 9999, rows: 9999, dx_mm: 1.0, dy_mm: 1.0 }), None);
}

#[test]
fn copies_go_to_the_other_face_too() {
    let (mut board, mut drawing) = start();
    place(&mut board, &mut drawing, 5.0, 5.0);
    ask(&mut board, &mut drawing, Draw::Copy);
    ask(&mut board, &mut drawing, Draw::AddFace);
    assert_eq!(drawing.face, "bottom");
    ask(&mut board, &mut drawing, Draw::Paste);
    assert_eq!(board.faces[1].parts[0].designator, "C2");
    assert_eq!(board.faces[0].through.as_ref().map(|t| (t.face.as_str(), t.dx_mm)), Some(("bottom", 40.0)));
    assert_eq!(board.faces[1].through.as_ref().map(|t| t.face.as_str()), Some("top"));
    assert_eq!(board.check(), Ok(()));
}

#[test]
fn a_part_is_found_by_designator_or_rail_on_any_face() {
    let (mut board, mut drawing) = start();
    ask(&mut board, &mut drawing, Draw::NewRail("V5".into()));
    for x in [5.0, 10.0] {
        place(&mut board, &mut drawing, x, 5.0);
    }
    ask(&mut board, &mut drawing, Draw::AddFace);
    for (text, wanted) in [("c2", vec!["C2"]), ("v5", vec!["C1", "C2"]), ("nothing", vec![])] {
        ask(&mut board, &mut drawing, Draw::Find(text.into()));
        assert_eq!(drawing.selected.iter().map(String::as_str).collect::<Vec<_>>(), wanted, "{text}");
        if !wanted.is_empty() {
            assert_eq!(drawing.face, "top");
        }
    }
}

#[test]
fn numbering_anew_reads_like_text_and_undoes() {
    let (mut board, mut drawing) = start();
    for (x, y) in [(30.0, 5.0), (5.0, 20.0), (5.0, 5.0)] {
        place(&mut board, &mut drawing, x, y);
    }
    ask(&mut board, &mut drawing, Draw::SelectAll);
    let before = board.clone();
    let inverse = ask(&mut board, &mut drawing, Draw::Renumber).expect("renumbered");
    let at = |name: &str| board.part(name).map(|(_, p)| (p.x_mm, p.y_mm));
    assert_eq!([at("C1"), at("C2"), at("C3")], [Some((5.0, 5.0)), Some((30.0, 5.0)), Some((5.0, 20.0))]);
    inverse.apply(&mut board);
    assert_eq!(board, before);
}

#[test]
fn squaring_up_places_the_photo_and_draws_the_first_outline() {
    let (mut board, mut drawing) = start();
    board.faces[0].outline.clear();
    board.faces[0].photo = Some(photo::unsquared("p.png".into(), [640, 480]));
    ask(&mut board, &mut drawing, Draw::Tool(Tool::Square));
    drawing.points = vec![[600.0, 30.0], [30.0, 40.0], [20.0, 450.0], [620.0, 460.0]];
    assert_eq!(act(&board, &mut drawing, Draw::Finish), None, "without lengths nothing is squared up");
    drawing.lengths = ["60".into(), "40,5".into()];
    ask(&mut board, &mut drawing, Draw::Finish);
    let photo = board.faces[0].photo.clone().unwrap();
    assert_eq!((photo.corners_px[0], photo.width_mm, photo.height_mm), ([30.0, 40.0], 60.0, 40.5));
    assert_eq!(board.faces[0].outline[2], [60.0, 40.5]);
    assert_eq!(board.check(), Ok(()));
}

#[test]
fn an_outline_goes_around_what_is_drawn() {
    let (mut board, mut drawing) = start();
    board.faces[0].outline.clear();
    assert_eq!(act(&board, &mut drawing, Draw::OutlineAround), None);
    place(&mut board, &mut drawing, 10.0, 10.0);
    ask(&mut board, &mut drawing, Draw::OutlineAround);
    assert_eq!(board.faces[0].outline, [[7.0, 7.5], [13.0, 7.5], [13.0, 12.5], [7.0, 12.5]]);
    board.faces[0].holes.push(Hole { x_mm: 8.0, y_mm: 8.0, diameter_mm: 1.0 });
    assert_eq!(board.check(), Ok(()));
}
