//! Point pairs and refinement against OpenCV on the same pictures in the same run (`tests/reference/line_up.py`).
//! Needs the Python environment that `tests/run` sets up.

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

#[path = "../../../tests/reference/launch.rs"]
mod launch;

use std::path::Path;

use joulemark_frames::{
    NoProgress, Samples,
    read::{self, ReadOptions},
};
use joulemark_locate::{
    align::{Alignment, AlignmentKind, PointPair},
    board::{Face, Part},
};
use nalgebra::{Matrix3, Point2};
use serde_json::Value;

fn reference(folder: &Path) -> Value {
    serde_json::from_slice(&launch::run("line_up.py", &[folder.as_os_str()], &[])).unwrap()
}

fn rows(value: &Value) -> Vec<Vec<f64>> {
    let row = |v: &Value| v.as_array().unwrap().iter().map(|n| n.as_f64().unwrap()).collect();
    value.as_array().unwrap().iter().map(row).collect()
}

fn matrix(value: &Value) -> Matrix3<f64> {
    Matrix3::from_row_iterator(rows(value).into_iter().flatten())
}

fn seen(m: &Matrix3<f64>, x: f64, y: f64) -> Point2<f64> {
    let v = m * nalgebra::Vector3::new(x, y, 1.0);
    Point2::new(v.x / v.z, v.y / v.z)
}

/// Root mean square distance of two mappings over the board, pixels.
fn apart_px(a: &Matrix3<f64>, b: &Matrix3<f64>) -> f64 {
    let at = (0..30).map(|i| (f64::from(i % 6) * 10.0, f64::from(i / 6) * 8.0));
    let squares: Vec<f64> = at.map(|(x, y)| (seen(a, x, y) - seen(b, x, y)).norm_squared()).collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

#[test]
fn pairs_agree_with_opencv_and_the_refinement_is_no_worse_than_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let answer = reference(folder.path());
    println!("compared with OpenCV {}", answer["version"]);
    let recording = read::open(&folder.path().join("pictures.npy"), &ReadOptions::default(), &NoProgress).unwrap();
    let Samples::F32(pictures) = recording.samples else { panic!("32-bit values expected") };
    let part = |(i, v): (usize, Vec<f64>)| Part {
        designator: format!("C{i}"),
        x_mm: v[0],
        y_mm: v[1],
        width_mm: v[2],
        height_mm: v[3],
        rotation_deg: v[4],
        ..Part::default()
    };
    let (w, h) = (answer["board"][0].as_f64().unwrap(), answer["board"][1].as_f64().unwrap());
    let face = Face {
        name: "top".into(),
        outline: vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
        parts: rows(&answer["parts"]).into_iter().enumerate().map(part).collect(),
        ..Face::default()
    };
    let (mut ours, mut theirs) = (0.0, 0.0);
    let cases = answer["cases"].as_array().unwrap();
    for (case, picture) in cases.iter().zip(pictures.outer_iter()) {
        let truth = matrix(&case["truth"]);
        let pairs: Vec<PointPair> = rows(&case["mm"])
            .iter()
            .zip(rows(&case["px"]))
            .map(|(mm, px)| PointPair { x_px: px[0], y_px: px[1], x_mm: mm[0], y_mm: mm[1] })
            .collect();
        let alignment = Alignment::fit_kind(AlignmentKind::Homography, &pairs).unwrap();
        // Both minimise squared pixel distances; cv2 stops its iterations a little earlier.
        let apart = apart_px(alignment.image_from_board(), &matrix(&case["clicked"]));
        assert!(apart < 1e-3, "{apart}");
        let refined = alignment.refine(&pairs, &face, picture).unwrap();
        let errors = [alignment.image_from_board(), refined.alignment.image_from_board(), &matrix(&case["ecc"])]
            .map(|m| apart_px(m, &truth));
        println!("clicked {:.3} px, refined {:.3} px, OpenCV's ECC {:.3} px", errors[0], errors[1], errors[2]);
        // OpenCV fills polygons to whole fine pixels, a quarter of a picture's: an eighth is what the truth is worth.
        assert!(errors[1] < errors[0] && errors[1] < 0.25, "{errors:?}");
        ours += errors[1];
        theirs += errors[2];
    }
    let count = cases.len() as f64;
    println!("on average {:.3} px, OpenCV's ECC {:.3} px", ours / count, theirs / count);
    // ECC sees every pixel and every level; edges alone come within twice that and the truth's own rounding.
    assert!(ours / count < 2.0 * theirs / count + 0.125, "{ours} {theirs}");
}
