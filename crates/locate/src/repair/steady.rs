//! Frames as they would be had nothing moved: a view that resamples while it is read, so that no second stack is kept.

use std::{cell::RefCell, ops::Range};

use joulemark_frames::{Stack, StackShape};

use super::{
    Frames, Motion, Pose,
    pixels::Mend,
    resample::{Move, Scratch},
};

thread_local! {
    static SCRATCH: RefCell<Scratch> = RefCell::default();
}

/// Rows that are best read together: resampling them takes five more than they are, and what is made of them is to stay in the cache.
const ROWS_AT_ONCE: usize = 4;

/// A view of a stack with its movement undone: every pixel looks at the same place of the board in every frame.
///
/// Values between pixels come from six-tap interpolation; beyond the border the border's value is repeated. Faulty
/// pixels are replaced by their neighbours before anything is moved.
#[derive(Debug)]
pub struct Steady<'a> {
    stack: &'a Stack,
    moves: Vec<Move>,
    mend: Mend,
    poses: Vec<Pose>,
}

impl<'a> Steady<'a> {
    /// Undoes `motion` on `stack`.
    ///
    /// # Panics
    /// When the motion has another number of frames than the stack.
    pub fn new(stack: &'a Stack, motion: &Motion) -> Self {
        let shape = stack.shape();
        assert_eq!(motion.poses.len(), shape.frames, "one pose per frame");
        let moves = motion.poses.iter().map(|p| Move::new(p, shape.width_px, shape.height_px)).collect();
        let mend = Mend::new(&motion.faulty, shape.width_px, shape.height_px);
        Self { stack, moves, mend, poses: motion.poses.clone() }
    }

    /// Poses that together see no more than all of them: those turned, and the ends of the range of the others.
    fn outermost(&self, left_out: &[usize]) -> Vec<Pose> {
        let poses = self.poses.iter().enumerate().filter(|(t, _)| !left_out.contains(t)).map(|(_, pose)| *pose);
        let (mut turned, straight): (Vec<Pose>, Vec<Pose>) = poses.partition(|p| p.rotation_deg != 0.0);
        let shift_x = |a: &&Pose, b: &&Pose| a.x_px.total_cmp(&b.x_px);
        let shift_y = |a: &&Pose, b: &&Pose| a.y_px.total_cmp(&b.y_px);
        let ends = [
            straight.iter().min_by(shift_x),
            straight.iter().max_by(shift_x),
            straight.iter().min_by(shift_y),
            straight.iter().max_by(shift_y),
        ];
        turned.extend(ends.into_iter().flatten().copied());
        turned
    }

    /// Pixels that lie inside the picture in every frame but the `left_out` ones, row-major.
    pub fn always_seen(&self, left_out: &[usize]) -> Vec<bool> {
        let shape = self.stack.shape();
        let (width, height) = (shape.width_px as f64, shape.height_px as f64);
        let (cx, cy) = ((width - 1.0) / 2.0, (height - 1.0) / 2.0);
        let mut seen = vec![true; shape.pixels()];
        for pose in self.outermost(left_out) {
            // Only pixels near the border can fall outside.
            let turned = pose.rotation_deg.to_radians().abs();
            let reach_x = (pose.x_px.abs() + turned * cy).ceil() as usize + 1;
            let reach_y = (pose.y_px.abs() + turned * cx).ceil() as usize + 1;
            let (sin, cos) = pose.rotation_deg.to_radians().sin_cos();
            let mut check = |x: usize, y: usize| {
                let (u, v) = (x as f64 - cx, y as f64 - cy);
                let at = (cx + pose.x_px + cos * u - sin * v, cy + pose.y_px + sin * u + cos * v);
                let inside = (-0.01..=width - 0.99).contains(&at.0) && (-0.01..=height - 0.99).contains(&at.1);
                seen[y * shape.width_px + x] &= inside;
            };
            for y in 0..shape.height_px {
                if y < reach_y || y + reach_y >= shape.height_px {
                    (0..shape.width_px).for_each(|x| check(x, y));
                } else {
                    (0..reach_x.min(shape.width_px)).for_each(|x| check(x, y));
                    (shape.width_px.saturating_sub(reach_x)..shape.width_px).for_each(|x| check(x, y));
                }
            }
        }
        seen
    }
}

impl Frames for Steady<'_> {
    fn shape(&self) -> StackShape {
        self.stack.shape()
    }

    fn rows_at_once(&self) -> usize {
        ROWS_AT_ONCE
    }

    fn copy_run(&self, frame: usize, run: Range<usize>, out: &mut [f32]) {
        assert_eq!(run.len(), out.len(), "the output must be as long as the run");
        assert!(run.end <= self.shape().pixels(), "the run must lie inside the frame");
        let read = |run: Range<usize>, out: &mut [f32]| {
            self.stack.copy_run(frame, run.clone(), out);
            self.mend.apply(self.stack, frame, run, out);
        };
        if matches!(self.moves[frame], Move::None) {
            read(run, out);
            return;
        }
        let width = self.shape().width_px;
        let size = (width, self.shape().height_px);
        let mut done = 0;
        // The rest of a row, whole rows, the start of a row.
        while done < out.len() {
            let at = run.start + done;
            let (row, column) = (at / width, at % width);
            let left = out.len() - done;
            let (rows, columns) = if column == 0 && left >= width {
                (row..row + left / width, 0..width)
            } else {
                (row..row + 1, column..width.min(column + left))
            };
            let pixels = rows.len() * columns.len();
            let out = &mut out[done..done + pixels];
            SCRATCH.with_borrow_mut(|s| self.moves[frame].rectangle(size, rows, columns, s, out, &read));
            done += pixels;
        }
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, Samples};
    use ndarray::Array3;

    use super::*;
    use crate::repair::film::Shot;

    fn motion(poses: Vec<Pose>, faulty: Vec<usize>) -> Motion {
        let frames = poses.len();
        Motion {
            poses,
            shift_se_px: vec![[0.01; 2]; frames],
            rotation_se_deg: vec![0.0; frames],
            lost: Vec::new(),
            faulty,
        }
    }

    fn whole(frames: &impl Frames, frame: usize) -> Vec<f32> {
        let pixels = frames.shape().pixels();
        let mut out = vec![0.0; pixels];
        frames.copy_run(frame, 0..pixels, &mut out);
        out
    }

    #[test]
    fn whole_pixels_are_copied_and_the_border_repeats() {
        let samples = Array3::from_shape_fn((1, 20, 30), |(_, y, x)| (100 * y + x) as f32);
        let stack = Stack::new(Samples::F32(samples), CountsLaw::IDENTITY);
        let pose = Pose { x_px: 3.0, y_px: -2.0, rotation_deg: 0.0 };
        let steady = Steady::new(&stack, &motion(vec![pose], Vec::new()));
        let out = whole(&steady, 0);
        for y in 0..20_usize {
            for x in 0..30_usize {
                let expected = (100 * y.saturating_sub(2) + (x + 3).min(29)) as f32;
                assert_eq!(out[y * 30 + x], expected, "{x} {y}");
            }
        }
        let seen = steady.always_seen(&[]);
        assert!(seen[2 * 30] && seen[2 * 30 + 26] && !seen[2 * 30 + 27] && !seen[30] && seen[19 * 30]);
    }

    /// Against the texture drawn where it should be, at places inside the picture.
    #[test]
    fn moved_frames_come_back() {
        let poses = vec![
            Pose::default(),
            Pose { x_px: 0.5, y_px: -0.5, rotation_deg: 0.0 },
            Pose { x_px: -7.3, y_px: 4.6, rotation_deg: 0.0 },
            Pose { x_px: 2.2, y_px: -3.1, rotation_deg: 0.3 },
            Pose { x_px: -5.5, y_px: 6.5, rotation_deg: -2.0 },
        ];
        let shot = Shot {
            width: 200,
            height: 150,
            frames: poses.len(),
            before: 1,
            contrast_k: 0.5,
            noise_k: 0.0,
            fixed_k: 0.0,
            dead: 0,
            ..Shot::default()
        };
        let (stack, _) = shot.film(3, &poses);
        let steady = Steady::new(&stack, &motion(poses.clone(), Vec::new()));
        let still = whole(&stack, 0);
        let mean = still.iter().sum::<f32>() / still.len() as f32;
        let spread = (still.iter().map(|v| (v - mean).powi(2)).sum::<f32>() / still.len() as f32).sqrt();
        for (t, pose) in poses.iter().enumerate().skip(1) {
            let back = whole(&steady, t);
            let inside = (20..130).flat_map(|y| (20..180).map(move |x| y * 200 + x));
            let squares: Vec<f32> = inside.map(|p| (back[p] - still[p]).powi(2)).collect();
            let rms = (squares.iter().sum::<f32>() / squares.len() as f32).sqrt();
            println!("{pose:?}: rms {rms:.4} K on a texture of {spread:.3} K");
            // Blurred by 0.9 px: 2 % by the kernel's own error; counts are 10 mK apart.
            assert!(rms < 0.02 * spread + 0.006, "{pose:?}: {rms}");
        }
    }

    #[test]
    fn any_run_gives_the_same_values() {
        let poses = vec![
            Pose::default(),
            Pose { x_px: 1.4, y_px: -2.6, rotation_deg: 0.0 },
            Pose { x_px: 1.4, y_px: -2.6, rotation_deg: 1.1 },
            Pose { x_px: 60.0, y_px: -70.0, rotation_deg: 0.0 },
        ];
        let shot = Shot { width: 50, height: 40, frames: 4, before: 1, ..Shot::default() };
        let (stack, _) = shot.film(4, &poses);
        let steady = Steady::new(&stack, &motion(poses, vec![0, 333, 334, 1999]));
        for t in 0..4 {
            let all = whole(&steady, t);
            for run in [0..1, 3..47, 49..51, 40..290, 333..335, 1950..2000] {
                let mut out = vec![0.0; run.len()];
                steady.copy_run(t, run.clone(), &mut out);
                for (value, expected) in out.iter().zip(&all[run.clone()]) {
                    // Columns that share weights start elsewhere: 0.004 px on slopes up to 1 K/px.
                    assert!((value - expected).abs() < 4e-3, "frame {t}, {run:?}: {value} {expected}");
                }
            }
        }
    }

    #[test]
    fn faulty_pixels_do_not_spread() {
        let mut samples = Array3::from_elem((2, 20, 20), 5.0_f32);
        samples[[0, 9, 9]] = 1000.0;
        samples[[1, 9, 9]] = 1000.0;
        let stack = Stack::new(Samples::F32(samples), CountsLaw::IDENTITY);
        let poses = vec![Pose::default(), Pose { x_px: 0.4, y_px: 0.3, rotation_deg: 0.0 }];
        let steady = Steady::new(&stack, &motion(poses, vec![9 * 20 + 9]));
        for t in 0..2 {
            assert!(whole(&steady, t).iter().all(|v| (v - 5.0).abs() < 1e-5));
        }
    }
}
