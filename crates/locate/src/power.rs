//! Power at the board: what the supply says, leads taken off, and what rise it can make at most.

use joulemark_frames::Take;

use crate::Scene;

/// No part on a board warms by more than this per watt within a minute. A point on bare 1.6 mm laminate reaches 220 K/W at 1 mm
/// (thin plate with loss, Carslaw & Jaeger ch. 10: 22.03 K for 0.1 W), and the smallest packages add some 40 K/W
/// (common practice, no published source); this is twice their sum.
pub(crate) const MOST_K_PER_W: f64 = 500.0;
/// Below this nobody injected anything; bench supplies read a few milliamps with nothing attached.
const LEAST_AMPS: f64 = 0.5e-3;

/// What is known of the power at the board while injecting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Power {
    /// Watts, leads taken off.
    Known(f64),
    /// Watts at the supply; the leads take an unknown share.
    AtMost(f64),
    /// The log says nothing.
    Unknown,
}

impl Power {
    /// `V I - I^2 R_lead`, mean over the injected frames. Without the leads' resistance there is a bound and no number.
    pub(crate) fn read(take: &Take, scene: &Scene<'_>, warnings: &mut Vec<String>) -> Self {
        let (Some(watts), Some(amps)) = (take.timeline.mean_watts(), take.timeline.mean_amps()) else {
            return Self::Unknown;
        };
        let watts = watts.abs();
        let Some(lead_ohms) = scene.lead_ohms else {
            warnings.push(format!(
                "lead resistance unknown: at most {watts:.2} W reach the board; measure the leads shorted and give their ohms"
            ));
            return Self::AtMost(watts);
        };
        let at_board = watts - amps * amps * lead_ohms;
        if at_board < 0.0 {
            warnings.push(format!(
                "the leads alone would take {:.2} W of {watts:.2} W: their {lead_ohms} ohm cannot be right; measure them again",
                amps * amps * lead_ohms
            ));
            return Self::AtMost(watts);
        }
        Self::Known(at_board)
    }

    /// Watts where known.
    pub(crate) fn known(self) -> Option<f64> {
        match self {
            Self::Known(watts) => Some(watts),
            Self::AtMost(_) | Self::Unknown => None,
        }
    }

    /// The largest rise that it can make, in kelvin.
    pub(crate) fn most_rise_k(self) -> f64 {
        match self {
            Self::Known(watts) | Self::AtMost(watts) => watts * MOST_K_PER_W,
            Self::Unknown => f64::INFINITY,
        }
    }
}

/// Whether the log says that current flows; where it says nothing, it does.
pub(crate) fn current_flows(take: &Take) -> bool {
    take.timeline.mean_amps().is_none_or(|amps| amps.abs() >= LEAST_AMPS)
}
