//! Pulsed injection: what is slower than the pulses is no signal, whatever made it.
//!
//! A gate of pulses has a part at zero frequency that leaks over fractional periods and that every drift, reflection or
//! cooling patch imitates. Cosines up to [`SLOW_SHARE`] of the pulse rate are therefore taken off the responses; what is
//! left of them is the pulse rate and its harmonics with the amplitudes and lags that heat can have, and nothing else
//! passes (see Breitenstein, Warta & Langenkamp, Lock-in Thermography, 2nd ed. 2010, ch. 2 for the plain correlation).

use nalgebra::{DMatrix, DVector};

use super::{Drive, bank, drive::Pulses, subspace::orthonormal_columns};

/// Slower than this share of the pulse rate counts as background.
const SLOW_SHARE: f64 = 0.55;
/// Background cosines at most; a recording of some hundred periods needs no more to be rid of drift.
const MOST_SLOW: usize = 96;
/// Rates of the pretended pulses of the null, in pulse rates: between its harmonics and above the background.
const BETWEEN: [f64; 6] = [0.72, 1.31, 1.43, 1.57, 1.69, 2.42];

/// Orthonormal background of a pulsed recording: a constant first, then the straight trend, slow cosines, and a step per
/// jump. Frames x k.
pub(super) fn background(drive: &Drive, pulses: &Pulses, jumps: &[usize]) -> DMatrix<f64> {
    let time_s = &drive.time_s;
    let (first, last) = (time_s[0], time_s[time_s.len() - 1]);
    let span_s = (last - first).max(f64::MIN_POSITIVE);
    let count = ((2.0 * span_s * SLOW_SHARE / pulses.period_s).floor() as usize).clamp(2, MOST_SLOW);
    let columns = DMatrix::from_fn(time_s.len(), count + 2 + jumps.len(), |i, j| {
        if let Some(jump) = j.checked_sub(count + 2) {
            return f64::from(u8::from(i >= jumps[jump]));
        }
        let x = (time_s[i] - first) / span_s;
        // The straight trend stands second: cosines alone cannot follow it at the ends.
        match j {
            0 => 1.0,
            1 => x - 0.5,
            _ => (std::f64::consts::PI * (j - 1) as f64 * x).cos(),
        }
    });
    orthonormal_columns(&columns)
}

/// Sine and cosine at the pulse rate, counted from the start of the first pulse: `F = A sin(wt - lag)` has the components
/// `A cos(lag)` on the sine and `-A sin(lag)` on the cosine. Frames x 2.
pub(super) fn carrier(drive: &Drive, pulses: &Pulses) -> DMatrix<f64> {
    DMatrix::from_fn(drive.time_s.len(), 2, |i, j| {
        let turns = (drive.time_s[i] - pulses.from_s) / pulses.period_s;
        let angle = std::f64::consts::TAU * turns;
        if j == 0 { angle.sin() } else { angle.cos() }
    })
}

/// Amplitude at the pulse rate of a course, by least squares on carrier and background.
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
