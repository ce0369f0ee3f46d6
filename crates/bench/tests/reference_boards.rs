//! Design files written by ezdxf and gerbonara and paths measured by svgpathtools, in the same run
//! (`tests/reference/board_files.py`). Needs the Python environment that `tests/run` sets up.

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

#[path = "../../../tests/reference/launch.rs"]
mod launch;

use std::{fs, path::Path};

use joulemark::board_files::{self, Choices, Design, Side};
use serde_json::Value;

fn reference(folder: &Path) -> Value {
    serde_json::from_slice(&launch::run("board_files.py", &[folder.as_os_str()], &[])).unwrap()
}

fn read(folder: &Path, name: &str) -> Design {
    let file = folder.join(name);
    board_files::read(&file, &fs::read(&file).unwrap(), &Choices::default()).unwrap()
}

fn area(shape: &[[f64; 2]]) -> f64 {
    let n = shape.len();
    let twice: f64 = (0..n).map(|i| (shape[i], shape[(i + 1) % n])).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    0.5 * twice.abs()
}

fn extent(shape: &[[f64; 2]], axis: usize) -> f64 {
    let (low, high) = shape.iter().map(|p| p[axis]).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    high - low
}

#[test]
fn files_of_independent_libraries_are_read_as_they_say() {
    let folder = tempfile::tempdir().unwrap();
    let answer = reference(folder.path());
    println!("compared with {}", answer["versions"]);

    let outlines = answer["outlines"].as_array().unwrap();
    assert!(outlines.len() >= 16, "only {} outlines", outlines.len());
    for case in outlines {
        let name = case[0].as_str().unwrap();
        let design = read(folder.path(), name);
        let outline = design.outline.as_ref().unwrap_or_else(|| panic!("{name}: no outline"));
        let number = |i: usize| case[i].as_f64().unwrap();
        // Chords stay within 0.02 mm of an arc, so the area within that times a circumference of about 200 mm, and the
        // extent within twice it (files in single precision or on a grid add thousandths).
        assert!((area(outline) - number(1)).abs() < 0.02 * 200.0, "{name}: {} against {}", area(outline), number(1));
        for axis in [0, 1] {
            let found = extent(outline, axis);
            assert!((found - number(2 + axis)).abs() < 0.045, "{name}: {found} against {}", number(2 + axis));
        }
        assert_eq!(design.cutouts.len() as u64, case[4].as_u64().unwrap(), "{name}: {:?}", design.notes);
    }

    for case in answer["netlists"].as_array().unwrap() {
        let name = case[0].as_str().unwrap();
        let design = read(folder.path(), name);
        let pads = case[1].as_array().unwrap();
        assert_eq!(design.parts.len(), pads.len());
        for (part, pad) in design.parts.iter().zip(pads) {
            let number = |i: usize| pad[i].as_f64().unwrap();
            assert_eq!(part.designator, pad[0].as_str().unwrap());
            assert_eq!(part.side == Side::Bottom, pad[1].as_u64() == Some(2), "{name}");
            let [w, h] = part.size_mm.unwrap();
            for (found, wanted) in [(part.x_mm, number(2)), (part.y_mm, number(3)), (w, number(4)), (h, number(5))] {
                // The file's own grid of 0.001 mm or 0.0001 inch, on which the values lie, and its writer's rounding.
                assert!((found - wanted).abs() < 0.0026, "{name}, {}: {found} against {wanted}", part.designator);
            }
            let net = pad[6].as_str().unwrap();
            assert_eq!(part.nets, if net == "GND" { Vec::new() } else { vec![net.to_owned()] }, "{name}");
        }
    }
}
