//! Did camera or board move from one take to the next? When they did not, an alignment is taken over.

use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack, Timeline};
use ndarray::{Array3, ArrayView2};

use crate::repair::motion::{self, MotionOutcome};

/// Below this, at the corner that moved most, an alignment is taken over: half the error of a click.
pub const STILL_PX: f64 = 0.35;

/// Copies of the earlier picture that the later one is compared with; the search asks for several frames.
const COPIES: usize = 10;

/// What became of the camera between two takes.
#[derive(Clone, Debug, PartialEq)]
pub enum CameraMove {
    /// It stands where it stood, to within so many pixels.
    Still {
        /// Largest movement of a corner.
        px: f64,
    },
    /// It moved.
    Moved {
        /// Shift to the right, pixels.
        x_px: f64,
        /// Shift down, pixels.
        y_px: f64,
        /// Turn, clockwise to the eye, degrees.
        rotation_deg: f64,
        /// Largest movement of a corner, pixels.
        px: f64,
    },
    /// It moved further than can be measured, or the pictures show different things.
    MovedFar,
    /// The pictures tell too little, or differ in size.
    Unknown,
}

impl CameraMove {
    /// Whether an alignment holds for the later take too.
    pub fn takes_over(&self) -> bool {
        matches!(self, Self::Still { .. })
    }

    /// In words, for the user.
    pub fn words(&self) -> String {
        match self {
            Self::Still { px } => format!("the camera did not move (within {:.1} px)", px.max(0.1)),
            Self::Moved { x_px, y_px, rotation_deg, px } => format!(
                "the camera moved by {px:.1} px (right {x_px:.1}, down {y_px:.1}, turned {rotation_deg:.2}°): line up again"
            ),
            Self::MovedFar => "the camera moved too far to measure: line up again".into(),
            Self::Unknown => "the pictures do not tell whether the camera moved: line up again".into(),
        }
    }
}

/// Compares the pictures before injection of two takes (`[row, column]`, kelvin, counts or grey).
pub fn camera_move(earlier: ArrayView2<'_, f32>, later: ArrayView2<'_, f32>) -> CameraMove {
    let (rows, columns) = earlier.dim();
    // The search needs some texture to either side.
    if earlier.dim() != later.dim() || rows.min(columns) < 24 {
        return CameraMove::Unknown;
    }
    let mut frames = Array3::<f32>::zeros((COPIES + 1, rows, columns));
    for (t, mut frame) in frames.outer_iter_mut().enumerate() {
        frame.assign(if t < COPIES { &earlier } else { &later });
    }
    let mut timeline = Timeline::steady(COPIES + 1, 1.0);
    timeline.inject_from(COPIES);
    let stack = Stack::new(Samples::F32(frames), CountsLaw::IDENTITY);
    match motion::find(&stack, &timeline, &NoProgress) {
        Ok(MotionOutcome::Still { largest_px }) => CameraMove::Still { px: largest_px },
        Ok(MotionOutcome::Repaired(motion)) => {
            if motion.lost.contains(&COPIES) {
                return CameraMove::MovedFar;
            }
            let Some(pose) = motion.poses.get(COPIES) else { return CameraMove::Unknown };
            // The first copies say where zero is.
            let zero = motion.poses[0];
            let (x_px, y_px) = (pose.x_px - zero.x_px, pose.y_px - zero.y_px);
            let rotation_deg = pose.rotation_deg - zero.rotation_deg;
            let corner = 0.5 * (rows as f64).hypot(columns as f64);
            let px = x_px.hypot(y_px) + rotation_deg.to_radians().abs() * corner;
            if px < STILL_PX { CameraMove::Still { px } } else { CameraMove::Moved { x_px, y_px, rotation_deg, px } }
        }
        Ok(MotionOutcome::TooMuch { .. }) => CameraMove::MovedFar,
        Ok(MotionOutcome::TooWeak { .. }) | Err(_) => CameraMove::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use ndarray::Array2;
    use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    /// Blobs of a few pixels at random places of the plane, looked at from a place and a turn, with noise of its own.
    fn seen(x_px: f64, y_px: f64, rotation_deg: f64, noise_seed: u64) -> Array2<f32> {
        let mut random = ChaCha8Rng::seed_from_u64(2);
        let blobs: Vec<[f64; 4]> = (0..160)
            .map(|_| {
                let sign = if random.random_bool(0.5) { 1.0 } else { -1.0 };
                [
                    random.random_range(-90.0..90.0),
                    random.random_range(-70.0..70.0),
                    random.random_range(1.5..3.0),
                    sign,
                ]
            })
            .collect();
        let mut noise = ChaCha8Rng::seed_from_u64(noise_seed);
        let (sin, cos) = rotation_deg.to_radians().sin_cos();
        Array2::from_shape_fn((120, 160), |(row, column)| {
            let (u, v) = (column as f64 - 79.5 - x_px, row as f64 - 59.5 - y_px);
            let (x, y) = (cos * u + sin * v, -sin * u + cos * v);
            let value: f64 = blobs
                .iter()
                .map(|b| b[3] * (-0.5 * ((x - b[0]).powi(2) + (y - b[1]).powi(2)) / b[2].powi(2)).exp())
                .sum();
            let error: f64 = StandardNormal.sample(&mut noise);
            (295.0 + value + 0.02 * error) as f32
        })
    }

    #[test]
    fn a_still_camera_takes_the_alignment_over() {
        let answer = camera_move(seen(0.0, 0.0, 0.0, 1).view(), seen(0.0, 0.0, 0.0, 2).view());
        assert!(answer.takes_over(), "{answer:?}");
        assert!(answer.words().starts_with("the camera did not move"));
        // The same board, warmer by two kelvin.
        let warmer = seen(0.0, 0.0, 0.0, 3).mapv(|v| v + 2.0);
        assert!(camera_move(seen(0.0, 0.0, 0.0, 1).view(), warmer.view()).takes_over());
    }

    #[test]
    fn a_moved_camera_is_said_with_its_shift() {
        for (x, y, turn) in [(3.4, -2.0, 0.0), (-6.0, 1.5, 0.6), (0.9, 0.0, 0.0)] {
            let answer = camera_move(seen(0.0, 0.0, 0.0, 1).view(), seen(x, y, turn, 2).view());
            let CameraMove::Moved { x_px, y_px, rotation_deg, .. } = answer else { panic!("{x} {y}: {answer:?}") };
            // Noise of 0.02 on blobs of 1 leaves a few hundredths of a pixel.
            assert!(
                (x_px - x).abs() < 0.1 && (y_px - y).abs() < 0.1 && (rotation_deg - turn).abs() < 0.05,
                "{answer:?}"
            );
        }
        let far = camera_move(seen(0.0, 0.0, 0.0, 1).view(), seen(40.0, 25.0, 20.0, 2).view());
        assert!(!far.takes_over(), "{far:?}");
    }

    #[test]
    fn pictures_that_tell_nothing_are_said() {
        let flat = Array2::from_elem((120, 160), 295.0_f32);
        assert!(!camera_move(flat.view(), seen(0.0, 0.0, 0.0, 1).view()).takes_over());
        assert_eq!(camera_move(flat.view(), Array2::zeros((100, 160)).view()), CameraMove::Unknown);
        assert_eq!(camera_move(Array2::zeros((3, 3)).view(), Array2::zeros((3, 3)).view()), CameraMove::Unknown);
    }
}
