//! Plain pictures and video: cameras rescale them as they go. Each frame's own gain and offset is fitted on pixels off
//! the board, where nothing warms, and undone by [`FrameGain`].

mod line;

use ndarray::Array2;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::{FrameGain, FramesError, Note, Progress, Samples, Stack};
use line::{Line, fit, median};

/// Fewer reference pixels than this say nothing reliable.
const FEWEST_PIXELS: usize = 16;
/// More pixels than this bring nothing but time: the gain is then known far better than it matters.
const MOST_PIXELS: usize = 20_000;
/// Most values held at once, 64 MiB of them.
const MOST_VALUES: usize = 16 << 20;
/// The reference scale is the mean of the first tenth of the frames, but of at most this many.
const MOST_FIRST_FRAMES: usize = 16;
/// Beyond this standard error of the gain only an offset is fitted: a correction could then misread a rise by 2 %.
const LARGEST_GAIN_SE: f64 = 0.02;
/// How often reference frame and lines are refined in turn.
const ROUNDS: usize = 3;
/// A change is real when chance alone would show it in one recording of three million (five standard deviations).
const REAL_Z: f64 = 5.0;

/// What could be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GainModel {
    /// Gain and offset of each frame.
    GainAndOffset,
    /// Only an offset: the reference pixels are too even to show a gain.
    OffsetOnly,
    /// Nothing: too few usable reference pixels.
    Nothing,
}

/// One frame's correction and its standard errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameFit {
    /// What undoes the frame's gain and offset.
    pub correction: FrameGain,
    /// Standard error of the correction's gain, dimensionless.
    pub gain_se: f64,
    /// Standard error of the correction's offset (at value zero, hence strongly tied to the gain), stack units.
    pub offset_se: f64,
    /// Standard error of a corrected value at the mean level of the reference pixels, stack units.
    pub level_se: f64,
}

/// How much one quantity changes over the recording, beside what chance makes of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Change {
    /// Standard deviation over the frames, less the part that noise explains.
    pub spread: f64,
    /// Typical (root mean square) standard error of one frame.
    pub se: f64,
    /// Whether the spread exceeds the standard error, beyond chance.
    pub real: bool,
}

/// The fitted gains of all frames.
#[derive(Clone, Debug, PartialEq)]
pub struct GainFit {
    /// What could be fitted.
    pub model: GainModel,
    /// One entry per frame; corrections that change nothing where nothing could be fitted.
    pub frames: Vec<FrameFit>,
    /// Reference pixels used.
    pub pixels: usize,
    /// Change of the gain: real when the camera's automatic gain was on.
    pub gain: Change,
    /// Change of the level: automatic gain, or the surroundings themselves.
    pub level: Change,
    /// What the user should know.
    pub notes: Vec<Note>,
}

impl GainFit {
    /// The corrections alone, for [`Stack::set_frame_gains`].
    pub fn corrections(&self) -> Vec<FrameGain> {
        self.frames.iter().map(|f| f.correction).collect()
    }
}

/// Fits gain and offset of each frame on the pixels marked true, which must lie off the board.
///
/// Each frame is a line in the reference frame, which is the mean of all corrected frames, scaled so that the first
/// tenth of the frames (at most 16) have gain 1 and offset 0 on average. Pixels that are clipped (0 or the largest
/// value) or not finite in any frame are left out, and of the rest those that stray from the line (a hand passing).
/// Standard errors are those of least squares for independent noise; they do not contain the common error of the
/// reference scale. Corrections that the stack already carries are applied before fitting.
///
/// # Errors
/// [`FramesError::Cancelled`].
///
/// # Panics
/// When `reference_pixels` has another shape than a frame.
pub fn fit_frame_gains(
    stack: &Stack,
    reference_pixels: &Array2<bool>,
    progress: &dyn Progress,
) -> Result<GainFit, FramesError> {
    let shape = stack.shape();
    assert_eq!(reference_pixels.dim(), (shape.height_px, shape.width_px), "one mark per pixel");
    let pixels = usable(stack, reference_pixels, progress)?;
    if pixels.len() < FEWEST_PIXELS || shape.frames < 2 {
        return Ok(nothing(shape.frames, pixels.len()));
    }
    let values = gather(stack, &pixels, progress)?;
    let first = (shape.frames / 10).clamp(1, MOST_FIRST_FRAMES);
    let (lines, model) = match lines(&values, shape.frames, first, false) {
        Some(lines) if typical_gain_se(&lines) <= LARGEST_GAIN_SE => (lines, GainModel::GainAndOffset),
        _ => match lines(&values, shape.frames, first, true) {
            Some(lines) => (lines, GainModel::OffsetOnly),
            None => return Ok(nothing(shape.frames, pixels.len())),
        },
    };
    let gain = change(&lines, |l| l.slope, |l| l.slope_variance);
    let level = change(&lines, |l| l.level - l.centre, |l| l.level_variance);
    let frames = lines.iter().map(correction).collect();
    let notes = notes(model, gain, level, pixels.len());
    Ok(GainFit { model, frames, pixels: pixels.len(), gain, level, notes })
}

/// Marked pixels that are neither clipped nor missing in any frame, thinned evenly.
fn usable(stack: &Stack, marks: &Array2<bool>, progress: &dyn Progress) -> Result<Vec<usize>, FramesError> {
    let shape = stack.shape();
    let marked: Vec<usize> = marks.iter().enumerate().filter_map(|(i, &on)| on.then_some(i)).collect();
    let pixels = shape.pixels();
    let good = |i: usize| match stack.samples() {
        Samples::U8(a) => a.as_slice().is_some_and(|a| a[i..].iter().step_by(pixels).all(|&v| v > 0 && v < u8::MAX)),
        Samples::U16(a) => a.as_slice().is_some_and(|a| a[i..].iter().step_by(pixels).all(|&v| v > 0 && v < u16::MAX)),
        Samples::F32(a) => a.as_slice().is_some_and(|a| a[i..].iter().step_by(pixels).all(|v| v.is_finite())),
    };
    step(progress, 0, shape.frames)?;
    let kept: Vec<usize> = marked.into_par_iter().filter(|&i| good(i)).collect();
    let most = MOST_PIXELS.min((MOST_VALUES / shape.frames.max(1)).max(FEWEST_PIXELS));
    let thin = kept.len().div_ceil(most).max(1);
    Ok(kept.into_iter().step_by(thin).collect())
}

/// The pixels' values, frame after frame.
fn gather(stack: &Stack, pixels: &[usize], progress: &dyn Progress) -> Result<Vec<f32>, FramesError> {
    let shape = stack.shape();
    let mut values = vec![0.0; shape.frames * pixels.len()];
    let done = AtomicUsize::new(0);
    values.par_chunks_exact_mut(pixels.len()).enumerate().try_for_each(|(frame, out)| {
        let mut whole = vec![0.0; shape.pixels()];
        stack.copy_run(frame, 0..shape.pixels(), &mut whole);
        for (out, &pixel) in out.iter_mut().zip(pixels) {
            *out = whole[pixel];
        }
        step(progress, done.fetch_add(1, Ordering::Relaxed) + 1, shape.frames)
    })?;
    Ok(values)
}

fn step(progress: &dyn Progress, done: usize, total: usize) -> Result<(), FramesError> {
    if progress.cancelled() {
        return Err(FramesError::Cancelled);
    }
    progress.report("fitting frame gains", done, total);
    Ok(())
}

/// One line per frame against a common reference, refined in turn. `None` when a frame has no line.
fn lines(values: &[f32], frames: usize, first: usize, slope_fixed: bool) -> Option<Vec<Line>> {
    let pixels = values.len() / frames;
    let mut lines =
        vec![Line { slope: 1.0, level: 0.0, centre: 0.0, slope_variance: 0.0, level_variance: 0.0 }; frames];
    for round in 0..ROUNDS {
        // At first the reference is the mean of the first frames, then that of all corrected ones.
        let used = if round == 0 { first } else { frames };
        let mut reference = vec![0.0; pixels];
        for (line, frame) in lines.iter().zip(values.chunks_exact(pixels)).take(used) {
            for (r, &v) in reference.iter_mut().zip(frame) {
                *r += (f64::from(v) - line.intercept()) / line.slope / used as f64;
            }
        }
        lines =
            values.par_chunks_exact(pixels).map(|frame| fit(&reference, frame, slope_fixed)).collect::<Option<_>>()?;
        if lines.iter().any(|l| !l.slope.is_finite() || l.slope <= 0.0) {
            return None;
        }
        normalise(&mut lines, first);
    }
    Some(lines)
}

/// Moves the reference so that the first frames have slope 1 and intercept 0 on average.
fn normalise(lines: &mut [Line], first: usize) {
    let slope = lines[..first].iter().map(|l| l.slope).sum::<f64>() / first as f64;
    let intercept = lines[..first].iter().map(Line::intercept).sum::<f64>() / first as f64;
    for line in lines {
        // The new reference is slope * old + intercept.
        line.centre = slope * line.centre + intercept;
        line.slope /= slope;
        line.slope_variance /= slope * slope;
    }
}

fn typical_gain_se(lines: &[Line]) -> f64 {
    let mut errors: Vec<f64> = lines.iter().map(|l| l.slope_variance.sqrt() / l.slope).collect();
    median(&mut errors).unwrap_or(f64::INFINITY)
}

/// Inverts a line: `reference = value / slope - intercept / slope`, errors to first order.
fn correction(line: &Line) -> FrameFit {
    let (gain, intercept) = (1.0 / line.slope, line.intercept());
    // The inverse is centre + (value - level) / slope. At value zero the level counts once and the slope by the
    // distance from there.
    let offset_variance = line.level_variance * gain.powi(2) + line.slope_variance * (line.level * gain * gain).powi(2);
    FrameFit {
        correction: FrameGain { gain: gain as f32, offset: (-intercept * gain) as f32 },
        gain_se: line.slope_variance.sqrt() * gain * gain,
        offset_se: offset_variance.sqrt(),
        level_se: line.level_variance.sqrt() * gain,
    }
}

/// Tests a quantity for change over the frames: the sum of squared standardised deviations follows a χ² distribution
/// when nothing changes, brought to a normal one by Wilson and Hilferty's cube root (PNAS 17, 1931).
fn change(lines: &[Line], value: impl Fn(&Line) -> f64, variance: impl Fn(&Line) -> f64) -> Change {
    let n = lines.len() as f64;
    // Without noise, rounding to 32 bits is what is left.
    let tiny = lines.iter().map(|l| f64::from(f32::EPSILON) * value(l).abs().max(1e-3)).fold(0.0, f64::max).powi(2);
    let se_squared = lines.iter().map(|l| variance(l).max(tiny)).sum::<f64>() / n;
    let weights: f64 = lines.iter().map(|l| 1.0 / variance(l).max(tiny)).sum();
    let mean = lines.iter().map(|l| value(l) / variance(l).max(tiny)).sum::<f64>() / weights;
    let chi_squared: f64 = lines.iter().map(|l| (value(l) - mean).powi(2) / variance(l).max(tiny)).sum();
    let freedom = n - 1.0;
    let z = ((chi_squared / freedom).cbrt() - (1.0 - 2.0 / (9.0 * freedom))) / (2.0 / (9.0 * freedom)).sqrt();
    let total = lines.iter().map(|l| (value(l) - mean).powi(2)).sum::<f64>() / freedom;
    let (spread, se) = ((total - se_squared).max(0.0).sqrt(), se_squared.sqrt());
    Change { spread, se, real: z > REAL_Z && spread > se }
}

fn notes(model: GainModel, gain: Change, level: Change, pixels: usize) -> Vec<Note> {
    let mut notes = Vec::new();
    if model == GainModel::OffsetOnly {
        notes.push(Note::new(
            format!("the {pixels} reference pixels are too even to show a gain: only an offset per frame was fitted"),
            "mark an area off the board with clear contrast, or switch the camera's automatic gain off",
        ));
    }
    if gain.real {
        notes.push(Note::new(
            format!(
                "automatic gain: the gain changes by {:.2} % from frame to frame (standard error {:.2} %)",
                100.0 * gain.spread,
                100.0 * gain.se
            ),
            "undone by the fitted corrections; better switch it off and film again",
        ));
    }
    if level.real {
        notes.push(Note::new(
            format!("the level off the board changes by {:.2} units (standard error {:.2})", level.spread, level.se),
            "undone by the fitted corrections",
        ));
    }
    notes
}

fn nothing(frames: usize, pixels: usize) -> GainFit {
    let none = FrameFit {
        correction: FrameGain { gain: 1.0, offset: 0.0 },
        gain_se: f64::INFINITY,
        offset_se: f64::INFINITY,
        level_se: f64::INFINITY,
    };
    GainFit {
        model: GainModel::Nothing,
        frames: vec![none; frames],
        pixels,
        gain: Change::default(),
        level: Change::default(),
        notes: vec![Note::new(
            format!("{pixels} usable reference pixels in {frames} frames are too few to fit gains"),
            "mark a larger area off the board, where nothing is clipped",
        )],
    }
}

#[cfg(test)]
mod tests;
