//! From a glance at some frames to the poses of all.

use std::sync::OnceLock;

use joulemark_frames::{Progress, Stack, Timeline};
use rayon::prelude::*;

use super::{
    MOST_ROTATION_DEG, MOST_SHIFT_PX, Motion, MotionOutcome, Pose,
    band::Band,
    coarse::Coarse,
    sensor::SensorNoise,
    smooth::smooth,
    template::{Fit, Template, resampled, without_rotation},
};
use crate::{
    LocateError,
    repair::{
        pixels::{self, Mend},
        resample::Scratch,
    },
};

/// Frames of the first glance, and those that its reference is made of.
const GLANCES: usize = 24;
const GLANCE_REFERENCE: usize = 6;
/// Shifts below this are left to the slopes of the maps: a tenth of a pixel.
const STILL_PX: f64 = 0.1;
/// A glance beyond this many standard errors is movement.
const MOVED_ERRORS: f64 = 5.0;
/// With a standard error above this nothing is repaired.
const WEAK_PX: f64 = 0.2;
/// Share of the reference's slopes that must be the picture's, not the sensor's.
const LEAST_TEXTURE: f64 = 0.5;
/// From this share of the sensor's on, what stays on it is taken off first; below, that would cost more than it brings.
const PATTERN_SHARE: f64 = 0.1;
/// A start whose likeness is below this share of the usual one is far off; an end above that one is right.
const NEAR_SHARE: f64 = 0.35;
const RIGHT_SHARE: f64 = 0.85;
/// What stays on the sensor still holds estimates back by this share of its own share, for movements up to that many
/// pixels; beyond, it no longer overlaps itself. Measured on simulated boards.
const HELD_SHARE: f64 = 0.5;
const HELD_PX: f64 = 1.5;
/// Frames in a row that one thread follows, each starting from the one before.
const FOLLOWED: usize = 16;
/// Frames that make the reference, and those that show the heat.
const REFERENCE_FRAMES: usize = 32;
const HEAT_FRAMES: usize = 16;
/// Times that the reference is made anew where what stays on the sensor is found with it; otherwise twice.
const ROUNDS: usize = 4;
/// A frame whose likeness falls below this share of the usual one matches nowhere.
const LOST_SHARE: f64 = 0.5;
/// At most this share of the frames may match nowhere.
const MOST_LOST: f64 = 0.05;
/// The limits are on what there is, not on what is measured.
const SLACK: f64 = 1.05;
/// A rotation that moves the corners by less than this, or no further than chance by this many errors, is none.
const TURNED_PX: f64 = 0.05;
const TURNED_ERRORS: f64 = 3.0;
/// Frames that tell pixels that stand still from a picture that moves.
const FAULTY_FRAMES: usize = 6;

/// Looks for movement and measures it.
///
/// # Errors
/// [`LocateError::Cancelled`].
pub fn find(stack: &Stack, timeline: &Timeline, progress: &dyn Progress) -> Result<MotionOutcome, LocateError> {
    let shape = stack.shape();
    let band = Band::new(shape.width_px, shape.height_px);
    let before = timeline.first_injected().unwrap_or(shape.frames).min(shape.frames).max(1);
    progress.report("looking for movement", 0, 2);
    let faulty = pixels::alone(stack, &spread_over(0..shape.frames, FAULTY_FRAMES));
    let mut search = Search {
        stack,
        band,
        mend: Mend::new(&faulty, shape.width_px, shape.height_px),
        before,
        sensor_share: 0.0,
        pattern: None,
        seen: (0..shape.frames).map(|_| OnceLock::new()).collect(),
    };
    if let Some(outcome) = search.glance() {
        return Ok(outcome);
    }
    if progress.cancelled() {
        return Err(LocateError::Cancelled);
    }
    progress.report("looking for movement", 1, 2);
    let (template, coarse, usual) = search.reference(timeline);
    if progress.cancelled() {
        return Err(LocateError::Cancelled);
    }
    let fits = search.all(&template, &coarse, usual);
    progress.report("looking for movement", 2, 2);
    Ok(search.judge(&fits, &template, faulty))
}

struct Search<'a> {
    stack: &'a Stack,
    band: Band,
    mend: Mend,
    before: usize,
    /// Share of the reference's slopes that the sensor makes.
    sensor_share: f64,
    /// Texture that stays on the sensor.
    pattern: Option<Vec<f32>>,
    /// Textures of the frames that were looked at, as they were recorded.
    seen: Vec<OnceLock<Vec<f32>>>,
}

/// Pose, errors and likeness of a frame, pixels of the texture.
struct Placed {
    fit: Fit,
    frame: usize,
}

impl Search<'_> {
    /// A frame's texture, less what stays on the sensor.
    fn texture(&self, frame: usize) -> Vec<f32> {
        let mut texture = match self.seen[frame].get() {
            Some(texture) => texture.clone(),
            None => self.band.texture(self.stack, &self.mend, frame),
        };
        if let Some(pattern) = &self.pattern {
            take_off(&mut texture, pattern);
        }
        texture
    }

    /// The same; the texture is kept, for it is asked for once more.
    fn texture_to_keep(&self, frame: usize) -> Vec<f32> {
        self.seen[frame].get_or_init(|| self.band.texture(self.stack, &self.mend, frame));
        self.texture(frame)
    }

    /// Some frames against the mean of some before injection, one step of least squares each.
    fn glance(&mut self) -> Option<MotionOutcome> {
        let frames = self.stack.shape().frames;
        let reference = spread_over(0..self.before, GLANCE_REFERENCE);
        let textures: Vec<Vec<f32>> = reference.par_iter().map(|&t| self.texture_to_keep(t)).collect();
        let template = Template::new(&self.band, mean(&textures), None);
        let mut looked_at = spread_over(0..frames, GLANCES);
        // Hands touch the board when the current is switched on.
        looked_at.extend([self.before.saturating_sub(2), (self.before + 2).min(frames - 1)]);
        let fits: Vec<Fit> = looked_at.par_iter().map(|&t| template.glance(self.texture_to_keep(t))).collect();
        let bin = self.band.bin as f64;
        let mut errors: Vec<f64> = fits.iter().map(|f| bin * shift_error(f)).collect();
        errors.sort_by(f64::total_cmp);
        let error_px = errors[errors.len() / 2];
        let noise = SensorNoise::estimate(self.stack, self.before / 2);
        let variance = (noise.temporal / reference.len() as f64 + noise.fixed) / (bin * bin);
        // What the sensor draws itself stands still and is no texture: it holds the estimates back by its share.
        let sensor_share = template.noise_in_slopes(variance);
        self.sensor_share = sensor_share;
        let error_px = error_px / (1.0 - sensor_share).max(LEAST_TEXTURE);
        // No texture at all gives no slopes, and a share of nothing.
        if error_px > WEAK_PX || sensor_share.is_nan() || sensor_share > 1.0 - LEAST_TEXTURE {
            return Some(MotionOutcome::TooWeak { shift_se_px: error_px });
        }
        let corner = |f: &Fit| f.pose.rotation_deg.to_radians().abs() * template.radius();
        let moved = |f: &Fit| bin * f.pose.x_px.hypot(f.pose.y_px).max(corner(f) / 2.0);
        let limit = STILL_PX.max(MOVED_ERRORS * error_px);
        let largest_px = fits.iter().map(moved).fold(0.0, f64::max);
        (largest_px <= limit).then_some(MotionOutcome::Still { largest_px })
    }

    /// Reference and heat: the mean of aligned frames before injection, twice, then that of late frames less it.
    fn reference(&mut self, timeline: &Timeline) -> (Template, Coarse, f64) {
        let frames = spread_over(0..self.before, REFERENCE_FRAMES);
        let mut textures: Vec<Vec<f32>> = frames.par_iter().map(|&t| self.texture_to_keep(t)).collect();
        let first = textures[textures.len() / 2].clone();
        let mut coarse = Coarse::new(&first, self.band.width);
        let mut template = Template::new(&self.band, first, None);
        let mut poses: Vec<Option<Pose>> = vec![None; textures.len()];
        let mut usual = 1.0;
        let size = (self.band.width, self.band.height);
        let rounds = if self.sensor_share > PATTERN_SHARE { ROUNDS } else { 2 };
        for round in 0..rounds {
            let fits: Vec<Fit> = textures
                .par_iter()
                .zip(&poses)
                .map_init(Scratch::default, |scratch, (texture, pose)| match pose {
                    Some(pose) => near(texture, &template, *pose, scratch),
                    None => place(texture, &template, &coarse, None, 1.0, scratch),
                })
                .collect();
            usual = median(fits.iter().map(|f| f.likeness));
            let good = |i: &usize| fits[*i].likeness >= LOST_SHARE * usual;
            let kept: Vec<usize> = (0..fits.len()).filter(good).collect();
            // The reference moves to the middle of them, where the user marked what is to be seen.
            let rest = middle(kept.iter().map(|&i| fits[i].pose));
            poses = fits.iter().map(|f| Some(f.pose.after(&rest))).collect();
            let good: Vec<Vec<f32>> = kept
                .par_iter()
                .map_init(Scratch::default, |s, &i| resampled(&textures[i], size, &fits[i].pose.after(&rest), s))
                .collect();
            let values = mean(&good);
            if round + 1 < rounds && self.sensor_share > PATTERN_SHARE {
                // What stays on the sensor while the picture moves is the sensor's.
                let left: Vec<Vec<f32>> = kept
                    .par_iter()
                    .map_init(Scratch::default, |s, &i| {
                        let there = Pose::default().after(&fits[i].pose.after(&rest));
                        let mut left = resampled(&values, size, &there, s);
                        left.iter_mut().zip(&textures[i]).for_each(|(l, v)| *l = v - *l);
                        left
                    })
                    .collect();
                let more = mean(&left);
                textures.par_iter_mut().for_each(|t| take_off(t, &more));
                match &mut self.pattern {
                    Some(pattern) => pattern.iter_mut().zip(&more).for_each(|(p, m)| *p += m),
                    None => self.pattern = Some(more),
                }
            }
            template = Template::new(&self.band, values, None);
        }
        coarse = Coarse::new(template.values(), self.band.width);
        let last = timeline.injecting.iter().rposition(|&on| on);
        if let Some(last) = last {
            let from = self.before + (last + 1 - self.before) / 2;
            let late: Vec<usize> =
                (from..=last.min(self.stack.shape().frames - 1)).filter(|&t| timeline.injecting[t]).collect();
            let late: Vec<usize> = spread_over(0..late.len(), HEAT_FRAMES).into_iter().map(|i| late[i]).collect();
            if !late.is_empty() {
                let fits: Vec<Fit> = late
                    .par_iter()
                    .map_init(Scratch::default, |s, &t| {
                        place(&self.texture_to_keep(t), &template, &coarse, Some(Pose::default()), usual, s)
                    })
                    .collect();
                let resampled: Vec<&[f32]> = fits.iter().map(|f| f.resampled.as_slice()).collect();
                let mut heat = mean(&resampled);
                heat.iter_mut().zip(template.values()).for_each(|(h, v)| *h -= v);
                template = Template::new(&self.band, template.values().to_vec(), Some(&heat));
            }
        }
        (template, coarse, usual)
    }

    fn all(&self, template: &Template, coarse: &Coarse, usual: f64) -> Vec<Placed> {
        let frames: Vec<usize> = (0..self.stack.shape().frames).collect();
        frames
            .par_chunks(FOLLOWED)
            .flat_map_iter(|some| {
                let mut scratch = Scratch::default();
                // The first is looked for where the picture stands on average.
                let mut last = Some(Pose::default());
                let follow = |&frame: &usize| {
                    let mut fit = place(&self.texture(frame), template, coarse, last, usual, &mut scratch);
                    fit.resampled = Vec::new();
                    last = Some(fit.pose);
                    Placed { fit, frame }
                };
                some.iter().map(follow).collect::<Vec<_>>()
            })
            .collect()
    }

    fn judge(&self, placed: &[Placed], template: &Template, faulty: Vec<usize>) -> MotionOutcome {
        let bin = self.band.bin as f64;
        let usual = median(placed[..self.before].iter().map(|p| p.fit.likeness));
        let mut lost: Vec<usize> =
            placed.iter().filter(|p| p.fit.likeness < LOST_SHARE * usual).map(|p| p.frame).collect();
        let matched = |lost: &[usize]| -> Vec<&Placed> { placed.iter().filter(|p| !lost.contains(&p.frame)).collect() };
        let error_px = bin * median(placed.iter().map(|p| shift_error(&p.fit)));
        if error_px > WEAK_PX {
            return MotionOutcome::TooWeak { shift_se_px: error_px };
        }
        let turned_px = |p: &Placed| p.fit.pose.rotation_deg.to_radians() * template.radius();
        let turn_error = median(placed.iter().map(|p| p.fit.covariance[2][2].sqrt()));
        let squares: Vec<f64> = matched(&lost).iter().map(|p| turned_px(p).powi(2)).collect();
        let turn_rms = (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt();
        // More than the estimates' own scatter: over all frames, because a picture that turns does so smoothly.
        let excess = turn_rms * turn_rms - turn_error * turn_error;
        let chance = turn_error * turn_error * (2.0 / squares.len().max(1) as f64).sqrt();
        let turns = excess > (TURNED_PX / bin).powi(2).max(TURNED_ERRORS * chance);

        let mut poses: Vec<Pose> = Vec::with_capacity(placed.len());
        let mut errors: Vec<[f64; 3]> = Vec::with_capacity(placed.len());
        for p in placed {
            let c = &p.fit.covariance;
            if turns {
                poses.push(p.fit.pose);
                errors.push([c[0][0].sqrt(), c[1][1].sqrt(), (c[2][2].sqrt() / template.radius()).to_degrees()]);
            } else {
                let (pose, error) = without_rotation(&p.fit, template.radius());
                poses.push(pose);
                errors.push([error[0], error[1], 0.0]);
            }
        }
        for (pose, error) in poses.iter_mut().zip(&mut errors) {
            *pose = self.in_recording(pose);
            error[0] *= bin;
            error[1] *= bin;
        }
        let rest = middle((0..self.before).filter(|t| !lost.contains(t)).map(|t| poses[t]));
        poses.iter_mut().for_each(|p| *p = p.after(&rest));

        let beyond =
            |p: &Pose| p.x_px.hypot(p.y_px) > SLACK * MOST_SHIFT_PX || p.rotation_deg.abs() > SLACK * MOST_ROTATION_DEG;
        let far: Vec<usize> = (0..poses.len()).filter(|t| !lost.contains(t) && beyond(&poses[*t])).collect();
        let allowed = (MOST_LOST * poses.len() as f64) as usize;
        if far.len() + lost.len() > allowed {
            let known = || (0..poses.len()).filter(|t| !lost.contains(t)).map(|t| &poses[t]);
            return MotionOutcome::TooMuch {
                shift_px: known().map(|p| p.x_px.hypot(p.y_px)).fold(0.0, f64::max),
                rotation_deg: known().map(|p| p.rotation_deg.abs()).fold(0.0, f64::max),
                lost: lost.len(),
            };
        }
        let largest_px = poses.iter().map(|p| p.x_px.hypot(p.y_px)).fold(0.0, f64::max);
        if !turns && lost.is_empty() && largest_px <= STILL_PX {
            // The glance was mistaken, by heat or by noise.
            return MotionOutcome::Still { largest_px };
        }
        lost.extend(far);
        lost.sort_unstable();
        let mut motion = smoothed(&poses, &errors, lost, faulty);
        for (error, pose) in motion.shift_se_px.iter_mut().zip(&motion.poses) {
            let held_px = HELD_SHARE * self.sensor_share * pose.x_px.hypot(pose.y_px).min(HELD_PX);
            *error = error.map(|e| e.hypot(held_px));
        }
        MotionOutcome::Repaired(motion)
    }

    /// From texture pixels to pixels of the recording. Columns and rows that do not fill a bin move the middle.
    fn in_recording(&self, pose: &Pose) -> Pose {
        let (shape, bin) = (self.stack.shape(), self.band.bin);
        let off_x = (bin * self.band.width) as f64 / 2.0 - shape.width_px as f64 / 2.0;
        let off_y = (bin * self.band.height) as f64 / 2.0 - shape.height_px as f64 / 2.0;
        let (sin, cos) = pose.rotation_deg.to_radians().sin_cos();
        Pose {
            x_px: bin as f64 * pose.x_px + off_x - (cos * off_x - sin * off_y),
            y_px: bin as f64 * pose.y_px + off_y - (sin * off_x + cos * off_y),
            rotation_deg: pose.rotation_deg,
        }
    }
}

fn smoothed(poses: &[Pose], errors: &[[f64; 3]], lost: Vec<usize>, faulty: Vec<usize>) -> Motion {
    let course = |of: &dyn Fn(&Pose) -> f64, axis: usize| {
        let known: Vec<Option<f64>> =
            poses.iter().enumerate().map(|(t, p)| (!lost.contains(&t)).then(|| of(p))).collect();
        let errors: Vec<f64> = errors.iter().map(|e| e[axis]).collect();
        smooth(&known, &errors)
    };
    let (x, x_se) = course(&|p| p.x_px, 0);
    let (y, y_se) = course(&|p| p.y_px, 1);
    let (turn, turn_se) = if errors.iter().all(|e| e[2] == 0.0) {
        (vec![0.0; poses.len()], vec![0.0; poses.len()])
    } else {
        course(&|p| p.rotation_deg, 2)
    };
    Motion {
        poses: (0..poses.len()).map(|t| Pose { x_px: x[t], y_px: y[t], rotation_deg: turn[t] }).collect(),
        shift_se_px: x_se.into_iter().zip(y_se).map(|(x, y)| [x, y]).collect(),
        rotation_se_deg: turn_se,
        lost,
        faulty,
    }
}

/// The place next to where the frame before stood; or else the best of those that the correlation offers.
fn place(
    texture: &[f32],
    template: &Template,
    coarse: &Coarse,
    last: Option<Pose>,
    usual: f64,
    scratch: &mut Scratch,
) -> Fit {
    let mut best = last.and_then(|last| template.fit(texture, last, NEAR_SHARE * usual, scratch));
    if best.as_ref().is_some_and(|fit| fit.likeness >= RIGHT_SHARE * usual) {
        return best.unwrap_or_else(|| near(texture, template, Pose::default(), scratch));
    }
    for start in coarse.search(texture) {
        let fit = near(texture, template, start, scratch);
        if best.as_ref().is_none_or(|b| fit.likeness > b.likeness) {
            best = Some(fit);
        }
    }
    best.unwrap_or_else(|| near(texture, template, Pose::default(), scratch))
}

fn near(texture: &[f32], template: &Template, start: Pose, scratch: &mut Scratch) -> Fit {
    template
        .fit(texture, start, f64::NEG_INFINITY, scratch)
        .unwrap_or_else(|| unreachable!("no likeness lies below minus infinity"))
}

fn shift_error(fit: &Fit) -> f64 {
    fit.covariance[0][0].max(fit.covariance[1][1]).sqrt()
}

/// The mean pose.
fn middle(poses: impl Iterator<Item = Pose> + Clone) -> Pose {
    let n = poses.clone().count().max(1) as f64;
    let mean = |of: &dyn Fn(Pose) -> f64| poses.clone().map(of).sum::<f64>() / n;
    Pose { x_px: mean(&|p| p.x_px), y_px: mean(&|p| p.y_px), rotation_deg: mean(&|p| p.rotation_deg) }
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn take_off(values: &mut [f32], other: &[f32]) {
    values.iter_mut().zip(other).for_each(|(v, o)| *v -= o);
}

fn mean<T: AsRef<[f32]>>(planes: &[T]) -> Vec<f32> {
    let mut sum = vec![0.0_f32; planes.first().map_or(0, |p| p.as_ref().len())];
    for plane in planes {
        sum.iter_mut().zip(plane.as_ref()).for_each(|(s, v)| *s += v);
    }
    let share = 1.0 / planes.len().max(1) as f32;
    sum.iter_mut().for_each(|s| *s *= share);
    sum
}

/// Up to `count` members of a range, evenly spread, ends included.
fn spread_over(range: std::ops::Range<usize>, count: usize) -> Vec<usize> {
    let n = range.len();
    if n <= count {
        return range.collect();
    }
    (0..count).map(|i| range.start + i * (n - 1) / (count - 1).max(1)).collect()
}
