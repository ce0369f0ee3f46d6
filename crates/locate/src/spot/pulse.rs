//! How a curve follows pulses: amplitude and lag at the pulse rate, harmonics fitted beside.
//!
//! Least squares on sines and cosines and the slow background at once, so neither a fractional last period nor a drift leaks
//! into the amplitude (the plain correlation is right for whole periods only: Breitenstein, Warta & Langenkamp, Lock-in
//! Thermography, 2nd ed. 2010, ch. 2).

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{DMatrix, DVector};

use crate::{
    Pulse, Rise, TimeConstant,
    model::{Pulses, ResponseModel, waves},
};

/// Harmonics, the pulse rate itself included: heat is a low pass, so higher ones carry next to nothing.
const MOST_HARMONICS: usize = 4;
/// Harmonics above this share of the frame rate are not resolved.
const RESOLVED_SHARE: f64 = 0.4;

/// What follows the pulses in a curve of one value per frame, with the fitted curve. `None` without pulses, or where the
/// recording is too short for the terms.
pub(super) fn fit(time_s: &[f64], values: &[f64], model: &ResponseModel) -> Option<(Pulse, Vec<f64>)> {
    let (pulses, train) = (model.drive.pulses()?, model.train.as_ref()?);
    let rows = train.rows.clone();
    let resolved = RESOLVED_SHARE * pulses.period_s / model.drive.interval_s();
    let harmonics = (resolved as usize).clamp(1, MOST_HARMONICS);
    let slow = train.background.ncols();
    let waves = waves(&time_s[rows.clone()], &pulses, harmonics);
    let columns: Vec<_> = train.background.column_iter().chain(waves.column_iter()).map(|c| c.into_owned()).collect();
    let design = DMatrix::from_columns(&columns);
    let freedom = rows.len().checked_sub(design.ncols()).filter(|n| *n > 0)?;
    let beating = DVector::from_column_slice(&values[rows.clone()]);
    let inverse = design.tr_mul(&design).try_inverse()?;
    let solution = &inverse * design.tr_mul(&beating);
    let fitted = &design * &solution;
    let variance = (&beating - &fitted).norm_squared() / freedom as f64;
    let (sine, cosine) = (solution[slow], solution[slow + 1]);
    let amplitude = sine.hypot(cosine);
    let covariance = inverse.fixed_view::<2, 2>(slow, slow) * variance;
    // F = A sin(wt - phi): sine = A cos(phi), cosine = -A sin(phi).
    let along = nalgebra::Vector2::new(sine, cosine) / amplitude.max(f64::MIN_POSITIVE);
    let across = nalgebra::Vector2::new(-along.y, along.x);
    let amplitude_se = along.dot(&(covariance * along)).max(0.0).sqrt();
    let phase_se = across.dot(&(covariance * across)).max(0.0).sqrt() / amplitude.max(f64::MIN_POSITIVE);
    let lag = (-cosine).atan2(sine) - power_phase(&pulses);
    let pulse = Pulse {
        period_s: pulses.period_s,
        amplitude,
        amplitude_se,
        lag_deg: ((lag + PI).rem_euclid(TAU) - PI).to_degrees(),
        lag_se_deg: phase_se.to_degrees(),
        harmonics,
    };
    // Before and after the pulses nothing is fitted but the level.
    let level = |some: &[f64]| vec![some.iter().sum::<f64>() / some.len().max(1) as f64; some.len()];
    let fitted = [&level(&values[..rows.start]), fitted.as_slice(), &level(&values[rows.end..])].concat();
    Some((pulse, fitted))
}

/// Phase of the power's own first harmonic, counted from a pulse's start: a pulse of duty d is centred at half of it.
fn power_phase(pulses: &Pulses) -> f64 {
    PI * pulses.duty - FRAC_PI_2
}

/// The rise of a pulsed spot is its amplitude at the pulse rate.
pub(super) fn rise_of(pulse: &Pulse, onset_s: f64, interval_s: f64) -> Rise {
    Rise {
        end: pulse.amplitude,
        end_se: pulse.amplitude_se,
        start_slope_per_s: 0.0,
        start_slope_se_per_s: f64::INFINITY,
        time_constant: TimeConstant::Unknown,
        onset_s,
        onset_se_s: interval_s,
        converged: true,
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;
    use crate::model::{Drive, Member, Response};

    /// 25 frames a second, period 2 s, duty 0.5, a record of `frames` frames that starts with the pulses.
    fn model(frames: usize) -> ResponseModel {
        let mut timeline = Timeline::steady(frames, 25.0);
        for i in 0..frames {
            timeline.injecting[i] = (timeline.time_s[i] - 1.01).rem_euclid(2.0) < 1.0;
        }
        let drive = Drive::from_timeline(&timeline, 0.0).with_pulses(Pulses { from_s: 1.0, period_s: 2.0, duty: 0.5 });
        ResponseModel::new(drive, &[])
    }

    /// A body from rest under pulses that start after a quarter of the recording: the first harmonic of the gate is
    /// `2 sin(pi d) / pi`, and the body takes `1 / sqrt(1 + (w tau)^2)` of it, late by `atan(w tau)` (Incropera, Fundamentals of Heat and
    /// Mass Transfer, ch. 5).
    #[test]
    fn frames_before_the_first_pulse_do_not_thin_the_amplitude() {
        for (tau_s, duty) in [(0.3, 0.5), (0.8, 0.5), (2.0, 0.35)] {
            let pulses = Pulses { from_s: 5.0, period_s: 2.0, duty };
            let mut timeline = Timeline::steady(400, 20.0);
            for (on, t) in timeline.injecting.iter_mut().zip(&timeline.time_s) {
                *on = *t >= pulses.from_s && (t - pulses.from_s).rem_euclid(pulses.period_s) < duty * pulses.period_s;
            }
            let model = ResponseModel::new(Drive::from_timeline(&timeline, 0.0).with_pulses(pulses), &[]);
            let response = Response::FirstOrder { tau_s };
            let values = model.drive.response(response);
            let (pulse, fitted) = fit(&model.drive.time_s, values.as_slice(), &model).unwrap();
            let turn = TAU / pulses.period_s * tau_s;
            let wanted = 2.0 * (PI * duty).sin() / PI / turn.hypot(1.0);
            assert!((pulse.amplitude / wanted - 1.0).abs() < 0.01, "{tau_s} s: {} for {wanted}", pulse.amplitude);
            assert!((pulse.lag_deg - turn.atan().to_degrees()).abs() < 1.0, "{tau_s} s: {}", pulse.lag_deg);
            assert!(fitted[..100].iter().all(|v| v.abs() < 1e-9), "nothing moves before");
            // The maps are in the same amplitude.
            let nearest = |m: &&Member| match m.response {
                Response::FirstOrder { tau_s: other } => (other / tau_s).ln().abs(),
                Response::Plate { .. } => f64::INFINITY,
            };
            let member = model.members.iter().min_by(|a, b| nearest(a).total_cmp(&nearest(b))).unwrap();
            let Response::FirstOrder { tau_s } = member.response else { unreachable!("the nearest is of first order") };
            let wanted = 2.0 * (PI * duty).sin() / PI / (TAU / pulses.period_s * tau_s).hypot(1.0);
            assert!((member.end / wanted - 1.0).abs() < 0.01, "map, {tau_s} s: {} for {wanted}", member.end);
        }
    }

    /// Published check, section 5: with a strong signal and N frames SD(A) = sigma sqrt(2/N) and
    /// SD(phi) = sigma/A sqrt(2/N); here with drift on top and a record that holds no whole number of periods.
    #[test]
    fn amplitude_and_lag_scatter_by_the_published_law() {
        let model = model(487);
        let time_s = &model.drive.time_s;
        let (sigma, amplitude, lag) = (0.05, 0.2, 40.0_f64.to_radians());
        let noise = Normal::new(0.0, sigma).unwrap();
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let (mut amplitudes, mut lags, mut errors) = (Vec::new(), Vec::new(), Vec::new());
        for _ in 0..1000 {
            let values: Vec<f64> = time_s
                .iter()
                .map(|t| {
                    let angle = TAU * (t - 1.0) / 2.0 - lag;
                    amplitude * angle.sin() + 0.5 * t + (0.2 * t).sin() + noise.sample(&mut random)
                })
                .collect();
            let (pulse, _) = fit(time_s, &values, &model).unwrap();
            amplitudes.push(pulse.amplitude);
            lags.push(pulse.lag_deg);
            errors.push((pulse.amplitude_se, pulse.lag_se_deg));
        }
        let law = sigma * (2.0 / time_s.len() as f64).sqrt();
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let spread = |v: &[f64]| (v.iter().map(|x| (x - mean(v)).powi(2)).sum::<f64>() / v.len() as f64).sqrt();
        // A standard deviation from 1000 runs is itself known to 2.2 %; the background's cosines and cooling courses cost up to
        // 8 % on two dozen periods.
        assert!((spread(&amplitudes) / law - 1.0).abs() < 0.13, "{} {law}", spread(&amplitudes));
        assert!((spread(&lags) / (law / amplitude).to_degrees() - 1.0).abs() < 0.13);
        assert!((mean(&errors.iter().map(|e| e.0).collect::<Vec<_>>()) / law - 1.0).abs() < 0.1);
        assert!((mean(&amplitudes) - amplitude).abs() < 4.0 * law / 1000.0_f64.sqrt() + law * law / amplitude);
        // A duty of one half has its first harmonic in phase with the pulse's start.
        assert!((mean(&lags) - 40.0).abs() < 0.1, "{}", mean(&lags));
    }
}
