//! How hard a practice case is.

use rand::{RngExt, rngs::ChaCha8Rng};
use serde::{Deserialize, Serialize};

use super::super::{MovingReflection, Setup, WarmPatch};

/// How hard a practice case is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Difficulty {
    /// Less noise and drift, points marked with care.
    Easy,
    /// As bench recordings are.
    #[default]
    Medium,
    /// Less current, more noise and drift, points marked in haste, a patch that was warm before, somebody who moves.
    Hard,
}

impl Difficulty {
    /// All, easiest first.
    pub const ALL: [Self; 3] = [Self::Easy, Self::Medium, Self::Hard];

    /// Its name, as it is typed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Easy => "easy",
            Self::Medium => "medium",
            Self::Hard => "hard",
        }
    }

    /// The supply's ceiling where `usual` is that of a medium case.
    pub fn amps(self, usual: f64) -> f64 {
        match self {
            Self::Easy | Self::Medium => usual,
            Self::Hard => 0.5 * usual,
        }
    }

    /// The rise that is aimed at where `usual` is that of a medium case.
    pub fn rise_k(self, usual: f64) -> f64 {
        match self {
            Self::Easy => 1.5 * usual,
            Self::Medium => usual,
            Self::Hard => 0.7 * usual,
        }
    }

    /// Changes what surrounds the fault, never the fault.
    pub(super) fn spoil(self, setup: &mut Setup, board_mm: [f64; 2], rng: &mut ChaCha8Rng) {
        match self {
            Self::Easy => {
                setup.sensor.netd_k *= 0.75;
                setup.sensor.drift_k *= 0.3;
                setup.click_sigma_px = 0.15;
            }
            Self::Medium => {}
            Self::Hard => {
                setup.sensor.netd_k *= 1.4;
                setup.sensor.drift_k += 0.1;
                setup.sensor.blotches_k = 0.004;
                setup.click_sigma_px = 0.6;
                let mut place = || [0, 1].map(|axis: usize| rng.random_range(0.15..0.85) * board_mm[axis]);
                let (patch, start, end) = (place(), place(), place());
                let last_s = setup.timeline.time_s.last().copied().unwrap_or(0.0);
                let from_s = rng.random_range(0.3..0.5) * last_s;
                setup.disturbances.warm_patches.push(WarmPatch {
                    centre_mm: patch,
                    sigma_mm: rng.random_range(2.5..4.0),
                    rise_k: rng.random_range(1.0..2.5),
                });
                setup.disturbances.moving_reflections.push(MovingReflection {
                    start_mm: start,
                    end_mm: end,
                    sigma_mm: rng.random_range(8.0..14.0),
                    change_k: rng.random_range(1.0..3.0),
                    from_s,
                    to_s: from_s + rng.random_range(3.0..5.0),
                });
            }
        }
    }
}
