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

    /// Pixels that lie inside the picture in every frame but the `left_out` ones, row-major.
    pub fn always_seen(&self, left_out: &[usize]) -> Vec<bool> {
        let shape = self.stack.shape();
        let (width, height) = (shape.width_px as f64, shape.height_px as f64);
        let (cx, cy) = ((width - 1.0) / 2.0, (height - 1.0) / 2.0);
        let mut seen = vec![true; shape.pixels()];
        for (_, pose) in self.poses.iter().enumerate().filter(|(t, _)| !left_out.contains(t)) {
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
