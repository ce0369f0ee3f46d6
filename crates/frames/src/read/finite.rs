//! Values that are not finite: an error that says where, or a note when the user wants them masked.

use rayon::prelude::*;

use super::input::Input;
use crate::{FramesError, Note, Samples, note::count};

/// Checks float frames; other samples are always finite. `place_of` names a frame, for folders by its file.
pub(super) fn check(
    input: &Input,
    samples: &Samples,
    place_of: impl Fn(usize) -> String,
) -> Result<Vec<Note>, FramesError> {
    let Samples::F32(frames) = samples else { return Ok(Vec::new()) };
    let Some(values) = frames.as_slice() else { return Ok(Vec::new()) };
    let bad = values.par_iter().filter(|v| !v.is_finite()).count();
    if bad == 0 {
        return Ok(Vec::new());
    }
    let (_, height_px, width_px) = frames.dim();
    let first = values.iter().position(|v| !v.is_finite()).unwrap_or(0);
    let (frame, pixel) = (first / (height_px * width_px), first % (height_px * width_px));
    let place = format!("{}, row {}, column {}", place_of(frame), pixel / width_px, pixel % width_px);
    if input.options.mask_not_a_number {
        return Ok(vec![Note::new(format!("{} not finite and masked, the first at {place}", count(bad, "value")), "")]);
    }
    Err(input.malformed(
        place,
        format!("{}, not a finite number ({} in all)", values[first], count(bad, "such value")),
        "export again without gaps, or mask them with --mask-nan",
    ))
}
