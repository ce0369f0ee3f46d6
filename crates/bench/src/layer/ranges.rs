//! From where to where each layer is coloured, found once per take and not per frame.

use joulemark_frames::Take;
use joulemark_locate::Located;
use ndarray::ArrayView2;

use super::Layer;

/// At most this many samples of a map are sorted.
const MOST_SAMPLES: usize = 20_000;

/// Automatic ranges, `(lowest, highest)`, and sorted samples of each layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranges {
    rise: Samples,
    z: Samples,
    time_constant: Samples,
    before: Samples,
    frame: Samples,
}

/// One layer: its automatic range, and its sorted values.
#[derive(Clone, Debug, PartialEq)]
struct Samples {
    auto: (f32, f32),
    sorted: Vec<f32>,
}

impl Samples {
    fn of(mut values: Vec<f32>, low: f64, high: f64) -> Self {
        values.sort_unstable_by(f32::total_cmp);
        Self { auto: between(&values, low, high), sorted: values }
    }

    /// From zero up.
    fn up_from_zero(mut self, least: f32) -> Self {
        let high = if self.auto.1 > 0.0 { self.auto.1 } else { 1.0 };
        self.auto = (0.0, high.max(least));
        self
    }
}

impl Ranges {
    /// Looks at the maps, and at the first, an injected and the last frame.
    pub fn measure(take: &Take, located: Option<&Located>) -> Self {
        let frames = take.stack.shape().frames;
        let last_injected = take.timeline.injecting.iter().rposition(|&on| on);
        let mut samples = Vec::new();
        for frame in [Some(0), last_injected, frames.checked_sub(1)].into_iter().flatten().filter(|&f| f < frames) {
            gather(take.stack.frame(frame).view(), &mut samples);
        }
        let of = |map: Option<&ndarray::Array2<f32>>, low: f64, high: f64| {
            let mut samples = Vec::new();
            if let Some(map) = map {
                gather(map.view(), &mut samples);
            }
            Samples::of(samples, low, high)
        };
        let maps = located.map(|l| &l.maps);
        // A hot spot can be smaller than the share left out at the top: the spots themselves set the upper end then.
        let hottest = located.into_iter().flat_map(|l| &l.hot_spots).map(|s| s.rise.end as f32).fold(0.0_f32, f32::max);
        Self {
            rise: of(maps.map(|m| &m.rise), 0.01, 0.9995).up_from_zero(hottest),
            z: of(maps.map(|m| &m.z), 0.01, 0.9995).up_from_zero(0.0),
            time_constant: of(maps.map(|m| &m.tau_s), 0.02, 0.98),
            before: of(maps.map(|m| &m.before), 0.002, 0.998),
            frame: Samples::of(samples, 0.002, 0.9995),
        }
    }

    fn samples(&self, layer: Layer) -> &Samples {
        match layer {
            Layer::Rise | Layer::FrameRise => &self.rise,
            Layer::Z => &self.z,
            Layer::TimeConstant => &self.time_constant,
            Layer::Before => &self.before,
            Layer::Frame => &self.frame,
        }
    }

    /// The automatic range of a layer.
    pub fn of(&self, layer: Layer) -> (f32, f32) {
        self.samples(layer).auto
    }

    /// The values below which these percentages of a layer's pixels lie.
    pub fn percentiles(&self, layer: Layer, low: f32, high: f32) -> (f32, f32) {
        between(&self.samples(layer).sorted, f64::from(low) / 100.0, f64::from(high) / 100.0)
    }
}

fn gather(map: ArrayView2<f32>, samples: &mut Vec<f32>) {
    let step = (map.len() / MOST_SAMPLES).max(1);
    samples.extend(map.iter().step_by(step).copied().filter(|v| v.is_finite()));
}

/// Two quantiles of sorted values, kept apart so that a flat map still has a range.
fn between(sorted: &[f32], low: f64, high: f64) -> (f32, f32) {
    if sorted.is_empty() {
        return (0.0, 1.0);
    }
    let at = |q: f64| sorted[((sorted.len() - 1) as f64 * q.clamp(0.0, 1.0)).round() as usize];
    let (a, b) = (at(low), at(high));
    if b > a { (a, b) } else { (a - 0.5, a + 0.5) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_survive_flat_empty_and_broken_maps() {
        assert_eq!(between(&[], 0.0, 1.0), (0.0, 1.0));
        assert_eq!(between(&[2.0, 2.0], 0.0, 1.0), (1.5, 2.5));
        let mut samples = Vec::new();
        gather(ndarray::arr2(&[[f32::NAN, 1.0], [3.0, f32::INFINITY]]).view(), &mut samples);
        assert_eq!(between(&samples, 0.0, 1.0), (1.0, 3.0));
    }

    #[test]
    fn percentiles_are_those_of_the_layer() {
        let samples = Samples::of((0..=100).rev().map(|v| v as f32).collect(), 0.0, 1.0);
        let ranges = Ranges {
            rise: samples.clone().up_from_zero(0.0),
            z: samples.clone(),
            time_constant: samples.clone(),
            before: samples.clone(),
            frame: samples,
        };
        assert_eq!(ranges.percentiles(Layer::Z, 5.0, 90.0), (5.0, 90.0));
        assert_eq!(ranges.percentiles(Layer::Rise, 50.0, 250.0), (50.0, 100.0));
        // Ends that meet are kept apart.
        assert_eq!(ranges.percentiles(Layer::Z, 30.0, 30.0), (29.5, 30.5));
    }
}
