//! A seeded simulator of a recording whose truth is known: practice cases, tests and accuracy figures are made with it.
//!
//! Heat: a thin plate on a grid (conduction, loss to the air, optionally a second plate behind), parts as lumped bodies,
//! power at bodies or points. Camera: any homography, area-averaging pixels, Gaussian blur, emissivity with reflected
//! background. Sensor: white noise, fixed pattern, stripes, drift, blotches, counts. Disturbances: reflections that come or
//! wander, warm patches and probes, bad pixels, shake, shutter pauses, a log out of step. One seed gives one recording on one
//! platform, whatever the number of threads (the last bits of `exp` and `sin` are the platform's own).
//!
//! Simplifications, all of them:
//! * The plate has one temperature through its thickness (two with a plate behind). Heat crosses 1.6 mm of FR-4 in a
//!   second or two; a single plate ignores that.
//! * A part has one temperature and touches the plate evenly under its footprint; it is drawn flat, without parallax.
//! * Loss to the air is linear in the rise and the same everywhere; air does not carry heat from part to part.
//! * Copper is a share of an area, not tracks; it spreads heat but makes none, except where [`feed_path`] puts some.
//! * Properties do not depend on temperature; neither does the injected power, so the rise is linear in power.
//! * Radiance is linear in temperature: apparent = e T + (1 - e) T_reflected. Against Planck's law in the 8-14 um band,
//!   inverted by the camera as for a black body, this is 1 % of the rise low for 10 K over 300 K at e = 0.9 and 0.7 % for
//!   1 K (computed with SciPy 1.17.1). Emissivity does not depend on angle.
//! * A frame is taken at one instant; the sensor's own time constant (some 10 ms) and rolling read-out are left out.
//! * Noise is white and Gaussian, equal for all pixels that measure.
//! * Shake moves the picture as a whole: no parallax, and a frame is not smeared by movement while it is taken.

mod camera;
mod disturbances;
mod drive;
mod grid;
mod heat;
mod power;
pub mod proving;
pub mod readings;
pub mod scenario;
mod sensor;
mod setup;
#[cfg(test)]
mod tests;
mod warp;

pub use disturbances::{
    BadPixel, Disturbances, MovingReflection, PixelFault, Pose, ProbeContact, Reflection, ShutterPause, WarmPatch,
};
pub use drive::Drive;
pub use grid::Grid;
pub use heat::{History, run};
pub use setup::{
    Behind, Body, Camera, Copper, Paint, Plate, Sensor, Setup, Side, Source, SourceAt, Surroundings, feed_path,
    rectangle,
};

use joulemark_frames::{CountsLaw, Samples, Stack, Take, Timeline, Unit};
use nalgebra::Point2;
use ndarray::{Array2, Array3};
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use crate::align::PointPair;
use camera::{View, map};
use sensor::Imperfections;

/// A simulated recording with its truth.
#[derive(Clone, Debug)]
pub struct SimulatedTake {
    /// What a reader would have made of the files.
    pub take: Take,
    /// What is really there.
    pub truth: Truth,
    /// Points marked by the user, with their click errors.
    pub pairs: Vec<PointPair>,
}

/// What is really there.
#[derive(Clone, Debug)]
pub struct Truth {
    /// Designator of the faulty part.
    pub part: Option<String>,
    /// Its centre on the face.
    pub centre_mm: Option<Point2<f64>>,
    /// Its centre in the picture.
    pub centre_px: Option<Point2<f64>>,
    /// Watts in it while current flows.
    pub watts: f64,
    /// Apparent rise without any noise at the last injected frame, `[row, column]`, kelvin; disturbances left out.
    pub rise_end_k: Array2<f32>,
    /// Noise of one pixel from frame to frame, kelvin, counts' rounding left out.
    pub netd_k: f64,
}

/// Place and value of the largest rise of a map: (column, row, kelvin).
pub fn hottest(rise_k: &Array2<f32>) -> (usize, usize, f32) {
    rise_k
        .indexed_iter()
        .fold((0, 0, f32::NEG_INFINITY), |best, ((y, x), &v)| if v > best.2 { (x, y, v) } else { best })
}

/// [`Truth::rise_end_k`] alone, without drawing a recording.
///
/// # Panics
/// When the setup contradicts itself; see [`run`].
pub fn rise_at_end(setup: &Setup) -> Array2<f32> {
    Scene::new(setup).rise_end_k()
}

/// Simulates a recording in 16-bit counts.
///
/// # Panics
/// When the setup contradicts itself; see [`run`].
pub fn simulate(setup: &Setup, seed: u64) -> SimulatedTake {
    Scene::new(setup).film(seed)
}

/// Simulates the same recording without sensor: no noise, no rounding, exact marks. Values are kelvin over ambient.
///
/// # Panics
/// When the setup contradicts itself; see [`run`].
pub fn simulate_noiseless(setup: &Setup) -> SimulatedTake {
    let scene = Scene::new(setup);
    let mut values = vec![0.0_f32; scene.pixels() * setup.timeline.len()];
    values
        .par_chunks_mut(scene.pixels())
        .enumerate()
        .for_each_init(Vec::new, |scratch, (frame, out)| out.copy_from_slice(&scene.frame_k(frame, scratch)));
    let samples = Samples::F32(scene.stack_of(values));
    scene.finish(Stack::new(samples, CountsLaw::IDENTITY), 0.0, &mut || 0.0)
}

/// Heat and view of a setup, ready to be drawn frame by frame.
struct Scene<'a> {
    setup: &'a Setup,
    history: History,
    view: View,
    /// Before injection; per sample where the picture shakes, otherwise per pixel.
    texture_k: Vec<f32>,
    /// Picture of each reflection in full; per sample or per pixel as the texture.
    reflections_k: Vec<Vec<f32>>,
    /// The state at the last injected frame by the sources alone, where it is known already.
    injected_end: Option<Vec<f32>>,
}

impl<'a> Scene<'a> {
    fn new(setup: &'a Setup) -> Self {
        let history = run(setup);
        let view = View::new(setup, &history.grid, history.first_body);
        Self::of(setup, history, view)
    }

    fn of(setup: &'a Setup, history: History, view: View) -> Self {
        let around = &setup.surroundings;
        let drawn = |samples: Vec<f32>| {
            if setup.disturbances.shake.is_empty() { view.through_lens(&samples) } else { samples }
        };
        let texture_k = drawn(view.texture_samples_k(around.reflected_k - around.ambient_k));
        let reflections = setup.disturbances.reflections.iter();
        let reflections_k =
            reflections.map(|r| drawn(view.reflection_samples_k(r.centre_mm, r.sigma_mm, r.change_k))).collect();
        Self { setup, history, view, texture_k, reflections_k, injected_end: None }
    }

    fn pixels(&self) -> usize {
        self.setup.camera.width_px * self.setup.camera.height_px
    }

    /// Apparent temperature over ambient of one frame, sensor left out.
    fn frame_k(&self, frame: usize, scratch: &mut Vec<f32>) -> Vec<f32> {
        let state = &self.history.states[frame];
        let Some(&pose) = self.setup.disturbances.shake.get(frame) else {
            let mut values = self.view.apparent_rise_k(state, scratch);
            self.add_surroundings(frame, &mut values, |samples| self.view.through_lens(&samples));
            return values;
        };
        self.view.rise_samples_k(state, scratch);
        self.add_surroundings(frame, scratch, |samples| samples);
        if pose == Pose::default() {
            return self.view.through_lens(scratch);
        }
        self.view.through_lens(&self.view.moved(scratch, pose))
    }

    /// Adds texture and reflections to samples or pixels; `drawn` makes one from the other.
    fn add_surroundings(&self, frame: usize, values: &mut [f32], drawn: impl Fn(Vec<f32>) -> Vec<f32>) {
        for (value, texture) in values.iter_mut().zip(&self.texture_k) {
            *value += texture;
        }
        let time_s = self.setup.timeline.time_s[frame];
        for (reflection, picture) in self.setup.disturbances.reflections.iter().zip(&self.reflections_k) {
            let share = ((time_s - reflection.from_s) / reflection.over_s).clamp(0.0, 1.0);
            let course = (share * share * (3.0 - 2.0 * share)) as f32;
            for (value, full) in values.iter_mut().zip(picture) {
                *value += course * full;
            }
        }
        for reflection in &self.setup.disturbances.moving_reflections {
            let Some((centre_mm, change_k)) = reflection.at(time_s) else { continue };
            let picture = drawn(self.view.reflection_samples_k(centre_mm, reflection.sigma_mm, change_k));
            for (value, change) in values.iter_mut().zip(picture) {
                *value += change;
            }
        }
    }

    /// The recording in 16-bit counts.
    fn film(&self, seed: u64) -> SimulatedTake {
        let setup = self.setup;
        let imperfections = Imperfections::draw(setup, seed);
        let law = setup.sensor.law;
        let mut counts = vec![0_u16; self.pixels() * setup.timeline.len()];
        counts.par_chunks_mut(self.pixels()).enumerate().for_each_init(Vec::new, |scratch, (frame, out)| {
            let mut values = self.frame_k(frame, scratch);
            imperfections.add(frame, &mut values);
            for (count, value) in out.iter_mut().zip(values) {
                let kelvin = setup.surroundings.ambient_k + f64::from(value);
                *count = ((kelvin - law.offset_k) / law.gain_k_per_count).round().clamp(0.0, 65535.0) as u16;
            }
        });
        for pause in &setup.disturbances.pauses {
            let shown = (pause.from_frame - 1) * self.pixels()..pause.from_frame * self.pixels();
            for frame in pause.from_frame..(pause.from_frame + pause.repeats).min(setup.timeline.len()) {
                counts.copy_within(shown.clone(), frame * self.pixels());
            }
        }
        let samples = Samples::U16(self.stack_of(counts));
        let mut rng = sensor::click_stream(seed);
        let mut click = || setup.click_sigma_px * Distribution::<f64>::sample(&StandardNormal, &mut rng);
        self.finish(Stack::new(samples, law), setup.sensor.netd_k, &mut click)
    }

    fn stack_of<T>(&self, values: Vec<T>) -> Array3<T> {
        let camera = &self.setup.camera;
        Array3::from_shape_vec((self.setup.timeline.len(), camera.height_px, camera.width_px), values)
            .expect("the vector was allocated with exactly this many pixels")
    }

    fn finish(&self, stack: Stack, netd_k: f64, click: &mut dyn FnMut() -> f64) -> SimulatedTake {
        let (setup, camera) = (self.setup, &self.setup.camera);
        let pairs = setup
            .pair_points_mm
            .iter()
            .map(|&[x_mm, y_mm]| {
                let p = map(&camera.image_from_board, Point2::new(x_mm, y_mm));
                PointPair { x_px: p.x + click(), y_px: p.y + click(), x_mm, y_mm }
            })
            .collect();
        let culprit = setup.culprit.map(|i| &setup.bodies[i]);
        let centre_mm = culprit.map(|b| b.footprint.centre_mm);
        let watts = setup
            .sources
            .iter()
            .filter(|s| matches!((s.at, setup.culprit), (SourceAt::Body(b), Some(c)) if b == c))
            .map(|s| s.watts)
            .sum();
        SimulatedTake {
            take: Take {
                name: setup.name.clone(),
                stack,
                unit: Unit::Kelvin,
                timeline: lagging(&setup.timeline, setup.disturbances.log_lag_frames),
                notes: Vec::new(),
            },
            truth: Truth {
                part: culprit.map(|b| b.designator.clone()),
                centre_mm,
                centre_px: centre_mm.map(|p| map(&camera.image_from_board, p)),
                watts,
                rise_end_k: self.rise_end_k(),
                netd_k,
            },
            pairs,
        }
    }

    /// The injected part alone: with warm patches or probes the same plate is run once more without sources, and taken off.
    fn rise_end_k(&self) -> Array2<f32> {
        let camera = &self.setup.camera;
        let last = self.setup.timeline.injecting.iter().rposition(|&on| on);
        let mut scratch = Vec::new();
        let mut values = match last {
            Some(_) if self.injected_end.is_some() => {
                self.view.apparent_rise_k(self.injected_end.as_deref().unwrap_or_default(), &mut scratch)
            }
            Some(frame) => self.view.apparent_rise_k(&self.history.states[frame], &mut scratch),
            None => vec![0.0; self.pixels()],
        };
        let disturbances = &self.setup.disturbances;
        let quiet = disturbances.warm_patches.is_empty() && disturbances.probes.is_empty();
        if let (Some(frame), false, None) = (last, quiet, &self.injected_end) {
            let passive = run(&Setup { sources: Vec::new(), ..self.setup.clone() });
            for (value, own) in values.iter_mut().zip(self.view.apparent_rise_k(&passive.states[frame], &mut scratch)) {
                *value -= own;
            }
        }
        Array2::from_shape_vec((camera.height_px, camera.width_px), values)
            .expect("the view draws exactly this many pixels")
    }
}

/// The log as it comes `lag` frames late: times stay, readings and marks move; the ends repeat.
fn lagging(timeline: &Timeline, lag: i32) -> Timeline {
    fn shift<T: Copy>(values: &[T], lag: i32) -> Vec<T> {
        let last = values.len() as i64 - 1;
        (0..values.len()).map(|i| values[(i as i64 - i64::from(lag)).clamp(0, last) as usize]).collect()
    }
    Timeline {
        time_s: timeline.time_s.clone(),
        injecting: shift(&timeline.injecting, lag),
        volts: shift(&timeline.volts, lag),
        amps: shift(&timeline.amps, lag),
        set_volts: shift(&timeline.set_volts, lag),
        set_amps: shift(&timeline.set_amps, lag),
        mode: shift(&timeline.mode, lag),
    }
}
