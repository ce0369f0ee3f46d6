//! Pixels at the end of the sensor's range: their heat is larger than what is seen.

use joulemark_frames::{Samples, Stack};
use ndarray::ArrayView2;
use rayon::prelude::*;

/// Frames looked at, the last one among them.
const FRAMES: usize = 12;
/// Fewest pixels at one value that make an unknown end of the range.
const LEAST_PIXELS: usize = 9;
/// They are this many times as many as at the two values next to it: noise does not pile up.
const PILE: usize = 5;

/// Pixels at the end of the range.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Clipped {
    /// Pixels at the upper end in some frame.
    pub high: usize,
    /// Pixels at the lower end in some frame.
    pub low: usize,
}

/// Counts clipped pixels in some frames; single ones are faults of the sensor and do not count.
pub fn clipped(stack: &Stack) -> Clipped {
    let [high, low] = marks(stack).map(|m| m.iter().filter(|&&mark| mark).count());
    Clipped { high, low }
}

/// The same pixels, row by row: true where one stands at either end of the range.
pub fn clipped_pixels(stack: &Stack) -> Vec<bool> {
    let [mut high, low] = marks(stack);
    high.iter_mut().zip(low).for_each(|(h, l)| *h |= l);
    high
}

/// Pixels at the upper and at the lower end.
fn marks(stack: &Stack) -> [Vec<bool>; 2] {
    match stack.samples() {
        // Grey pictures are black and white where nothing is clipped: only piles count.
        Samples::U8(a) => at_ends(a.dim(), |t| a.index_axis(ndarray::Axis(0), t), &[255], i32::from),
        Samples::U16(a) => {
            // Ends of 12, 14 and 16 bits.
            at_ends(a.dim(), |t| a.index_axis(ndarray::Axis(0), t), &[4095, 16_383, 65_535], i32::from)
        }
        Samples::F32(a) => at_ends(
            a.dim(),
            |t| a.index_axis(ndarray::Axis(0), t),
            &[],
            |v| {
                // The order of the bits is the order of the values; next to a value lie its neighbours in f32.
                let bits = v.to_bits() as i32;
                if bits < 0 { i32::MIN ^ !bits } else { bits }
            },
        ),
    }
}

fn at_ends<'a, T: Copy + Sync + 'a>(
    (frames, height, width): (usize, usize, usize),
    frame: impl Fn(usize) -> ArrayView2<'a, T> + Sync,
    ends: &[i32],
    value: impl Fn(T) -> i32 + Sync,
) -> [Vec<bool>; 2] {
    let looked_at: Vec<usize> =
        (0..FRAMES.min(frames)).map(|i| frames - 1 - i * (frames - 1) / FRAMES.max(1)).collect();
    // Per frame the values that count as an end, upper and lower.
    let ends_of = |&t: &usize| {
        let values: Vec<i32> = frame(t).iter().map(|&v| value(v)).collect();
        let count = |wanted: Option<i32>| wanted.map_or(0, |w| values.iter().filter(|v| **v == w).count());
        let piled = |end: i32, inwards: i32| {
            let at = count(Some(end));
            let next = || count(end.checked_add(inwards)) + count(end.checked_add(2 * inwards));
            at >= LEAST_PIXELS && at > PILE * (next() + 1)
        };
        let upper = values.iter().copied().max().filter(|&end| ends.contains(&end) || piled(end, -1));
        let lower = values.iter().copied().min();
        [upper, lower.filter(|&end| (end == 0 && !ends.is_empty()) || piled(end, 1))]
    };
    let found: Vec<[Option<i32>; 2]> = looked_at.par_iter().map(ends_of).collect();
    let mut high = vec![false; height * width];
    let mut low = high.clone();
    for (&t, [upper, lower]) in looked_at.iter().zip(found) {
        for (marks, end) in [(&mut high, upper), (&mut low, lower)] {
            let Some(end) = end else { continue };
            marks.iter_mut().zip(frame(t)).for_each(|(mark, &v)| *mark |= value(v) == end);
        }
    }
    // A pixel without a clipped neighbour is the sensor's own.
    let together = |marks: &[bool]| {
        if !marks.contains(&true) {
            return marks.to_vec();
        }
        let kept = |p: usize| {
            let (y, x) = (p / width, p % width);
            marks[p]
                && ((x > 0 && marks[p - 1])
                    || (x + 1 < width && marks[p + 1])
                    || (y > 0 && marks[p - width])
                    || (y + 1 < height && marks[p + width]))
        };
        (0..marks.len()).map(kept).collect::<Vec<bool>>()
    };
    [together(&high), together(&low)]
}

impl Clipped {
    /// For the user; `None` when nothing is clipped.
    pub fn warning(&self) -> Option<String> {
        let end = match (self.high, self.low) {
            (0, 0) => return None,
            (_, 0) => "upper",
            (0, _) => "lower",
            _ => "upper or lower",
        };
        Some(format!(
            "{} pixels stand at the {end} end of the camera's range, so their rise is larger than it seems: choose a wider \
             range or less power",
            self.high + self.low
        ))
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::CountsLaw;
    use ndarray::Array3;

    use super::*;

    /// A spot over a ramp with some noise, cut at `end`.
    fn spot(end: u16) -> Stack {
        let samples = Array3::from_shape_fn((30, 40, 50), |(t, y, x)| {
            let d2 = ((x as f64) - 20.0).powi(2) + ((y as f64) - 25.0).powi(2);
            let noise = (t * 31 + y * 17 + x * 13) * 2_654_435_761 % 97;
            ((20_000 + 30 * x + noise) as f64 + 1500.0 * t as f64 * (-d2 / 40.0).exp()).min(f64::from(end)) as u16
        });
        Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN)
    }

    #[test]
    fn a_cut_spot_is_said() {
        let found = clipped(&spot(40_000));
        // 43500 at the centre at the end, 40000 within 5.6 px: 96 to 104 pixels, the ramp included.
        assert!((80..130).contains(&found.high), "{found:?}");
        assert_eq!(found.low, 0);
        assert!(found.warning().unwrap().contains("upper end"));
    }

    #[test]
    fn an_uncut_spot_and_single_pixels_are_not() {
        let stack = spot(u16::MAX);
        assert_eq!(clipped(&stack), Clipped::default());
        let Samples::U16(mut samples) = stack.samples().clone() else { unreachable!() };
        for t in 0..30 {
            samples[[t, 5, 5]] = u16::MAX;
            samples[[t, 30, 40]] = 0;
        }
        assert_eq!(clipped(&Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN)), Clipped::default());
    }

    #[test]
    fn the_pixels_are_those_that_were_counted() {
        let stack = spot(40_000);
        let pixels = clipped_pixels(&stack);
        let found = clipped(&stack);
        assert!(found.high > 0);
        assert_eq!(pixels.iter().filter(|&&p| p).count(), found.high + found.low);
    }
}
