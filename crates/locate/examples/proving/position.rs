//! Position error: scatter over recordings of one scene that differ in noise only, against the Cramer-Rao bound.
//!
//! A picture `T` that shifts as a whole by `s` with noise of variance `v` per pixel tells of `s` at best with covariance
//! `(sum grad T grad T' / v)^-1` (Kay, Fundamentals of Statistical Signal Processing I, 1993, section 3). `T` is the
//! noiseless rise, `v` the square of the rise map's own standard error.
//!
//! The rise map holds the edges of pads, of bare ends and of parts that warm later than the board under them. These do not move with
//! the heat and cannot tell of its place. The second bound therefore takes `T` from the same heat on a board of one emissivity that
//! carries the faulty part alone. In both only pixels within the outline count: nor does the edge of the board move.

use joulemark_locate::{
    Settings,
    align::Alignment,
    simulate::{
        Sensor, Setup, SourceAt,
        proving::{self, Kind, ProvingBoard, Tier},
        rise_at_end, simulate,
    },
};
use nalgebra::{Matrix2, Point2, Vector2};
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use crate::{job::locate_board, queue::Task};

/// Recordings of one scene.
const RECORDINGS: u64 = 20;
/// A spot further from the fault than this is another one.
const FAR_PX: f64 = 6.0;

/// A scene to be recorded twenty times.
pub struct Scatter {
    /// Seed of its board.
    pub seed: u64,
}

/// What came out.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Scattered {
    seed: u64,
    size: String,
    /// Rise over its standard error at the hottest pixel of the map.
    amplitude: f64,
    found: usize,
    /// Root of the mean square distance from the own mean, pixels.
    scatter_px: f64,
    /// The same at best, by the rise map.
    bound_px: f64,
    /// The same at best, by the heat alone.
    heat_bound_px: f64,
    /// Mean less the centre of the part, pixels.
    bias_px: f64,
    /// Median distance on the board, alignment's error included, millimetres.
    off_mm: f64,
    mm_per_px: f64,
}

impl Task for Scatter {
    type Done = Option<Scattered>;

    fn key(&self) -> String {
        format!("position #{}", self.seed)
    }

    fn pixels(&self) -> usize {
        let (width, height) = proving::picture_size(KIND, self.seed);
        width * height
    }

    fn run(&self) -> Option<Scattered> {
        scatter(self.seed)
    }
}

const KIND: Kind = Kind::Tier(Tier::Medium);

fn scatter(seed: u64) -> Option<Scattered> {
    let mut made = proving::build(KIND, seed);
    // The bound knows white noise only, so nothing else is in the recordings besides the fixed pattern.
    let sensor = &made.setup.sensor;
    made.setup.sensor =
        Sensor { netd_k: sensor.netd_k, fixed_pattern_k: sensor.fixed_pattern_k, ..Sensor::ideal(sensor.law) };
    let alignment = Alignment::fit(&made.simulated.pairs).ok()?;
    let settings = Settings::default();
    let centre = made.simulated.truth.centre_px?;
    let middle = [centre.y.round() as usize, centre.x.round() as usize];

    // From 5 to 50 over the scenes, evenly over the logarithm.
    let wanted = 5.0 * 10.0_f64.powf((seed % 10) as f64 / 9.0);
    let first = locate_board(&made, &alignment, &settings).ok()?;
    let hottest = made.simulated.truth.rise_end_k.iter().copied().fold(0.0, f32::max);
    let scale = wanted * f64::from(*first.maps.rise_se.get(middle)?) / f64::from(hottest);
    rescale(&mut made, scale);

    let (mut px, mut mm) = (Vec::new(), Vec::new());
    let even = rise_at_end(&heat_alone(&made.setup)?);
    let mut bounds = None;
    for recording in 0..RECORDINGS {
        made.simulated.take = simulate(&made.setup, seed * 1000 + recording).take;
        let located = locate_board(&made, &alignment, &settings).ok()?;
        if bounds.is_none() {
            let rise = made.simulated.truth.rise_end_k.mapv(|v| v * scale as f32);
            let on_board = on_board(&made, &alignment);
            let bound_px2 = |rise| bound_px2(rise, &located.maps.rise_se, &on_board);
            bounds = Some((bound_px2(&rise)?, bound_px2(&even)?));
        }
        let spots = located.hot_spots.iter().map(|s| ((s.centre_px - centre).norm(), s));
        if let Some((distance, spot)) = spots.min_by(|a, b| a.0.total_cmp(&b.0))
            && distance < FAR_PX
        {
            px.push(spot.centre_px);
            mm.push((spot.centre_mm - made.simulated.truth.centre_mm?).norm());
        }
    }
    mm.sort_by(f64::total_cmp);
    let n = px.len() as f64;
    let mean = px.iter().fold(Vector2::zeros(), |sum, p| sum + p.coords) / n;
    let scatter_px = (px.iter().map(|p| (p.coords - mean).norm_squared()).sum::<f64>() / (n - 1.0)).sqrt();
    Some(Scattered {
        seed,
        size: format!("{}x{}", made.setup.camera.width_px, made.setup.camera.height_px),
        amplitude: wanted,
        found: px.len(),
        scatter_px,
        bound_px: bounds?.0.sqrt(),
        heat_bound_px: bounds?.1.sqrt(),
        bias_px: (Point2::from(mean) - centre).norm(),
        off_mm: *mm.get(mm.len() / 2)?,
        mm_per_px: made.mm_per_px,
    })
}

/// Scales power, and volts and amps with it.
fn rescale(made: &mut ProvingBoard, scale: f64) {
    for source in &mut made.setup.sources {
        source.watts *= scale;
    }
    let timeline = &mut made.setup.timeline;
    for reading in timeline.volts.iter_mut().chain(&mut timeline.amps).flatten() {
        *reading *= scale.sqrt();
    }
}

/// The same heat on a board that looks alike everywhere and carries the faulty part alone.
fn heat_alone(setup: &Setup) -> Option<Setup> {
    let culprit = setup.culprit?;
    let mut even = setup.clone();
    even.paints.clear();
    even.bodies = vec![setup.bodies.get(culprit)?.clone()];
    even.bodies[0].emissivity = even.surroundings.mask_emissivity;
    even.bodies[0].end_caps = None;
    even.culprit = Some(0);
    even.sources.retain(|source| !matches!(source.at, SourceAt::Body(b) if b != culprit));
    for source in &mut even.sources {
        if let SourceAt::Body(only) = &mut source.at {
            *only = 0;
        }
    }
    Some(even)
}

/// Pixels within the outline.
fn on_board(made: &ProvingBoard, alignment: &Alignment) -> Array2<bool> {
    let camera = &made.setup.camera;
    let face = made.board.face(&made.face);
    Array2::from_shape_fn((camera.height_px, camera.width_px), |(y, x)| {
        face.is_some_and(|face| face.outline_contains(alignment.to_board(Point2::new(x as f64, y as f64))))
    })
}

/// Trace of the bound's covariance, pixels squared; from pixels whose neighbours are `counted` as well.
fn bound_px2(rise: &Array2<f32>, se: &Array2<f32>, counted: &Array2<bool>) -> Option<f64> {
    let (height, width) = rise.dim();
    let mut information = Matrix2::zeros();
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let sigma = f64::from(se[[y, x]]);
            let neighbours = [[y, x + 1], [y, x - 1], [y + 1, x], [y - 1, x]];
            if sigma > 0.0 && sigma.is_finite() && neighbours.iter().all(|n| counted[*n]) {
                let slope = |a: [usize; 2], b: [usize; 2]| f64::from(rise[a] - rise[b]) / 2.0;
                let gradient = Vector2::new(slope([y, x + 1], [y, x - 1]), slope([y + 1, x], [y - 1, x])) / sigma;
                information += gradient * gradient.transpose();
            }
        }
    }
    Some(information.try_inverse()?.trace())
}

/// One line per scene, and the ratio over all.
pub fn print(scenes: &[Option<Scattered>]) {
    println!(
        "\nposition: scatter over {RECORDINGS} recordings that differ in noise only, against the Cramer-Rao bound"
    );
    println!(
        "{:>6} {:<8} {:>9} {:>6} {:>10} {:>9} {:>6} {:>9} {:>6} {:>8} {:>8} {:>7}",
        "scene",
        "picture",
        "amp/noise",
        "found",
        "scatter px",
        "by rise",
        "ratio",
        "by heat",
        "ratio",
        "bias px",
        "off mm",
        "mm/px"
    );
    let known: Vec<&Scattered> = scenes.iter().flatten().collect();
    for s in &known {
        println!(
            "{:>6} {:<8} {:>9.1} {:>6} {:>10.4} {:>9.4} {:>6.2} {:>9.4} {:>6.2} {:>8.3} {:>8.3} {:>7.2}",
            s.seed,
            s.size,
            s.amplitude,
            s.found,
            s.scatter_px,
            s.bound_px,
            s.scatter_px / s.bound_px,
            s.heat_bound_px,
            s.scatter_px / s.heat_bound_px,
            s.bias_px,
            s.off_mm,
            s.mm_per_px
        );
    }
    for (what, bound) in [("rise map", 0), ("heat alone", 1)] {
        let often = known.iter().filter(|s| s.found as u64 * 2 > RECORDINGS);
        let mut ratios: Vec<f64> =
            often.map(|s| s.scatter_px / if bound == 0 { s.bound_px } else { s.heat_bound_px }).collect();
        ratios.sort_by(f64::total_cmp);
        let Some(median) = ratios.get(ratios.len() / 2) else { continue };
        let rms = (ratios.iter().map(|r| r * r).sum::<f64>() / ratios.len() as f64).sqrt();
        println!(
            "scatter over the bound by the {what}: median {median:.2}, root mean square {rms:.2}, {} scenes found in more \
             than half of the recordings",
            ratios.len()
        );
    }
}
