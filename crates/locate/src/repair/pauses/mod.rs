//! Shutter pauses: the sensor closes for a new offset calibration, the last frame is repeated meanwhile, then the whole
//! picture goes on at another level.

mod jumps;
mod sample;
#[cfg(test)]
mod tests;

use joulemark_frames::{Stack, Timeline};

use crate::Repaired;
use sample::Sample;

/// At least this share of pixels is equal, or within one count, in a repeated frame.
const EQUAL_SHARE: f32 = 0.999;
/// Where already this share of pixels is equal between ordinary frames, equality says nothing.
const TOO_EQUAL: f32 = 0.9;
/// A repeated frame with dither differs by less than this share of the ordinary squares.
const DITHER_SHARE: f32 = 0.15;
/// Frames before injection that must be left; otherwise equality is taken for a quiet camera.
const LEAST_BEFORE: usize = 5;
/// At most this share of all frames may be repeats.
const MOST_REPEATED: f64 = 0.7;

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pauses {
    /// Frames that repeat the one before, ascending: they hold no measurement and are to be left out.
    pub repeated: Vec<usize>,
    /// Frames that are the first at another level, ascending.
    pub jumps: Vec<usize>,
}

/// Looks for repeated frames and for jumps of the whole picture's level, on a sample of pixels.
pub fn find(stack: &Stack, timeline: &Timeline) -> Pauses {
    if stack.shape().frames < 4 {
        return Pauses::default();
    }
    let sample = Sample::new(stack);
    let repeated = repeats(&sample, timeline);
    let kept: Vec<usize> = (0..stack.shape().frames).filter(|t| repeated.binary_search(t).is_err()).collect();
    let jumps = jumps::find(&sample, &timeline.time_s, &kept);
    Pauses { repeated, jumps }
}

fn repeats(sample: &Sample, timeline: &Timeline) -> Vec<usize> {
    let steps = sample.steps();
    // Ordinary pairs lie in the upper part even when a converted recording shows every frame twice.
    let quantile = |mut values: Vec<f32>, share: f64| {
        values.sort_unstable_by(f32::total_cmp);
        values[((values.len() - 1) as f64 * share) as usize]
    };
    let usual = quantile(steps.iter().map(|s| s.mean_square).collect(), 0.8);
    let usually_equal = quantile(steps.iter().map(|s| s.equal).collect(), 0.2);
    if usual <= 0.0 || usually_equal > TOO_EQUAL {
        return Vec::new();
    }
    let repeated: Vec<usize> = (1..=steps.len())
        .filter(|&t| {
            let step = &steps[t - 1];
            step.equal >= EQUAL_SHARE || (step.near >= EQUAL_SHARE && step.mean_square < DITHER_SHARE * usual)
        })
        .collect();
    let frames = steps.len() + 1;
    let before = timeline.first_injected().unwrap_or(frames);
    let left_before = before - repeated.iter().filter(|t| **t < before).count();
    let too_many = repeated.len() as f64 > MOST_REPEATED * frames as f64;
    if too_many || left_before < LEAST_BEFORE.min(before) { Vec::new() } else { repeated }
}

impl Pauses {
    /// What was repaired, for the user.
    pub fn repaired(&self) -> Option<Repaired> {
        let frames = match self.repeated.len() {
            0 => None,
            1 => Some("1 frame that only repeated the one before was left out".to_owned()),
            n => Some(format!("{n} frames that only repeated the one before were left out")),
        };
        let listed = |jumps: &[usize]| jumps.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        let jumps = match self.jumps.as_slice() {
            [] => None,
            [one] => Some(format!("the jump of the whole picture at frame {one} was fitted beside the rise")),
            some if some.len() <= 4 => {
                Some(format!("the jumps of the whole picture at frames {} were fitted beside the rise", listed(some)))
            }
            some => Some(format!("{} jumps of the whole picture were fitted beside the rise", some.len())),
        };
        let did: Vec<String> = frames.into_iter().chain(jumps).collect();
        (!did.is_empty()).then(|| Repaired { what: "pauses", did: did.join("; ") })
    }
}
