//! Round numbers for the colour bar's ticks, and the scale bar.

use image::RgbImage;

use super::{
    BODY, TEXT,
    stroke::{self, At, Pen},
    text::Typeface,
};

/// 1, 2 or 5 times a power of ten, at most `most`.
pub(crate) fn round_at_most(most: f64) -> f64 {
    if !(most.is_finite() && most > 0.0) {
        return 1.0;
    }
    let decade = 10_f64.powf(most.log10().floor());
    // A hair of slack, so that 5.0 stays 5 whatever the logarithm's last digit.
    [5.0, 2.0, 1.0].iter().map(|m| m * decade).find(|v| *v <= most * (1.0 + 1e-9)).unwrap_or(decade)
}

/// Round values within `from..=to`, some five of them, with the decimals that tell them apart.
pub(crate) fn ticks(from: f64, to: f64) -> (Vec<f64>, usize) {
    let step = round_at_most((to - from) / 4.0);
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    let first = (from / step).ceil() as i64;
    let last = (to / step).floor() as i64;
    ((first..=last.min(first + 20)).map(|i| i as f64 * step).collect(), decimals)
}

/// A scale bar from `start` to the right with its length in words; gives where the words end.
pub(super) fn draw_scale_bar(
    canvas: &mut RgbImage,
    typeface: &Typeface,
    start: At,
    bar_mm: f64,
    px_per_mm: f64,
) -> f32 {
    let [left, y] = start;
    let right = left + (bar_mm * px_per_mm) as f32;
    let pen = Pen { colour: TEXT, opacity: 1.0, width: 3.0 };
    for line in [[[left, y], [right, y]], [[left, y - 7.0], [left, y + 7.0]], [[right, y - 7.0], [right, y + 7.0]]] {
        stroke::polyline(canvas, &line, false, pen);
    }
    let text = format!("{bar_mm} mm");
    let (width, line) = typeface.size(&text, BODY);
    typeface.draw(canvas, &text, [right + 14.0, y - line / 2.0], BODY, TEXT);
    right + 14.0 + width
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (most, wanted) in [(1.0, 1.0), (0.99, 0.5), (7.0, 5.0), (0.021, 0.02), (5.0, 5.0), (f64::NAN, 1.0)] {
            assert!((round_at_most(most) - wanted).abs() < 1e-12, "{most}");
        }
    }

    #[test]
    fn ticks_lie_within_and_need_few_decimals() {
        let (values, decimals) = ticks(0.0, 1.86);
        assert_eq!(
            values,
            [0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0, 1.2000000000000002, 1.4000000000000001, 1.6, 1.8]
        );
        assert_eq!(decimals, 1);
        assert_eq!(ticks(0.0, 120.0), (vec![0.0, 20.0, 40.0, 60.0, 80.0, 100.0, 120.0], 0));
    }
}
