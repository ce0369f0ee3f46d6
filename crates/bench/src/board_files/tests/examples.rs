//! The numbers here are those the example files were written by, not read off the readers.

use joulemark_locate::board::PartKind;

use super::super::{Design, DesignPart, Side, contours::area, units::LengthUnit};
use super::*;

/// Designator, side, x, y, rotation.
const PARTS: [(&str, Side, f64, f64, f64); 6] = [
    ("U1", Side::Top, 20.0, 25.0, 0.0),
    ("C12", Side::Top, 35.0, 30.0, 90.0),
    ("L1", Side::Top, 42.5, 20.0, 0.0),
    ("F1", Side::Top, 8.0, 30.0, 90.0),
    ("C13", Side::Top, 30.0, 12.0, 45.0),
    ("D1", Side::Bottom, 50.0, 10.0, 180.0),
];

fn part<'a>(design: &'a Design, name: &str) -> &'a DesignPart {
    design.parts.iter().find(|p| p.designator == name).unwrap()
}

/// 60 x 40 less four corners of 3 mm radius, each missing r² (1 - π/4).
fn outline_area() -> f64 {
    2400.0 - 4.0 * 9.0 * (1.0 - std::f64::consts::FRAC_PI_4)
}

fn check_outline(design: &Design) {
    let outline = design.outline.as_ref().unwrap();
    // Chords lose at most 0.02 mm along each of four quarter circles of 4.7 mm.
    assert!((area(outline) - outline_area()).abs() < 0.02 * 4.0 * 4.72, "{}", area(outline));
    let [l, b, r, t] = design.bounds_mm().unwrap();
    assert!((r - l - 60.0).abs() < 1e-5 && (t - b - 40.0).abs() < 1e-5);
    assert_eq!(design.cutouts.len(), 1);
    let hole = std::f64::consts::PI * 1.5 * 1.5;
    assert!((area(&design.cutouts[0]) - hole).abs() < 0.02 * std::f64::consts::TAU * 1.5);
    let centre = |k: usize| design.cutouts[0].iter().map(|p| p[k]).sum::<f64>() / design.cutouts[0].len() as f64;
    assert!((centre(0) - l - 4.0).abs() < 0.01 && (t - centre(1) - 5.0).abs() < 0.01);
}

#[test]
fn the_centroid_list_in_millimetres() {
    let design = example("centroid.csv");
    assert_eq!(design.parts.len(), 6);
    for (name, side, x, y, turn) in PARTS {
        let p = part(&design, name);
        assert_eq!((p.side, p.x_mm, p.y_mm, p.rotation_deg), (side, x, y, turn), "{name}");
    }
    assert_eq!(part(&design, "C12").size_mm, Some([1.6, 0.8]));
    assert_eq!(part(&design, "F1").size_mm, Some([3.2, 1.6]));
    assert_eq!(part(&design, "L1").size_mm, None);
    assert_eq!(part(&design, "L1").kind, PartKind::Inductor);
    assert!(design.notes.iter().all(|n| !n.contains("unit")), "the header states it: {:?}", design.notes);
}

#[test]
fn a_list_in_mil_is_guessed_with_its_reason_and_the_users_word_goes_before() {
    let design = example("centroid-mil.txt");
    for (name, _, x, y, _) in PARTS {
        // Four decimals of a mil.
        assert!((part(&design, name).x_mm - x).abs() < 1e-5 && (part(&design, name).y_mm - y).abs() < 1e-5);
    }
    let note = design.notes.iter().find(|n| n.contains("unit is not stated")).unwrap();
    assert!(note.contains("mil") && note.contains("span 1654"), "{note}");
    let stated = Choices { unit: Some(LengthUnit::Millimetre), ..Choices::default() };
    let wrong = read(Path::new("l.txt"), &bytes("centroid-mil.txt"), &stated).unwrap();
    assert_eq!(part(&wrong, "U1").x_mm, 787.4016);
}

#[test]
fn the_netlist_gives_nets_positions_and_extents() {
    let design = example("netlist.ipc");
    for (name, side, x, y, _) in PARTS {
        let p = part(&design, name);
        assert_eq!(p.side, side, "{name}");
        // Whole thousandths of a millimetre; the slanted part's pads are rounded to them.
        assert!((p.x_mm - x).abs() < 1e-3 && (p.y_mm - y).abs() < 1e-3, "{name}: {} {}", p.x_mm, p.y_mm);
    }
    let size = |name: &str| part(&design, name).size_mm.unwrap();
    let near = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).abs() < 2e-3 && (a[1] - b[1]).abs() < 2e-3;
    // U1: pads of 1 mm at ±3, ±2; L1: pads 2 x 5 at ±3; C12: pads 0.8 x 0.9 at ±0.75 along y, which becomes its x.
    assert!(near(size("U1"), [7.0, 5.0]) && near(size("L1"), [8.0, 5.0]));
    assert!(near(size("C12"), [0.8, 2.4]), "{:?}", size("C12"));
    // C13 lies at 45 degrees: pads 0.9 along, 0.8 across, 1.5 apart.
    assert!(near(size("C13"), [2.4, 0.8]) && (part(&design, "C13").rotation_deg - 45.0).abs() < 1e-9);
    // J1: round pads of 1.5 mm, 2 mm apart.
    assert!(near(size("J1"), [1.5, 3.5]), "{:?}", size("J1"));
    let nets: Vec<(&str, usize)> = design.nets.iter().map(|n| (n.name.as_str(), n.pins)).collect();
    assert_eq!(nets, [("V12", 4), ("CHARGE_CURRENT_SENSE_POSITIVE", 1), ("V5", 3), ("VIN", 3)]);
    assert_eq!(part(&design, "U1").nets, ["V12", "CHARGE_CURRENT_SENSE_POSITIVE", "V5"]);
    assert!(part(&design, "TP1").nets.is_empty());
    assert!(!design.parts.iter().any(|p| p.designator == "VIA"));
    // The board's edge, its corners cut straight.
    assert!((area(design.outline.as_ref().unwrap()) - (2400.0 - 4.0 * 4.5)).abs() < 1e-9);
}

#[test]
fn profiles_of_gerber_svg_and_dxf_agree() {
    for name in ["profile.gbr", "outline.svg", "outline.dxf"] {
        check_outline(&example(name));
    }
    let dxf = example("outline.dxf");
    assert_eq!(dxf.notes, ["layer 'board_outline' taken, of board_outline, notes"]);
}

#[test]
fn the_component_layer_gives_bodies() {
    let design = example("components-top.gbr");
    assert_eq!(design.parts.len(), 5);
    for (name, side, x, y, turn) in PARTS.into_iter().filter(|p| p.1 == Side::Top) {
        let p = part(&design, name);
        assert_eq!((p.side, p.rotation_deg), (side, turn));
        // Coordinates have six decimals.
        assert!((p.x_mm - x).abs() < 2e-6 && (p.y_mm - y).abs() < 2e-6, "{name}: {} {}", p.x_mm, p.y_mm);
    }
    let [w, h] = part(&design, "C13").size_mm.unwrap();
    assert!((w - 1.6).abs() < 4e-6 && (h - 0.8).abs() < 4e-6);
}
