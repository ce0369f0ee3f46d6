//! Proposes when injection started, from the recording alone. The user confirms; nothing is decided here.
//!
//! The pixels that change most between the first and last frames are averaged, and every frame is tried as the onset of
//! a first-order rise and a ramp on a straight background. The weights of the frames follow from the residual sums of squares
//! (Gaussian noise of unknown size, flat prior over frames).

use joulemark_frames::{Stack, Take, Timeline};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// Share of the pixels that are averaged.
const MOVING_SHARE: f64 = 0.01;
/// Frames at either end that cannot be an onset: too few to see a change.
const MARGIN: usize = 4;
/// Time constants tried, as shares of what remains after the onset.
const TAU_SHARES: [f64; 5] = [0.01, 0.03, 0.1, 0.3, 1.0];

/// A proposed onset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnsetProposal {
    /// First injected frame, counted from 0.
    pub frame: usize,
    /// Its time.
    pub time_s: f64,
    /// Probability that the onset is within one frame of it, given that there is one.
    pub confidence: f64,
}

/// Proposes the onset, or `None` when nothing in the recording changes slope clearly.
pub fn propose(take: &Take) -> Option<OnsetProposal> {
    propose_in(&take.stack, &take.timeline)
}

fn propose_in(stack: &Stack, timeline: &Timeline) -> Option<OnsetProposal> {
    let frames = stack.shape().frames;
    if frames < 4 * MARGIN {
        return None;
    }
    let curve = moving_curve(stack);
    let candidates: Vec<(usize, f64)> =
        (MARGIN..frames - MARGIN).map(|onset| (onset, best_residual(&curve, &timeline.time_s, onset))).collect();
    let smooth = residual(&curve, &drifting(&timeline.time_s));
    let (_, least) = candidates.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
    // Likelihood of a residual sum S with n values and unknown noise: S^(-n/2).
    let weight = |s: f64| (-(frames as f64) / 2.0 * (s / least).ln()).exp();
    // Onset, time constant and two amplitudes are as many parameters as bends of a smooth drift and two more; their BIC
    // penalty, and a wide margin for the choice of pixels.
    if frames as f64 * (smooth / least).ln() < 30.0 + 2.0 * (frames as f64).ln() {
        return None;
    }
    let total: f64 = candidates.iter().map(|(_, s)| weight(*s)).sum();
    let (frame, _) = candidates.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let confidence =
        candidates.iter().filter(|(f, _)| f.abs_diff(frame) <= 1).map(|(_, s)| weight(*s)).sum::<f64>() / total;
    Some(OnsetProposal { frame, time_s: timeline.time_s[frame], confidence })
}

/// Mean of the pixels that rose most between the first and last eighth of the frames, relative to its first value.
fn moving_curve(stack: &Stack) -> DVector<f64> {
    let shape = stack.shape();
    let part = (shape.frames / 8).max(2);
    let mean = |from: usize| {
        let mut sum = Array2::<f32>::zeros((shape.height_px, shape.width_px));
        for t in from..from + part {
            sum += &stack.frame(t);
        }
        sum / part as f32
    };
    let change = mean(shape.frames - part) - mean(0);
    let mut order: Vec<usize> = (0..shape.pixels()).collect();
    let value = |p: usize| change[[p / shape.width_px, p % shape.width_px]];
    let keep = ((shape.pixels() as f64 * MOVING_SHARE) as usize).clamp(9, shape.pixels().max(9)).min(shape.pixels());
    order.retain(|&p| value(p).is_finite());
    order.sort_by(|&a, &b| value(b).total_cmp(&value(a)));
    order.truncate(keep);
    let mut curve = DVector::zeros(shape.frames);
    for t in 0..shape.frames {
        let frame = stack.frame(t);
        curve[t] = order.iter().map(|&p| f64::from(frame[[p / shape.width_px, p % shape.width_px]])).sum::<f64>()
            / order.len().max(1) as f64;
    }
    let first = curve[0];
    curve.add_scalar(-first)
}

fn background(time_s: &[f64]) -> DMatrix<f64> {
    let last = time_s[time_s.len() - 1] - time_s[0];
    DMatrix::from_fn(time_s.len(), 2, |i, j| if j == 0 { 1.0 } else { (time_s[i] - time_s[0]) / last })
}

/// Level, slope, bend and a change of bend: what drift can do without any onset.
fn drifting(time_s: &[f64]) -> DMatrix<f64> {
    let last = time_s[time_s.len() - 1] - time_s[0];
    DMatrix::from_fn(time_s.len(), 4, |i, j| ((time_s[i] - time_s[0]) / last).powi(j as i32))
}

fn best_residual(curve: &DVector<f64>, time_s: &[f64], onset: usize) -> f64 {
    let remaining = time_s[time_s.len() - 1] - time_s[onset];
    TAU_SHARES
        .iter()
        .map(|share| {
            let tau_s = share * remaining;
            let rise = DVector::from_fn(time_s.len(), |i, _| {
                let age = time_s[i] - time_s[onset];
                if age > 0.0 { -(-age / tau_s).exp_m1() } else { 0.0 }
            });
            // A board warms on two time scales; a single one would put the onset too early.
            let slow = DVector::from_fn(time_s.len(), |i, _| (time_s[i] - time_s[onset]).max(0.0) / remaining);
            let mut columns = background(time_s).insert_columns(2, 2, 0.0);
            columns.set_column(2, &rise);
            columns.set_column(3, &slow);
            residual(curve, &columns)
        })
        .fold(f64::INFINITY, f64::min)
}

fn residual(curve: &DVector<f64>, columns: &DMatrix<f64>) -> f64 {
    let q = columns.clone().qr().q();
    let rest = curve - &q * q.tr_mul(curve);
    rest.norm_squared().max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, Samples};
    use ndarray::Array3;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;

    fn stack(rise_k: f64) -> (Stack, Timeline) {
        let mut random = ChaCha8Rng::seed_from_u64(3);
        let noise = Normal::new(0.0, 0.05).unwrap();
        let samples = Array3::from_shape_fn((120, 24, 32), |(t, y, x)| {
            let d2 = (x as f64 - 20.0).powi(2) + (y as f64 - 9.0).powi(2);
            let age = (t as f64 - 47.0).max(0.0) / 9.0;
            (300.0 + rise_k * (-d2 / 18.0).exp() * (1.0 - (-age / 4.0).exp()) + noise.sample(&mut random)) as f32
        });
        (Stack::new(Samples::F32(samples), CountsLaw::IDENTITY), Timeline::steady(120, 9.0))
    }

    #[test]
    fn a_clear_rise_gives_its_onset() {
        let (stack, timeline) = stack(3.0);
        let proposal = propose_in(&stack, &timeline).expect("a rise of 3 K at 0.05 K noise");
        // The rise starts after frame 47; frame 48 is the first that shows it.
        assert!(proposal.frame.abs_diff(47) <= 1, "{proposal:?}");
        assert!(proposal.confidence > 0.5, "{proposal:?}");
    }

    #[test]
    fn noise_alone_gives_none() {
        let (stack, timeline) = stack(0.0);
        assert_eq!(propose_in(&stack, &timeline), None);
    }
}
