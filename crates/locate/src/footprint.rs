//! What the picture measures over one part: its mean over the footprint, frame by frame. Nothing is fitted or repaired.

use joulemark_frames::Take;
use nalgebra::Point2;

use crate::{
    align::Alignment,
    board::{Footprint, Part},
};

/// Mean over the pixels of a footprint against time.
#[derive(Clone, Debug, PartialEq)]
pub struct FootprintCurve {
    /// Pixels whose centre lies on the part; the nearest one alone where it covers no centre.
    pub pixels: usize,
    /// Seconds, one per frame.
    pub time_s: Vec<f64>,
    /// Mean minus its own mean before injection (minus its first value where nothing says when injection begins), in the
    /// take's unit. Not a number where no pixel of the footprint is one.
    pub rise: Vec<f64>,
    /// Standard deviation of one value, from the frames before injection; `None` with fewer than three of them.
    pub sigma: Option<f64>,
}

/// The curve of a part; `None` when the part lies outside the picture.
pub fn footprint_curve(take: &Take, alignment: &Alignment, part: &Part) -> Option<FootprintCurve> {
    let shape = take.stack.shape();
    let runs = runs(alignment, part, shape.width_px, shape.height_px)?;
    let pixels = runs.iter().map(|r| r.len()).sum();
    let mut samples = vec![0.0_f32; shape.width_px];
    let means: Vec<f64> = (0..shape.frames)
        .map(|frame| {
            let (mut sum, mut count) = (0.0, 0.0);
            for run in &runs {
                let out = &mut samples[..run.len()];
                take.stack.copy_run(frame, run.clone(), out);
                for value in out.iter().filter(|v| v.is_finite()) {
                    sum += f64::from(*value);
                    count += 1.0;
                }
            }
            sum / count
        })
        .collect();
    let before = take.timeline.first_injected().unwrap_or(1).clamp(1, means.len().max(1));
    let known: Vec<f64> = means.iter().take(before).copied().filter(|v| v.is_finite()).collect();
    let level = if known.is_empty() { f64::NAN } else { known.iter().sum::<f64>() / known.len() as f64 };
    let sigma = (known.len() >= 3).then(|| {
        let squares: f64 = known.iter().map(|v| (v - level).powi(2)).sum();
        (squares / (known.len() - 1) as f64).sqrt()
    });
    let rise = means.iter().map(|v| v - level).collect();
    Some(FootprintCurve { pixels, time_s: take.timeline.time_s.clone(), rise, sigma })
}

/// Runs of pixels, row by row, whose centres lie on the part.
fn runs(alignment: &Alignment, part: &Part, width_px: usize, height_px: usize) -> Option<Vec<std::ops::Range<usize>>> {
    let footprint = Footprint::from(part);
    let corners = footprint.corners_mm().map(|c| alignment.to_image(c));
    let span = |axis: usize, count: usize| {
        let low = corners.iter().map(|c| c[axis]).fold(f64::INFINITY, f64::min).ceil().max(0.0);
        let high = corners.iter().map(|c| c[axis]).fold(f64::NEG_INFINITY, f64::max).floor().min(count as f64 - 1.0);
        (low <= high).then_some(low as usize..high as usize + 1)
    };
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    if let (Some(columns), Some(rows)) = (span(0, width_px), span(1, height_px)) {
        for y in rows {
            for x in columns.clone() {
                if footprint.contains(alignment.to_board(Point2::new(x as f64, y as f64))) {
                    let at = y * width_px + x;
                    match runs.last_mut() {
                        Some(run) if run.end == at => run.end = at + 1,
                        _ => runs.push(at..at + 1),
                    }
                }
            }
        }
    }
    if runs.is_empty() {
        // Narrower than a pixel: the one that its middle lies in.
        let middle = alignment.to_image(Point2::new(part.x_mm, part.y_mm));
        let (x, y) = (middle.x.round(), middle.y.round());
        let inside = x >= 0.0 && y >= 0.0 && x < width_px as f64 && y < height_px as f64;
        let at = inside.then(|| y as usize * width_px + x as usize)?;
        runs.push(at..at + 1);
    }
    Some(runs)
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, Samples, Stack, Timeline, Unit};
    use ndarray::Array3;

    use super::*;
    use crate::align::PointPair;

    /// Half a millimetre a pixel.
    fn alignment() -> Alignment {
        let pair = |x_px: f64, y_px: f64| PointPair { x_px, y_px, x_mm: x_px / 2.0, y_mm: y_px / 2.0 };
        Alignment::fit(&[pair(0.0, 0.0), pair(20.0, 0.0), pair(20.0, 12.0), pair(0.0, 12.0)]).unwrap()
    }

    fn part(x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64) -> Part {
        Part { x_mm, y_mm, width_mm, height_mm, ..Part::default() }
    }

    /// Pixels 4..=7 of rows 4..=5 climb by one a frame from frame 3; beside them nothing happens; one is not a number.
    fn take() -> Take {
        let samples = Array3::from_shape_fn((6, 12, 20), |(t, y, x)| {
            let warm = (4..=7).contains(&x) && (4..=5).contains(&y);
            match (x, y) {
                (5, 4) => f32::NAN,
                _ if warm => 10.0 + (x as f32) + t.saturating_sub(2) as f32,
                _ => 10.0,
            }
        });
        let mut timeline = Timeline::steady(6, 2.0);
        timeline.inject_from(3);
        let stack = Stack::new(Samples::F32(samples), CountsLaw { gain_k_per_count: 1.0, offset_k: 0.0 });
        Take { name: "a".into(), stack, unit: Unit::Kelvin, timeline, notes: Vec::new() }
    }

    #[test]
    fn the_mean_over_the_footprint_rises_as_its_pixels_do() {
        // 2 by 1 mm around (2.75, 2.25) mm covers columns 3.5 to 7.5 and rows 3.5 to 5.5.
        let curve = footprint_curve(&take(), &alignment(), &part(2.75, 2.25, 2.0, 1.0)).unwrap();
        assert_eq!(curve.pixels, 8);
        assert_eq!(curve.time_s, [0.0, 0.5, 1.0, 1.5, 2.0, 2.5]);
        // Sums of f64 around 15: rounding is some 1e-15 of that.
        assert!(curve.rise.iter().zip([0.0, 0.0, 0.0, 1.0, 2.0, 3.0]).all(|(a, b)| (a - b).abs() < 1e-12), "{curve:?}");
        assert!(curve.sigma.is_some_and(|s| s < 1e-12));
    }

    #[test]
    fn a_part_under_a_pixel_is_read_where_it_lies_and_one_outside_not_at_all() {
        let small = footprint_curve(&take(), &alignment(), &part(3.1, 2.1, 0.1, 0.1)).unwrap();
        assert_eq!((small.pixels, small.rise[5]), (1, 3.0));
        assert_eq!(footprint_curve(&take(), &alignment(), &part(30.0, 2.0, 1.0, 1.0)), None);
        // The pixel that is not a number says nothing.
        let dead = footprint_curve(&take(), &alignment(), &part(2.5, 2.0, 0.1, 0.1)).unwrap();
        assert!(dead.rise.iter().all(|v| v.is_nan()) && dead.sigma.is_none());
    }
}
