//! Is the picture moving, and by how much: shift and rotation of every frame against the frames before injection.
//!
//! The texture that emissivity draws (band-passed, so that spread heat and noise count little) is correlated with that of
//! the frames before injection, first over the whole range in the Fourier domain and at several rotations, then by least
//! squares between pixels with the injection's own heat masked and fitted beside the movement.

mod band;
mod coarse;
mod correlate;
mod find;
mod sensor;
mod smooth;
mod template;
#[cfg(test)]
mod tests;

pub use correlate::periodic_shift;
pub use find::find;

use crate::Repaired;

/// Largest shift that is repaired.
pub const MOST_SHIFT_PX: f64 = 10.0;
/// Largest rotation that is repaired.
pub const MOST_ROTATION_DEG: f64 = 2.0;

/// Where a frame stands: a pixel that was at `p` in the reference is at `c + R (p - c) + (x_px, y_px)`, with `c` the
/// middle of the picture and `R` the rotation from x towards y.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    /// To the right, pixels.
    pub x_px: f64,
    /// Down, pixels.
    pub y_px: f64,
    /// From x towards y (clockwise to the eye), degrees.
    pub rotation_deg: f64,
}

impl Pose {
    /// The pose that leads from a frame at `other` to one at `self`.
    fn after(&self, other: &Self) -> Self {
        let rotation_deg = self.rotation_deg - other.rotation_deg;
        let (sin, cos) = rotation_deg.to_radians().sin_cos();
        Self {
            x_px: self.x_px - (cos * other.x_px - sin * other.y_px),
            y_px: self.y_px - (sin * other.x_px + cos * other.y_px),
            rotation_deg,
        }
    }
}

/// How a recording moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// One per frame, against where the picture stood before injection on average.
    pub poses: Vec<Pose>,
    /// Standard error of the shift along x and along y, one per frame, pixels.
    pub shift_se_px: Vec<[f64; 2]>,
    /// Standard error of the rotation, one per frame, degrees.
    pub rotation_se_deg: Vec<f64>,
    /// Frames that could not be matched (something in front of the picture, a jolt); to be left out.
    pub lost: Vec<usize>,
    /// Pixels that stay on the sensor while the picture moves: mended before frames are resampled.
    pub faulty: Vec<usize>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub enum MotionOutcome {
    /// Nothing moved by more than that many pixels in the frames looked at.
    Still {
        /// Largest shift seen, noise included.
        largest_px: f64,
    },
    /// It moved, and the frames can be laid back.
    Repaired(Motion),
    /// There is too little texture to tell.
    TooWeak {
        /// Standard error of one frame's shift.
        shift_se_px: f64,
    },
    /// It moved further than is repaired, or frames do not match at all.
    TooMuch {
        /// Largest shift, pixels.
        shift_px: f64,
        /// Largest rotation, degrees.
        rotation_deg: f64,
        /// Frames that match nowhere.
        lost: usize,
    },
}

impl Motion {
    /// Largest shift of a matched frame, pixels.
    pub fn largest_shift_px(&self) -> f64 {
        self.matched().map(|p| p.x_px.hypot(p.y_px)).fold(0.0, f64::max)
    }

    /// Largest rotation of a matched frame, degrees.
    pub fn largest_rotation_deg(&self) -> f64 {
        self.matched().map(|p| p.rotation_deg.abs()).fold(0.0, f64::max)
    }

    fn matched(&self) -> impl Iterator<Item = &Pose> {
        self.poses.iter().enumerate().filter(|(t, _)| !self.lost.contains(t)).map(|(_, p)| p)
    }
}

impl MotionOutcome {
    /// What was repaired, for the user.
    pub fn repaired(&self) -> Option<Repaired> {
        let Self::Repaired(motion) = self else { return None };
        let mut errors: Vec<f64> = motion.shift_se_px.iter().map(|e| e[0].max(e[1])).collect();
        errors.sort_by(f64::total_cmp);
        let error_px = errors.get(errors.len() / 2).copied().unwrap_or(0.0).max(0.01);
        let rotation_deg = motion.largest_rotation_deg();
        let turned =
            if rotation_deg > 0.0 { format!(" and turned by up to {rotation_deg:.2}°") } else { String::new() };
        let lost = match motion.lost.len() {
            0 => String::new(),
            1 => "; 1 frame that matched nowhere was left out".into(),
            n => format!("; {n} frames that matched nowhere were left out"),
        };
        let did = format!(
            "the picture moved by up to {:.1} px{turned}; every frame was laid back to within {error_px:.2} px{lost}",
            motion.largest_shift_px()
        );
        Some(Repaired { what: "motion", did })
    }

    /// What the user should do about it, if anything.
    pub fn warning(&self) -> Option<String> {
        match self {
            Self::Still { .. } | Self::Repaired(_) => None,
            Self::TooWeak { .. } => Some(
                "the picture has too little texture to tell whether camera or board moved: keep both on a stand".into(),
            ),
            Self::TooMuch { shift_px, rotation_deg, lost }
                if *shift_px > MOST_SHIFT_PX || *rotation_deg > MOST_ROTATION_DEG =>
            {
                let _ = lost;
                Some(format!(
                    "the picture moved by {shift_px:.0} px and {rotation_deg:.1}°, more than can be repaired \
                     ({MOST_SHIFT_PX:.0} px, {MOST_ROTATION_DEG:.0}°): put camera and board on a stand and film again"
                ))
            }
            Self::TooMuch { lost, .. } => Some(format!(
                "{lost} frames match the others nowhere: put camera and board on a stand, keep hands out of the picture \
                 and film again"
            )),
        }
    }
}
