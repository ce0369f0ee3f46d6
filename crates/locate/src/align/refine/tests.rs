//! Drawn boards seen through known mappings: the refinement must come nearer to them, or say why it does not.

use nalgebra::{Matrix3, Point2};
use ndarray::Array2;
use proptest::prelude::*;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, StandardNormal};

use super::super::ASSUMED_CLICK_SIGMA_PX;
use super::*;
use crate::board::{Footprint, Part};

const SIZE: (usize, usize) = (240, 320);

fn face() -> Face {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let parts = (0..24)
        .map(|i| Part {
            designator: format!("C{i}"),
            x_mm: 6.0 + 9.5 * f64::from(i % 6),
            y_mm: 6.0 + 9.0 * f64::from(i / 6),
            width_mm: random.random_range(2.0..6.0),
            height_mm: random.random_range(2.0..6.0),
            rotation_deg: f64::from(i % 3) * 45.0,
            ..Part::default()
        })
        .collect();
    Face {
        name: "top".into(),
        outline: vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]],
        parts,
        ..Face::default()
    }
}

/// Tilted, turned and a little perspective, 4.5 px a millimetre.
fn truth() -> Matrix3<f64> {
    Matrix3::new(4.5, -0.3, 24.0, 0.25, 4.6, 22.0, 2e-4, -1e-4, 1.0)
}

/// The board at 20, its surroundings at 19, parts at their own level, blurred by sub-samples, with noise.
fn picture(face: &Face, image_from_board: &Matrix3<f64>, noise: f64) -> Array2<f32> {
    let back = image_from_board.try_inverse().unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let level: Vec<f64> = face.parts.iter().map(|_| random.random_range(-0.8..0.8)).collect();
    let prints: Vec<Footprint> = face.parts.iter().map(Footprint::from).collect();
    Array2::from_shape_fn(SIZE, |(y, x)| {
        let mut sum = 0.0;
        for i in 0..16 {
            let (u, v) = (f64::from(i % 4) / 4.0 - 0.375, f64::from(i / 4) / 4.0 - 0.375);
            let p = apply(&back, Point2::new(x as f64 + u, y as f64 + v));
            let part = prints.iter().position(|f| f.contains(p));
            sum += match part {
                Some(i) => 20.0 + level[i],
                None if face.outline_contains(p) => 20.0,
                None => 19.0,
            };
        }
        let error: f64 = StandardNormal.sample(&mut random);
        (sum / 16.0 + noise * error) as f32
    })
}

fn pairs(image_from_board: &Matrix3<f64>, errors: &[[f64; 2]]) -> Vec<PointPair> {
    let at = [[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0], [25.0, 20.0]];
    errors
        .iter()
        .zip(at)
        .map(|(e, [x_mm, y_mm])| {
            let p = apply(image_from_board, Point2::new(x_mm, y_mm));
            PointPair { x_px: p.x + e[0], y_px: p.y + e[1], x_mm, y_mm }
        })
        .collect()
}

/// Root mean square distance from the truth over the board, pixels.
fn error_px(alignment: &Alignment, truth: &Matrix3<f64>) -> f64 {
    let squares: Vec<f64> = (0..35)
        .map(|i| Point2::new(f64::from(i % 7) * 10.0, f64::from(i / 7) * 10.0))
        .map(|p| (alignment.to_image(p) - apply(truth, p)).norm_squared())
        .collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

const CLICKS: [[f64; 2]; 5] = [[0.9, -0.7], [-0.8, 0.6], [0.5, 1.0], [-1.1, -0.4], [0.8, 0.5]];

#[test]
fn clicks_that_are_off_are_moved_onto_the_edges() {
    let (face, truth) = (face(), truth());
    let pairs = pairs(&truth, &CLICKS);
    let alignment = Alignment::fit_kind(AlignmentKind::Homography, &pairs).unwrap();
    let refined = alignment.refine(&pairs, &face, picture(&face, &truth, 0.05).view()).unwrap();
    let (before, after) = (error_px(&alignment, &truth), error_px(&refined.alignment, &truth));
    println!("{before:.2} px before, {after:.2} px after; moved {:.2} px", refined.moved_px);
    // Edges of some thousand samples at a twentieth of the step: a fifth of a pixel, the pairs as prior included.
    assert!(before > 0.6 && after < 0.2, "{before} {after}");
    assert!(refined.moved_px > 0.5 && refined.moved_mm > 0.1 && refined.contrast[1] > refined.contrast[0]);
    // The uncertainty shrinks, and what is left lies within it.
    let middle = truth_at(&truth, 30.0, 20.0);
    let size = |a: &Alignment| a.covariance_mm2(middle).trace().sqrt();
    assert!(size(&refined.alignment) < 0.5 * size(&alignment));
    let off_mm = (refined.alignment.to_board(middle) - Point2::new(30.0, 20.0)).norm();
    assert!(off_mm < 4.0 * size(&refined.alignment), "{off_mm} {}", size(&refined.alignment));
}

fn truth_at(truth: &Matrix3<f64>, x: f64, y: f64) -> Point2<f64> {
    apply(truth, Point2::new(x, y))
}

#[test]
fn a_picture_without_the_board_is_refused() {
    let (face, truth) = (face(), truth());
    let pairs = pairs(&truth, &CLICKS);
    let alignment = Alignment::fit_kind(AlignmentKind::Homography, &pairs).unwrap();
    let flat = Array2::from_elem(SIZE, 20.0_f32);
    let error = alignment.refine(&pairs, &face, flat.view()).unwrap_err();
    assert!(matches!(error, RefineError::TooFewEdges { found: 0, .. }), "{error}");
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let noise = Array2::from_shape_fn(SIZE, |_| StandardNormal.sample(&mut random));
    alignment.refine(&pairs, &face, noise.view()).unwrap_err();
    let nowhere = Array2::from_elem(SIZE, f32::NAN);
    alignment.refine(&pairs, &face, nowhere.view()).unwrap_err();
    assert_eq!(alignment.refine(&[], &face, flat.view()).unwrap_err(), RefineError::NoPairs);
}

#[test]
fn another_place_of_the_board_is_not_taken_for_a_refinement() {
    let (face, truth) = (face(), truth());
    // The board stands 14 px further right than the pairs say.
    let moved = Matrix3::new(1.0, 0.0, 14.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0) * truth;
    let pairs = pairs(&truth, &CLICKS.map(|c| c.map(|v| 0.3 * v)));
    let alignment = Alignment::fit_kind(AlignmentKind::Homography, &pairs).unwrap();
    let answer = alignment.refine(&pairs, &face, picture(&face, &moved, 0.05).view());
    assert!(answer.is_err(), "moved by {} px", answer.unwrap().moved_px);
}

#[test]
fn a_picture_with_holes_is_refined_around_them() {
    let (face, truth) = (face(), truth());
    let pairs = pairs(&truth, &CLICKS);
    let alignment = Alignment::fit_kind(AlignmentKind::Homography, &pairs).unwrap();
    let mut seen = picture(&face, &truth, 0.05);
    seen.slice_mut(ndarray::s![100..140, 150..220]).fill(f32::NAN);
    let refined = alignment.refine(&pairs, &face, seen.view()).unwrap();
    assert!(error_px(&refined.alignment, &truth) < 0.25);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// Clicks as uncertain as assumed: never worse than a hair, whichever kind and shift.
    #[test]
    fn a_refinement_never_spoils_an_alignment(seed in 0_u64..10_000, kind in 0..3_usize) {
        let face = face();
        let kind = [AlignmentKind::Similarity, AlignmentKind::Affine, AlignmentKind::Homography][kind];
        // A mapping of the kind itself, so that its truth is known.
        let truth = match kind {
            AlignmentKind::Similarity => Matrix3::new(4.5, -0.3, 24.0, 0.3, 4.5, 22.0, 0.0, 0.0, 1.0),
            AlignmentKind::Affine => Matrix3::new(4.5, -0.3, 24.0, 0.25, 4.7, 22.0, 0.0, 0.0, 1.0),
            AlignmentKind::Homography => truth(),
        };
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut click = || -> f64 { let e: f64 = StandardNormal.sample(&mut random); ASSUMED_CLICK_SIGMA_PX * e };
        let errors: Vec<[f64; 2]> = (0..5).map(|_| [click(), click()]).collect();
        let pairs = pairs(&truth, &errors);
        let alignment = Alignment::fit_kind(kind, &pairs).unwrap();
        if let Ok(refined) = alignment.refine(&pairs, &face, picture(&face, &truth, 0.05).view()) {
            let (before, after) = (error_px(&alignment, &truth), error_px(&refined.alignment, &truth));
            prop_assert!(after < before.max(0.2), "{before} {after}");
        }
    }

    #[test]
    fn arbitrary_pictures_never_panic(values in prop::collection::vec(prop::num::f32::ANY, 30 * 40)) {
        let face = face();
        let truth = Matrix3::new(0.6, 0.0, 2.0, 0.0, 0.6, 3.0, 0.0, 0.0, 1.0);
        let pairs = pairs(&truth, &CLICKS);
        if let Ok(alignment) = Alignment::fit(&pairs) {
            let picture = Array2::from_shape_vec((30, 40), values).unwrap();
            let _ = alignment.refine(&pairs, &face, picture.view());
        }
    }
}
