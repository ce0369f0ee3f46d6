//! Pulses whose period is only roughly known: the recording itself tells it.

use std::f64::consts::TAU;

use joulemark_frames::Timeline;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use crate::{
    model::{Drive, Pulses},
    repair::Frames,
};

/// The period is sought this far to either side.
const REACH: f64 = 0.08;
/// Blocks across the picture's shorter side.
const BLOCKS: usize = 20;
/// Block whose pulses are weaker than this chi-square (two degrees of freedom, all periods tried) tell nothing.
const LEAST_CHI_SQUARE: f64 = 40.0;

/// Pulses with the period and the start that follow best what the warmest blocks of the picture do. `None` where nothing
/// follows pulses of any period near the given one.
pub(crate) fn refined(stack: &dyn Frames, timeline: &Timeline, pulses: Pulses) -> Option<Pulses> {
    let courses = block_courses(stack);
    let time_s = &timeline.time_s;
    let span_s = time_s[time_s.len() - 1] - pulses.from_s;
    // An eighth of the period that one more turn over the recording would make.
    let step_s = pulses.period_s * pulses.period_s / (8.0 * span_s.max(pulses.period_s));
    let steps = (REACH * pulses.period_s / step_s).ceil() as i32;
    let drive = Drive::from_timeline(timeline, 0.0);
    let background = crate::model::pulse_background(&drive.with_pulses(pulses));
    let off: Vec<DVector<f64>> = courses.iter().map(|c| c - &background * background.tr_mul(c)).collect();
    let (chi_square, period_s, block) = (-steps..=steps)
        .into_par_iter()
        .map(|i| {
            let period_s = pulses.period_s + f64::from(i) * step_s;
            let (chi_square, block) = strongest(&off, &background, time_s, period_s);
            (chi_square, period_s, block)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)))?;
    if chi_square < LEAST_CHI_SQUARE {
        return None;
    }
    // The block's phase: heat lags by half a right angle within a factor of two in time constant, so that is the start.
    let carrier = carrier_off(&background, time_s, period_s);
    let factors = carrier.tr_mul(&carrier).try_inverse()? * carrier.tr_mul(&off[block]);
    // F = A sin(wt - phi), t from zero; power of duty d leads its own start by pi/2 - pi d.
    let phase = (-factors[1]).atan2(factors[0]);
    let power_phase = std::f64::consts::PI * pulses.duty - std::f64::consts::FRAC_PI_2;
    let lag = phase - power_phase - TAU * pulses.from_s / period_s;
    let lag_deg = ((lag + std::f64::consts::PI).rem_euclid(TAU) - std::f64::consts::PI).to_degrees();
    let from_s = if (-10.0..=100.0).contains(&lag_deg) {
        pulses.from_s
    } else {
        pulses.from_s + (lag_deg - 45.0) / 360.0 * period_s
    };
    Some(Pulses { from_s, period_s, ..pulses })
}

/// Mean course of blocks of pixels, less their first value.
fn block_courses(stack: &dyn Frames) -> Vec<DVector<f64>> {
    let shape = stack.shape();
    let side = (shape.width_px.min(shape.height_px) / BLOCKS).max(1);
    let (columns, rows) = (shape.width_px / side, shape.height_px / side);
    let frames: Vec<Vec<f64>> = (0..shape.frames)
        .into_par_iter()
        .map(|frame| {
            let mut sums = vec![0.0; columns * rows];
            let mut row = vec![0.0_f32; columns * side];
            for y in 0..rows * side {
                stack.copy_run(frame, y * shape.width_px..y * shape.width_px + columns * side, &mut row);
                for (sum, block) in sums[y / side * columns..].iter_mut().zip(row.chunks_exact(side)) {
                    *sum += block.iter().map(|v| f64::from(*v)).sum::<f64>() / (side * side) as f64;
                }
            }
            sums
        })
        .collect();
    (0..columns * rows)
        .map(|b| DVector::from_iterator(frames.len(), frames.iter().map(|f| f[b] - frames[0][b])))
        .collect()
}

fn carrier_off(background: &DMatrix<f64>, time_s: &[f64], period_s: f64) -> DMatrix<f64> {
    let carrier = DMatrix::from_fn(time_s.len(), 2, |i, j| {
        let angle = TAU * time_s[i] / period_s;
        if j == 0 { angle.sin() } else { angle.cos() }
    });
    let inside = background.tr_mul(&carrier);
    carrier - background * inside
}

/// Largest chi-square over the blocks for a period, against each block's own noise.
fn strongest(off: &[DVector<f64>], background: &DMatrix<f64>, time_s: &[f64], period_s: f64) -> (f64, usize) {
    let carrier = carrier_off(background, time_s, period_s);
    let Some(inverse) = carrier.tr_mul(&carrier).try_inverse() else { return (0.0, 0) };
    off.iter()
        .enumerate()
        .map(|(b, course)| {
            let moments = carrier.tr_mul(course);
            let explained = moments.dot(&(&inverse * &moments));
            let freedom = (course.len() - background.ncols() - 2).max(1) as f64;
            let noise = ((course.norm_squared() - explained) / freedom).max(f64::MIN_POSITIVE);
            (explained / noise, b)
        })
        .fold((0.0, 0), |best, found| if found.0 > best.0 { found } else { best })
}
