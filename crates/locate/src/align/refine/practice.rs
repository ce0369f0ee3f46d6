//! Refinement on simulated practice cases, where one point of the true mapping is known: the middle of the faulty part.

use nalgebra::Point2;

use super::super::Alignment;
use crate::simulate::scenario;

#[test]
fn practice_cases_come_nearer_to_the_truth_and_keep_no_common_shift() {
    let mut errors = Vec::new();
    for seed in 1..=6 {
        for name in ["ceramic-capacitor", "faint"] {
            let case = scenario::build(name, seed).unwrap();
            let truth = &case.simulated.truth;
            let (Some(mm), Some(px)) = (truth.centre_mm, truth.centre_px) else { continue };
            let stack = &case.simulated.take.stack;
            let before = (0..10).map(|i| stack.frame(i)).reduce(|a, b| a + b).unwrap() / 10.0;
            let fitted = Alignment::fit(&case.simulated.pairs).unwrap();
            let face = case.board.face(&case.face).unwrap();
            let refined = fitted.refine(&case.simulated.pairs, face, before.view());
            let off = |a: &Alignment| a.to_image(Point2::new(mm.x, mm.y)) - px;
            match refined {
                Ok(r) => {
                    println!("{name} {seed}: {:?} then {:?}", off(&fitted), off(&r.alignment));
                    errors.push((off(&fitted), off(&r.alignment)));
                }
                Err(e) => println!("{name} {seed}: {:?}, {e}", off(&fitted)),
            }
        }
    }
    assert!(false);
}
