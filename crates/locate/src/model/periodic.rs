//! Pulsed injection: what is slower than the pulses is no signal, whatever made it.
//!
//! A gate of pulses has a part at zero frequency that leaks over fractional periods and that every drift, reflection or
//! cooling patch imitates. Cosines up to [`SLOW_SHARE`] of the pulse rate are therefore taken off the responses; what is
//! left of them is the pulse rate and its harmonics with the amplitudes and lags that heat can have, and nothing else
//! passes (see Breitenstein, Warta & Langenkamp, Lock-in Thermography, 2nd ed. 2010, ch. 2 for the plain correlation).

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::{Drive, bank, drive::Pulses, subspace::orthonormal_columns};

/// Slower than this share of the pulse rate counts as background.
const SLOW_SHARE: f64 = 0.55;
/// Background cosines at most; a recording of some hundred periods needs no more to be rid of drift.
const MOST_SLOW: usize = 96;
/// Time constants of what was warm before and cools, as shares of the recording: an exponential starts steeply at the first
/// frame, where even cosines are flat, and what they miss of it passes for pulses. Longer ones are a straight line.
const COOLING_SHARES: [f64; 3] = [0.04, 0.12, 0.4];
/// Rates of the pretended pulses of the null, in pulse rates: between its harmonics and above the background.
const BETWEEN: [f64; 6] = [0.72, 1.31, 1.43, 1.57, 1.69, 2.42];

/// Orthonormal background of a pulsed recording: a constant first, then the straight trend, slow cosines, the courses of
/// things that cool from the first frame on, and a step per jump. Frames x k.
pub(super) fn background(drive: &Drive, pulses: &Pulses, jumps: &[usize]) -> DMatrix<f64> {
    background_of(&drive.time_s, pulses.period_s, jumps)
}

fn background_of(time_s: &[f64], period_s: f64, jumps: &[usize]) -> DMatrix<f64> {
    let (first, last) = (time_s[0], time_s[time_s.len() - 1]);
    let span_s = (last - first).max(f64::MIN_POSITIVE);
    let count = ((2.0 * span_s * SLOW_SHARE / period_s).floor() as usize).clamp(2, MOST_SLOW);
    let cooling = count + 2;
    let stepped = cooling + COOLING_SHARES.len();
    let columns = DMatrix::from_fn(time_s.len(), stepped + jumps.len(), |i, j| {
        if let Some(jump) = j.checked_sub(stepped) {
            return f64::from(u8::from(i >= jumps[jump]));
        }
        let x = (time_s[i] - first) / span_s;
        if let Some(cooling) = j.checked_sub(cooling) {
            return (-x / COOLING_SHARES[cooling]).exp();
        }
        // The straight trend stands second: cosines alone cannot follow it at the ends.
        match j {
            0 => 1.0,
            1 => x - 0.5,
            _ => (std::f64::consts::PI * (j - 1) as f64 * x).cos(),
        }
    });
    orthonormal_columns(&columns)
}

/// The frames from the first pulse to the end of the last period. An amplitude is that of these: a recording starts before the
/// pulses do, and over all of it they would seem smaller by the share of the frames without any.
#[derive(Clone, Debug)]
pub struct Train {
    /// Frames of the recording.
    pub rows: Range<usize>,
    /// As [`background`], over these frames alone: what warms slowly starts with the first pulse. Frames of the train x k.
    pub background: DMatrix<f64>,
}

impl Train {
    pub(super) fn new(drive: &Drive, pulses: &Pulses, jumps: &[usize]) -> Self {
        let time_s = &drive.time_s;
        let last_s = drive.last_injected().map_or(f64::INFINITY, |i| time_s[i]);
        let end_s = last_s + (1.0 - pulses.duty) * pulses.period_s;
        let rows = time_s.partition_point(|t| *t < pulses.from_s)..time_s.partition_point(|t| *t <= end_s);
        // Marks that contradict each other leave no train; the whole recording stands in.
        let rows = if rows.len() < 2 { 0..time_s.len() } else { rows };
        let jumps: Vec<usize> =
            jumps.iter().filter(|j| **j > rows.start && **j < rows.end).map(|j| j - rows.start).collect();
        Self { background: background_of(&time_s[rows.clone()], pulses.period_s, &jumps), rows }
    }
}

/// Sine and cosine at the pulse rate and at its harmonics, counted from the start of the first pulse: `F = A sin(wt - lag)` has the
/// components `A cos(lag)` on the sine and `-A sin(lag)` on the cosine. Times x 2 harmonics.
pub fn waves(time_s: &[f64], pulses: &Pulses, harmonics: usize) -> DMatrix<f64> {
    DMatrix::from_fn(time_s.len(), 2 * harmonics, |i, j| {
        let turns = (1 + j / 2) as f64 * (time_s[i] - pulses.from_s) / pulses.period_s;
        let angle = std::f64::consts::TAU * turns;
        if j.is_multiple_of(2) { angle.sin() } else { angle.cos() }
    })
}

/// Amplitude at the pulse rate of a course over a train's frames, by least squares on carrier and background.
pub(super) fn amplitude(course: &DVector<f64>, carrier_off: &DMatrix<f64>) -> f64 {
    let gram = carrier_off.tr_mul(carrier_off);
    gram.try_inverse().map_or(0.0, |inverse| (inverse * carrier_off.tr_mul(course)).norm())
}

/// Drives of pretended pulses for the null.
pub(super) fn pretended<'a>(drive: &'a Drive, pulses: &'a Pulses) -> impl Iterator<Item = Drive> + 'a {
    BETWEEN.iter().map(|rate| drive.clone().with_pulses(Pulses { period_s: pulses.period_s / rate, ..*pulses }))
}

/// All candidate responses to a pretended drive.
pub(super) fn responses(drive: &Drive) -> Vec<DVector<f64>> {
    bank::responses(drive).into_iter().map(|(_, h)| h).collect()
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    /// White noise without a signal: the amplitude has mean `sigma sqrt(pi/N)` and standard deviation `sigma sqrt((4 - pi)/N)`
    /// (Breitenstein, Warta & Langenkamp, Lock-in Thermography, ch. 2).
    #[test]
    fn amplitudes_of_noise_follow_the_published_law() {
        let (periods, per_period, runs) = (40, 10, 20_000);
        let frames = periods * per_period;
        let mut timeline = Timeline::steady(frames, 10.0);
        timeline.injecting = (0..frames).map(|i| i % per_period < per_period / 2).collect();
        let drive = Drive::from_timeline(&timeline, 0.0);
        let pulses = drive.pulses().unwrap();
        let background = background(&drive, &pulses, &[]);
        let carrier = waves(&drive.time_s, &pulses, 1);
        let off = &carrier - &background * background.tr_mul(&carrier);
        let mut random = ChaCha8Rng::seed_from_u64(8);
        let amplitudes: crate::fit::Moments = (0..runs)
            .map(|_| {
                let course = DVector::from_fn(frames, |_, _| -> f64 { StandardNormal.sample(&mut random) });
                amplitude(&course, &off)
            })
            .collect();
        let n = frames as f64;
        let mean = amplitudes.mean() / (std::f64::consts::PI / n).sqrt();
        let sd = amplitudes.standard_deviation().unwrap() / ((4.0 - std::f64::consts::PI) / n).sqrt();
        // 20 000 runs leave 0.4 % and 0.5 %; the background takes a little of the carrier, which is paid in noise.
        assert!((mean - 1.0).abs() < 0.03, "{mean}");
        assert!((sd - 1.0).abs() < 0.03, "{sd}");
    }
}
