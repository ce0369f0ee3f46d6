//! Plain pictures and video, whose camera may have rescaled them as it went: the pixels off the board say by how much.

use joulemark_frames::{
    FramesError, Note, Progress, Take, Unit,
    relative::{GainFit, fit_frame_gains},
};
use joulemark_locate::{align::Alignment, board::Face};
use nalgebra::Point2;
use ndarray::Array2;

/// Pixels this near the outline still see the board through the lens's blur and the pairs' error.
const MARGIN_PX: f64 = 2.0;

/// Undoes each frame's own gain and offset in a relative take, where they really change, and notes it. A take in kelvin
/// is left as it is.
pub fn undo(
    take: &mut Take,
    face: &Face,
    alignment: &Alignment,
    progress: &dyn Progress,
) -> Result<Option<GainFit>, FramesError> {
    if take.unit != Unit::Relative {
        return Ok(None);
    }
    let shape = take.stack.shape();
    let reference = off_board(face, alignment, shape.width_px, shape.height_px);
    let fit = fit_frame_gains(&take.stack, &reference, progress)?;
    // Corrections that only follow the noise would add it to every pixel of a frame at once.
    if fit.gain.real || fit.level.real {
        take.stack.set_frame_gains(fit.corrections());
    }
    let steady = Note::new("the camera's scale is steady off the board: no gain was corrected", "");
    let fitted = fit.notes.iter().cloned();
    take.notes.extend(fitted.chain((fit.notes.is_empty()).then_some(steady)));
    Ok(Some(fit))
}

/// Pixels that lie off the outline with a margin, `[row, column]`.
fn off_board(face: &Face, alignment: &Alignment, width: usize, height: usize) -> Array2<bool> {
    Array2::from_shape_fn((height, width), |(y, x)| {
        let around = [-MARGIN_PX, 0.0, MARGIN_PX];
        around.iter().flat_map(|dx| around.map(|dy| (*dx, dy))).all(|(dx, dy)| {
            let at = Point2::new(x as f64 + dx, y as f64 + dy);
            !face.outline_contains(alignment.to_board(at))
        })
    })
}

#[cfg(test)]
mod tests {
    use joulemark_locate::align::PointPair;

    use super::*;

    #[test]
    fn the_margin_is_kept_off_the_outline() {
        let face = Face { outline: vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]], ..Face::default() };
        // One pixel a millimetre; the face spans 5.25 to 15.25 in both directions.
        let pair = |x: f64, y: f64| PointPair { x_px: x + 5.25, y_px: y + 5.25, x_mm: x, y_mm: y };
        let alignment = Alignment::fit(&[pair(0.0, 0.0), pair(10.0, 0.0), pair(10.0, 10.0), pair(0.0, 10.0)]).unwrap();
        let off = off_board(&face, &alignment, 20, 20);
        let row: Vec<usize> = (0..20).filter(|&x| off[[10, x]]).collect();
        assert_eq!(row, [0, 1, 2, 3, 18, 19]);
        assert!(off.row(1).iter().all(|o| *o));
    }
}
