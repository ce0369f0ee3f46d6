//! Plain pictures and video, whose camera may have rescaled them as it went: the pixels off the board say by how much.

use joulemark_frames::{
    FramesError, Note, Progress, Take, Unit,
    relative::{GainFit, fit_frame_gains},
};
use joulemark_locate::{
    align::{Alignment, off_board},
    board::Face,
};

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
