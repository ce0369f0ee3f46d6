//! A recording whose heat reaches a wanted size: the rise is linear in power, so one run of the heat equation tells both
//! how much power that takes and, scaled, what the recording shows.

use nalgebra::DMatrix;

use super::{History, Scene, Setup, SimulatedTake, camera::View, run};

/// What the hottest pixel shall show, noise and disturbances left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Target {
    /// This rise at the last injected frame, kelvin.
    Rise(f64),
    /// This amplitude at the pulse rate, kelvin (half of peak to peak for a sine), for pulses of this period.
    Amplitude { kelvin: f64, period_s: f64 },
}

/// Scales all sources so that the target is met, lets `log` fill in the readings, and films.
///
/// # Panics
/// When the setup contradicts itself, see [`run`], or when its sources warm nothing that is in the picture.
pub(super) fn simulate_to(setup: &mut Setup, target: Target, seed: u64, log: impl FnOnce(&mut Setup)) -> SimulatedTake {
    // The equation is linear: sources with cold probes in place, and patches and probes without sources, add up.
    let mut sources_only = setup.clone();
    sources_only.disturbances.warm_patches.clear();
    for probe in &mut sources_only.disturbances.probes {
        probe.rise_k = 0.0;
    }
    let mut history = run(&sources_only);
    let view = View::new(setup, &history.grid, history.first_body);
    let last = setup.timeline.injecting.iter().rposition(|&on| on).unwrap_or(setup.timeline.len() - 1);
    let (found, wanted) = match target {
        Target::Rise(kelvin) => (largest(&view.apparent_rise_k(&history.states[last], &mut Vec::new())), kelvin),
        Target::Amplitude { kelvin, period_s } => (largest(&amplitudes(setup, &history, &view, period_s)), kelvin),
    };
    assert!(found > 0.0, "the sources warm nothing in the picture");
    let factor = wanted / found;
    for source in &mut setup.sources {
        source.watts *= factor;
    }
    for value in history.states.iter_mut().flatten() {
        *value *= factor as f32;
    }
    let injected_end = Some(history.states[last].clone());
    if !setup.disturbances.warm_patches.is_empty() || !setup.disturbances.probes.is_empty() {
        let passive = run(&Setup { sources: Vec::new(), ..setup.clone() });
        for (state, own) in history.states.iter_mut().zip(&passive.states) {
            for (value, own) in state.iter_mut().zip(own) {
                *value += own;
            }
        }
    }
    log(setup);
    Scene { injected_end, ..Scene::of(setup, history, view) }.film(seed)
}

fn largest(values: &[f32]) -> f64 {
    values.iter().copied().fold(0.0_f32, f32::max).into()
}

/// Apparent amplitude at a pulse rate, one value per pixel, kelvin.
///
/// Sine and cosine are fitted beside a parabola to every entry of the states from the first injected frame on; drawing is
/// linear, so two pictures give the amplitude of every pixel.
fn amplitudes(setup: &Setup, history: &History, view: &View, period_s: f64) -> Vec<f32> {
    let first = setup.timeline.first_injected().unwrap_or(0);
    let times = &setup.timeline.time_s[first..];
    let span_s = (times[times.len() - 1] - times[0]).max(1e-9);
    let basis = DMatrix::from_fn(times.len(), 5, |row, column| {
        let t = (times[row] - times[0]) / span_s;
        let turn = std::f64::consts::TAU * times[row] / period_s;
        [1.0, t, t * t, turn.cos(), turn.sin()][column]
    });
    // Five columns over some hundred frames of several periods: never singular.
    let inverse =
        (basis.transpose() * &basis).try_inverse().unwrap_or_else(|| DMatrix::zeros(5, 5)) * basis.transpose();
    let part = |row: usize| {
        let mut state = vec![0.0_f32; history.states[0].len()];
        for (values, weight) in history.states[first..].iter().zip(inverse.row(row).iter()) {
            for (sum, value) in state.iter_mut().zip(values) {
                *sum += *weight as f32 * value;
            }
        }
        view.apparent_rise_k(&state, &mut Vec::new())
    };
    part(3).iter().zip(&part(4)).map(|(c, s)| c.hypot(*s)).collect()
}
