//! What is written reads back.

use joulemark_locate::board::{Board, Face, Part, Rail};

use super::super::{contours::area, export};
use super::*;
use crate::case::notation;

fn board() -> Board {
    let part = |designator: &str, x_mm: f64, y_mm: f64, rotation_deg: f64| Part {
        designator: designator.into(),
        x_mm,
        y_mm,
        width_mm: 3.2,
        height_mm: 1.6,
        rotation_deg,
        rails: vec!["V12".into()],
        max_volts: Some(16.0),
        emissivity: Some(0.9),
        ..Part::default()
    };
    Board {
        name: "buoy radio <charge & \"sense\">".into(),
        faces: vec![Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [12.345_678_9, 40.0], [0.0, 30.1]],
            parts: vec![
                part("C12", 12.5, 8.0, 90.0),
                part("F<1>", 30.0, 20.0, 37.5),
                part("U1", 0.1 + 0.2, 1.0 / 3.0, 0.0),
            ],
            through: None,
        }],
        rails: vec![Rail { name: "V12".into(), nominal_volts: Some(-12.0) }],
    }
}

#[test]
fn board_json_reads_back_equal() {
    let board = board();
    let text = export::board_json(&board).unwrap();
    let back: Board = notation::parse(Path::new("board.json"), &text).unwrap();
    assert_eq!(back, board);
}

#[test]
fn svg_is_in_millimetres_with_designators_as_text() {
    let board = board();
    let text = export::svg(&board, &board.faces[0]);
    let document = roxmltree::Document::parse(&text).unwrap();
    let root = document.root_element();
    // The part at (0.3, 0.33) reaches 1.3 mm left of the outline and 0.467 above; 1 mm around.
    assert_eq!(root.attribute("width"), Some("63.3mm"));
    let names: Vec<&str> = document.descendants().filter(|n| n.has_tag_name("text")).filter_map(|n| n.text()).collect();
    assert_eq!(names, ["C12", "F<1>", "U1"]);
    // Our own outline reader sees the outline again, at its size.
    let design = super::text("drawing.svg", &text).unwrap();
    let outline = design.outline.as_ref().unwrap();
    assert!((area(outline) - area(&board.faces[0].outline)).abs() < 1e-2, "{}", area(outline));
    // Single precision of the SVG reader over 64 mm.
    let [l, b, r, t] = super::super::design::bounds(outline.iter().copied()).unwrap();
    assert!((r - l - 60.0).abs() < 1e-4 && (t - b - 40.0).abs() < 1e-4);
}
