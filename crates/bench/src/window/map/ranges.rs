//! From where to where each layer is coloured, found once per take and not per frame.

use joulemark_frames::Take;
use joulemark_locate::Located;
use ndarray::ArrayView2;

use super::super::screen::Layer;

/// At most this many samples of a map are sorted.
const MOST_SAMPLES: usize = 20_000;

/// Automatic ranges, `(lowest, highest)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ranges {
    rise: (f32, f32),
    z: (f32, f32),
    time_constant: (f32, f32),
    before: (f32, f32),
    frame: (f32, f32),
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
        let frame = between(&mut samples, 0.002, 0.9995);
        let of = |map: Option<&ndarray::Array2<f32>>, low: f64, high: f64| {
            let mut samples = Vec::new();
            if let Some(map) = map {
                gather(map.view(), &mut samples);
            }
            between(&mut samples, low, high)
        };
        let maps = located.map(|l| &l.maps);
        let from_zero = |(_, high): (f32, f32)| (0.0, if high > 0.0 { high } else { 1.0 });
        // A hot spot can be smaller than the share left out at the top: the spots themselves set the upper end then.
        let hottest = located.into_iter().flat_map(|l| &l.hot_spots).map(|s| s.rise.end as f32).fold(0.0_f32, f32::max);
        let rise = from_zero(of(maps.map(|m| &m.rise), 0.01, 0.9995));
        let z = from_zero(of(maps.map(|m| &m.z), 0.01, 0.9995));
        Self {
            rise: (rise.0, rise.1.max(hottest)),
            z,
            time_constant: of(maps.map(|m| &m.tau_s), 0.02, 0.98),
            before: of(maps.map(|m| &m.before), 0.002, 0.998),
            frame,
        }
    }

    /// The automatic range of a layer.
    pub fn of(&self, layer: Layer) -> (f32, f32) {
        match layer {
            Layer::Rise | Layer::FrameRise => self.rise,
            Layer::Z => self.z,
            Layer::TimeConstant => self.time_constant,
            Layer::Before => self.before,
            Layer::Frame => self.frame,
        }
    }
}

fn gather(map: ArrayView2<f32>, samples: &mut Vec<f32>) {
    let step = (map.len() / MOST_SAMPLES).max(1);
    samples.extend(map.iter().step_by(step).copied().filter(|v| v.is_finite()));
}

/// Two quantiles, kept apart so that a flat map still has a range.
fn between(samples: &mut [f32], low: f64, high: f64) -> (f32, f32) {
    if samples.is_empty() {
        return (0.0, 1.0);
    }
    samples.sort_unstable_by(f32::total_cmp);
    let at = |q: f64| samples[((samples.len() - 1) as f64 * q).round() as usize];
    let (a, b) = (at(low), at(high));
    if b > a { (a, b) } else { (a - 0.5, a + 0.5) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_survive_flat_empty_and_broken_maps() {
        assert_eq!(between(&mut [], 0.0, 1.0), (0.0, 1.0));
        assert_eq!(between(&mut [2.0, 2.0], 0.0, 1.0), (1.5, 2.5));
        let mut samples = Vec::new();
        gather(ndarray::arr2(&[[f32::NAN, 1.0], [3.0, f32::INFINITY]]).view(), &mut samples);
        assert_eq!(between(&mut samples, 0.0, 1.0), (1.0, 3.0));
    }
}
