//! Simulated gain changes with known truth.

use ndarray::{Array2, Array3};

use super::*;
use crate::{CountsLaw, NoProgress};

const SHAPE: (usize, usize, usize) = (60, 40, 50);

/// Gaussian noise by the sum of twelve uniform numbers (variance 1, tails cut at 6), from a fixed seed.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        // Multiplier and increment of Knuth's MMIX generator; the high bits are the good ones.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn next(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// Frames of a textured scene around grey 100, each with its own gain and offset; marks everything off the middle.
fn scene(texture: f64, noise: f64, seed: u64, own: impl Fn(usize) -> (f64, f64)) -> (Stack, Array2<bool>) {
    let mut random = Noise(seed);
    let picture = Array2::from_shape_simple_fn((SHAPE.1, SHAPE.2), || 100.0 + texture * random.next());
    let frames = Array3::from_shape_fn(SHAPE, |(t, y, x)| {
        let (gain, offset) = own(t);
        (offset + gain * picture[[y, x]] + noise * random.next()) as f32
    });
    let marks = Array2::from_shape_fn((SHAPE.1, SHAPE.2), |(y, x)| y < 15 || x < 20);
    (Stack::new(Samples::F32(frames), CountsLaw::IDENTITY), marks)
}

/// What the correction should be: the inverse of a frame's own gain and offset, relative to the first frames' mean.
fn truth(own: impl Fn(usize) -> (f64, f64)) -> Vec<(f64, f64)> {
    let first = SHAPE.0 / 10;
    let mean = |f: &dyn Fn(usize) -> f64| (0..first).map(f).sum::<f64>() / first as f64;
    let (gain, offset) = (mean(&|t| own(t).0), mean(&|t| own(t).1));
    (0..SHAPE.0).map(|t| (gain / own(t).0, offset - gain * own(t).1 / own(t).0)).collect()
}

#[test]
fn gains_come_back_with_honest_standard_errors() {
    let own = |t: usize| (1.0 + 0.2 * (t as f64 / 7.0).sin(), 5.0 * (t as f64 / 11.0).cos());
    let (stack, marks) = scene(20.0, 1.0, 1, own);
    let fit = fit_frame_gains(&stack, &marks, &NoProgress).expect("fits");
    assert_eq!(fit.model, GainModel::GainAndOffset);
    assert!(fit.gain.real && fit.notes.iter().any(|n| n.what.starts_with("automatic gain")), "{:?}", fit.notes);
    let (mut gain_z, mut offset_z) = (0.0, 0.0);
    for (found, (gain, offset)) in fit.frames.iter().zip(truth(own)) {
        gain_z += ((f64::from(found.correction.gain) - gain) / found.gain_se).powi(2);
        offset_z += ((f64::from(found.correction.offset) - offset) / found.offset_se).powi(2);
    }
    // Mean squared z over 60 frames: 1 with a standard deviation of √(2/60) = 0.18, and up to 1/6 more from the common
    // error of the six first frames' scale. Three standard deviations either way.
    for z in [gain_z, offset_z] {
        let mean = z / SHAPE.0 as f64;
        assert!((0.45..1.75).contains(&mean), "mean squared z is {mean}");
    }
}

#[test]
fn corrected_frames_agree() {
    let own = |t: usize| if t < 30 { (1.0, 0.0) } else { (0.7, 12.0) };
    let (mut stack, marks) = scene(20.0, 0.5, 2, own);
    let fit = fit_frame_gains(&stack, &marks, &NoProgress).expect("fits");
    stack.set_frame_gains(fit.corrections());
    let (before, after) = (stack.frame(10), stack.frame(50));
    // Pixels in the middle were not used for fitting. Noise 0.5 and 0.5 / 0.7 make a difference of 0.87; the mean of 750
    // pixels is known to 0.03, and the fit adds as much: four standard deviations of both.
    let middle = ndarray::s![15.., 20..];
    let difference = (&after - &before).slice(middle).mean().expect("pixels");
    assert!(difference.abs() < 0.18, "{difference}");
}

#[test]
fn a_steady_camera_raises_no_alarm() {
    // Thirty recordings: at five standard deviations a false alarm would be one in three million each.
    for seed in 0..30 {
        let (stack, marks) = scene(20.0, 1.0, 100 + seed, |_| (1.0, 0.0));
        let fit = fit_frame_gains(&stack, &marks, &NoProgress).expect("fits");
        assert!(!fit.gain.real && !fit.level.real && fit.notes.is_empty(), "seed {seed}: {fit:?}");
    }
}

#[test]
fn a_hand_passing_does_not_pull_the_fit() {
    let own = |t: usize| (1.0 + 0.002 * t as f64, 0.0);
    let (stack, marks) = scene(20.0, 1.0, 3, own);
    let Samples::F32(mut frames) = stack.samples().clone() else { panic!("float") };
    // Columns 0 to 4 of rows 0 to 29, 8 % of the marked pixels, become warm in twenty frames.
    frames.slice_mut(ndarray::s![20..40, ..30, ..5]).mapv_inplace(|v| v + 80.0);
    let stack = Stack::new(Samples::F32(frames), CountsLaw::IDENTITY);
    let fit = fit_frame_gains(&stack, &marks, &NoProgress).expect("fits");
    for (found, (gain, _)) in fit.frames.iter().zip(truth(own)) {
        // Six standard errors: the common scale error and a few clipped pixels included.
        assert!((f64::from(found.correction.gain) - gain).abs() < 6.0 * found.gain_se, "{found:?}, not {gain}");
    }
}

#[test]
fn an_even_background_gives_an_offset_only_and_says_so() {
    let own = |t: usize| (1.0, if t < 30 { 0.0 } else { 3.0 });
    let (stack, marks) = scene(0.05, 1.0, 4, own);
    let fit = fit_frame_gains(&stack, &marks, &NoProgress).expect("fits");
    assert_eq!(fit.model, GainModel::OffsetOnly);
    assert!(fit.notes[0].what.contains("too even") && fit.level.real, "{:?}", fit.notes);
    assert!(fit.frames.iter().all(|f| f.correction.gain == 1.0));
    // 1250 pixels of noise 1 give 0.028 per frame, the common scale of six first frames 0.012: five of both.
    assert!((fit.frames[50].correction.offset + 3.0).abs() < 0.15, "{:?}", fit.frames[50]);
}

#[test]
fn too_few_pixels_are_said() {
    let (stack, _) = scene(20.0, 1.0, 5, |_| (1.0, 0.0));
    let mut marks = Array2::from_elem((SHAPE.1, SHAPE.2), false);
    marks.row_mut(0).slice_mut(ndarray::s![..10]).fill(true);
    let fit = fit_frame_gains(&stack, &marks, &NoProgress).expect("fits");
    assert_eq!((fit.model, fit.pixels, fit.frames.len()), (GainModel::Nothing, 10, SHAPE.0));
    assert!(fit.notes[0].what.contains("too few"));
}

#[test]
fn clipped_pixels_are_left_out() {
    // An 8-bit picture where a third of the marked pixels is white in the brighter frames.
    let mut random = Noise(6);
    let picture =
        Array2::from_shape_fn((SHAPE.1, SHAPE.2), |(y, _)| if y < 5 { 240.0 } else { 100.0 + 20.0 * random.next() });
    let frames = Array3::from_shape_fn(SHAPE, |(t, y, x)| {
        let gain = if t < 30 { 1.0 } else { 1.25 };
        (gain * picture[[y, x]] + random.next() + 0.5).clamp(0.0, 255.0) as u8
    });
    let marks = Array2::from_shape_fn((SHAPE.1, SHAPE.2), |(y, _)| y < 15);
    let fit =
        fit_frame_gains(&Stack::new(Samples::U8(frames), CountsLaw::IDENTITY), &marks, &NoProgress).expect("fits");
    assert!(fit.pixels <= 500, "{}", fit.pixels);
    // Rounding to whole grey values adds noise of 0.29 to 1; the gain is then known to 0.0024. Five of it.
    assert!((f64::from(fit.frames[50].correction.gain) - 0.8).abs() < 0.012, "{:?}", fit.frames[50]);
}
