//! The merge rule, and where things land.

use joulemark_locate::board::{Board, Face, Hole, Part, PartKind};

use super::super::{
    Side,
    merge::{MergeOptions, merge},
    place::Frame,
};
use super::*;

fn all() -> Design {
    Design::join(["profile.gbr", "components-top.gbr", "centroid.csv", "netlist.ipc"].map(example))
}

#[test]
fn a_new_board_takes_everything_and_passes_its_check() {
    let merged = merge(&Board::default(), &all(), &MergeOptions::default()).unwrap();
    let board = merged.board;
    assert_eq!(board.check(), Ok(()));
    // y points down from the upper edge at 40 mm.
    let (face, c12) = board.part("C12").unwrap();
    assert_eq!((face.name.as_str(), c12.x_mm, c12.y_mm, c12.rotation_deg), ("top", 35.0, 10.0, 270.0));
    assert_eq!((c12.width_mm, c12.height_mm), (1.6, 0.8));
    assert_eq!(c12.rails, ["V12"]);
    // Seen from behind, 50 mm from the left are 10 mm from the left.
    let (face, d1) = board.part("D1").unwrap();
    assert_eq!((face.name.as_str(), d1.x_mm, d1.y_mm), ("bottom", 10.0, 30.0));
    // Shown through from the top it lies where the design has it.
    let top = board.face("top").unwrap();
    let seen = top.through.as_ref().unwrap().seen(d1);
    assert_eq!((seen.x_mm, seen.y_mm), (50.0, 30.0));
    let rails: Vec<&str> = board.rails.iter().map(|r| r.name.as_str()).collect();
    assert_eq!(rails, ["V12", "V5", "VIN"]);
    assert!(board.rails.iter().all(|r| r.nominal_volts.is_none()), "volts are never guessed from a name");
    assert!(merged.words.iter().any(|w| w.contains("8 parts added")), "{:?}", merged.words);
    assert!(
        merged.words.iter().any(|w| w == "1 nets left out, whose names are not those of supplies"),
        "{:?}",
        merged.words
    );
}

#[test]
fn what_was_drawn_by_hand_stays_where_the_file_is_silent() {
    let drawn = |designator: &str, x_mm: f64, y_mm: f64| Part {
        designator: designator.into(),
        x_mm,
        y_mm,
        width_mm: 9.0,
        height_mm: 8.0,
        ..Part::default()
    };
    // Drawn 5 mm further right and 2 mm further down than the design's own corner would have it.
    let mut l1 = drawn("L1", 47.5, 22.0);
    (l1.kind, l1.series, l1.emissivity) = (PartKind::Ferrite, true, Some(0.8));
    let mut board = Board {
        name: "drawn".into(),
        faces: vec![Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [70.0, 0.0], [70.0, 50.0], [0.0, 50.0]],
            parts: vec![l1, drawn("U1", 25.0, 17.0), drawn("C13", 35.3, 30.1), drawn("X9", 1.0, 1.0)],
            through: None,
            ..Face::default()
        }],
        rails: Vec::new(),
    };
    board.faces[0].parts[1].kind = PartKind::Ic;
    let list = example("centroid.csv");
    // The list has no outline: its own corner is that of its parts.
    let merged = merge(&board, &list, &MergeOptions::default()).unwrap();
    let l1 = merged.board.part("L1").unwrap().1;
    assert_eq!((l1.x_mm, l1.y_mm, l1.width_mm, l1.height_mm), (47.5, 22.0, 9.0, 8.0));
    assert_eq!((l1.kind, l1.series, l1.emissivity), (PartKind::Ferrite, true, Some(0.8)));
    let f1 = merged.board.part("F1").unwrap().1;
    assert_eq!((f1.x_mm, f1.y_mm), (13.0, 12.0));
    assert_eq!(merged.board.face("top").unwrap().outline.len(), 4);
    let words = merged.words.join("\n");
    assert!(
        words.contains("placed by 3 parts that drawing and file both have; half of them agree within 0.00 mm"),
        "{words}"
    );
    assert!(words.contains("1 parts updated where they were drawn otherwise: C13"), "{words}");
    assert!(words.contains("1 parts kept as drawn, which the file does not list: X9"), "{words}");
    // Importing the same again changes nothing.
    let again = merge(&merged.board, &list, &MergeOptions::default()).unwrap();
    assert_eq!(again.board, merged.board);
}

#[test]
fn frames_turn_back() {
    let frame = Frame { left_mm: -3.0, right_mm: 57.0, top_mm: 40.0 };
    for side in [Side::Top, Side::Bottom] {
        let p = [12.25, 7.5];
        assert_eq!(frame.design_from_face(side, frame.face_from_design(side, p)), p);
    }
}

/// A slot of 4 x 1 mm with its middle at (12, 20.5): by hand, a circle of 4 mm^2 has a diameter of sqrt(16/pi) = 2.2568 mm.
#[test]
fn cut_outs_become_holes_on_both_faces_and_say_when_they_are_not_round() {
    let design = Design {
        outline: Some(vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]]),
        cutouts: vec![vec![[10.0, 20.0], [14.0, 20.0], [14.0, 21.0], [10.0, 21.0]]],
        ..Design::default()
    };
    let face = |name: &str, holes| Face { name: name.into(), holes, ..Face::default() };
    let hole = |x_mm, y_mm, diameter_mm| Hole { x_mm, y_mm, diameter_mm };
    let drawn = vec![hole(12.3, 19.4, 1.0), hole(40.0, 10.0, 3.0)];
    let board = Board { faces: vec![face("top", drawn), face("bottom", Vec::new())], ..Board::default() };
    let merged = merge(&board, &design, &MergeOptions::default()).unwrap();
    // Written to a ten-thousandth of a millimetre.
    let slot = |x_mm| hole(x_mm, 19.5, 2.2568);
    let holes = |name: &str| merged.board.face(name).unwrap().holes.clone();
    assert_eq!(holes("top"), [hole(40.0, 10.0, 3.0), slot(12.0)], "the drawn one there is replaced, the other stays");
    assert_eq!(holes("bottom"), [slot(48.0)]);
    assert!(merged.words.iter().any(|w| w.starts_with("1 of them are not round")), "{:?}", merged.words);
}
