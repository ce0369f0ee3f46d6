//! Refinement on simulated practice cases, where one point of the true mapping is known: the middle of the faulty part.

use nalgebra::{Point2, Vector2};

use super::super::Alignment;
use crate::simulate::scenario;

/// The marked pairs of every case of one seed carry the same click errors, so one seed alone looks as if refinement had a
/// shift of its own. Over several seeds it has none.
#[test]
fn practice_cases_come_nearer_to_the_truth_and_keep_no_common_shift() {
    let mut errors: Vec<[Vector2<f64>; 2]> = Vec::new();
    for seed in 1..=6 {
        for name in ["ceramic-capacitor", "faint"] {
            let case = scenario::build(name, seed).unwrap();
            let truth = &case.simulated.truth;
            let (mm, px) = (truth.centre_mm.unwrap(), truth.centre_px.unwrap());
            let stack = &case.simulated.take.stack;
            let before = (0..10).map(|i| stack.frame(i)).reduce(|a, b| a + b).unwrap() / 10.0;
            let fitted = Alignment::fit(&case.simulated.pairs).unwrap();
            let face = case.board.face(&case.face).unwrap();
            let off = |a: &Alignment| a.to_image(Point2::new(mm.x, mm.y)) - px;
            // A refinement that is refused leaves the pairs as they are: nothing to compare.
            if let Ok(refined) = fitted.refine(&case.simulated.pairs, face, before.view()) {
                errors.push([off(&fitted), off(&refined.alignment)]);
            }
        }
    }
    let count = errors.len() as f64;
    let rms = |which: usize| (errors.iter().map(|e| e[which].norm_squared()).sum::<f64>() / count).sqrt();
    let mean = errors.iter().map(|e| e[1]).sum::<Vector2<f64>>() / count;
    println!("{count} refined: {:.2} px, then {:.2} px; mean then {:.3}, {:.3} px", rms(0), rms(1), mean.x, mean.y);
    assert!(count >= 6.0, "hardly any was refined");
    assert!(rms(1) < 0.6 * rms(0), "{} {}", rms(0), rms(1));
    // Errors of some 0.1 px each leave 0.04 px in the mean of eight; half a pixel of a wrong convention would be plain.
    assert!(mean.norm() < 0.12, "{mean}");
}
