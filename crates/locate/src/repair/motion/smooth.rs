//! A course of estimates smoothed only as far as it is noise.

/// Ratios of the walk's variance per frame to the estimates' own that are tried.
const RATIOS: i32 = 14;
const RATIO_STEP: f64 = 4.0;

/// Smooths estimates (`None` where there is none) with their standard errors: a random walk seen through noise (Rauch,
/// Tung and Striebel, AIAA J. 3 (1965) 1445) whose step is the most likely one. Where frames jump by much more than the
/// errors the estimates stay as they are. Gives values and standard errors for every frame.
pub(super) fn smooth(estimates: &[Option<f64>], errors: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let known = || estimates.iter().zip(errors).filter_map(|(v, e)| Some(((*v)?, e * e)));
    let count = known().count();
    if count == 0 {
        return (vec![0.0; estimates.len()], vec![f64::INFINITY; estimates.len()]);
    }
    let noise = (known().map(|k| k.1).sum::<f64>() / count as f64).max(f64::MIN_POSITIVE);
    // From a walk too slow to be told from none to one that hides all noise.
    let least = noise / (count * count) as f64;
    let tried = (0..RATIOS).map(|i| least * RATIO_STEP.powi(i)).chain([noise, 16.0 * noise, 1e3 * noise, 1e6 * noise]);
    let (walk, _) = tried
        .map(|walk| (walk, forward(estimates, errors, walk).1))
        .fold((least, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best });
    let after = forward(estimates, errors, walk).0;
    let mut values = vec![0.0; estimates.len()];
    let mut smoothed_errors = vec![0.0; estimates.len()];
    let (mut mean, mut variance) = after[after.len() - 1];
    for t in (0..estimates.len()).rev() {
        if t + 1 < estimates.len() {
            let gain = after[t].1 / (after[t].1 + walk);
            mean = after[t].0 + gain * (mean - after[t].0);
            variance = after[t].1 + gain * gain * (variance - after[t].1 - walk);
        }
        values[t] = mean;
        smoothed_errors[t] = variance.max(0.0).sqrt();
    }
    (values, smoothed_errors)
}

/// Mean and variance after each frame's estimate, and the logarithm of the likelihood.
fn forward(estimates: &[Option<f64>], errors: &[f64], walk: f64) -> (Vec<(f64, f64)>, f64) {
    let mut after = Vec::with_capacity(estimates.len());
    let mut likelihood = 0.0;
    let mut state: Option<(f64, f64)> = None;
    let start = estimates.iter().flatten().next().copied().unwrap_or(0.0);
    for (value, error) in estimates.iter().zip(errors) {
        let own = error * error;
        state = match (state, value) {
            (None, None) => None,
            (None, Some(value)) => Some((*value, own)),
            (Some((mean, variance)), None) => Some((mean, variance + walk)),
            (Some((mean, variance)), Some(value)) => {
                let variance = variance + walk;
                let total = variance + own;
                likelihood -= 0.5 * (total.ln() + (value - mean).powi(2) / total);
                let gain = variance / total;
                Some((mean + gain * (value - mean), variance * (1.0 - gain)))
            }
        };
        // Frames before the first estimate know as little as a long walk leaves.
        after.push(state.unwrap_or((start, walk * estimates.len() as f64)));
    }
    (after, likelihood)
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;

    #[test]
    fn jumps_stay_and_noise_goes() {
        let mut random = ChaCha8Rng::seed_from_u64(2);
        let mut jitter = |sigma: f64| Normal::new(0.0, sigma).unwrap().sample(&mut random);
        let shaken: Vec<f64> = (0..200).map(|_| jitter(2.0)).collect();
        let seen: Vec<Option<f64>> = shaken.iter().map(|v| Some(v + jitter(0.05))).collect();
        let (values, errors) = smooth(&seen, &[0.05; 200]);
        let rms =
            |a: &[f64], b: &[f64]| (a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>() / a.len() as f64).sqrt();
        // 200 draws know their own spread within 5 %; three times that.
        assert!((rms(&values, &shaken) / 0.05 - 1.0).abs() < 0.15);
        assert!((errors[100] / 0.05 - 1.0).abs() < 0.01);

        let drift: Vec<f64> = (0..200).map(|t| f64::from(t) * 0.001).collect();
        let seen: Vec<Option<f64>> =
            drift.iter().enumerate().map(|(t, v)| (t % 50 != 7).then(|| v + jitter(0.05))).collect();
        let (values, _) = smooth(&seen, &[0.05; 200]);
        assert!(rms(&values, &drift) < 0.025, "{}", rms(&values, &drift));
    }
}
