//! What the supply says of both takes, and how the after-take's heat is brought to the power before.

use super::{Bench, Side};

/// A supply shows milliamps unless something else is known.
const USUAL_RESOLUTION_AMPS: f64 = 1e-3;
/// Takes are scaled to the same power where both currents exceed this many last digits.
const DIGITS: f64 = 10.0;
/// A repaired rail draws less than this share of what it drew.
pub(super) const NO_CURRENT_SHARE: f64 = 0.05;
/// Ceilings further apart than this share were not filmed at the same ceiling.
const SAME_VOLTS_SHARE: f64 = 0.15;

/// How the after-take's rise was brought to the power before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scaling {
    /// By this factor, power before over power after.
    ToPower(f64),
    /// Not at all: it draws next to nothing.
    NoCurrent,
    /// Not at all: a current is not logged, or too small for the display.
    Unknown,
}

impl Scaling {
    /// What the after-take's rise is multiplied by.
    pub fn factor(self) -> f64 {
        match self {
            Self::ToPower(factor) => factor,
            Self::NoCurrent | Self::Unknown => 1.0,
        }
    }
}

/// The supply's readings, means over the injected frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Electrical {
    /// Amps before and after.
    pub amps: (Option<f64>, Option<f64>),
    /// Volts before and after.
    pub volts: (Option<f64>, Option<f64>),
    /// Current after over current before, brought to the same volts where both are logged.
    pub ratio: Option<f64>,
    /// How heat was scaled.
    pub scaling: Scaling,
}

fn mean(side: &Side<'_>, values: &[Option<f64>]) -> Option<f64> {
    let t = side.timeline;
    let on: Vec<f64> = (0..t.len()).filter(|&i| t.injecting[i]).filter_map(|i| values[i]).collect();
    (!on.is_empty()).then(|| on.iter().sum::<f64>().abs() / on.len() as f64)
}

/// Watts at the board; without the leads' resistance those at the supply.
fn watts(side: &Side<'_>) -> Option<f64> {
    side.located.electrical_watts.or_else(|| side.timeline.mean_watts().map(f64::abs)).filter(|w| *w > 0.0)
}

impl Electrical {
    pub(super) fn of(before: &Side<'_>, after: &Side<'_>, bench: &Bench, notes: &mut Vec<String>) -> Self {
        let amps = [before, after].map(|s| s.timeline.mean_amps().map(f64::abs));
        let digit = bench.amps_resolution.unwrap_or(USUAL_RESOLUTION_AMPS);
        let volts = [before, after].map(|s| mean(s, &s.timeline.volts));
        if let [Some(b), Some(a)] = [before, after].map(|s| mean(s, &s.timeline.set_volts))
            && (a / b).ln().abs() > (1.0 + SAME_VOLTS_SHARE).ln()
        {
            notes.push(format!(
                "the volts were set to {b:.2} V before and {a:.2} V after: film at the same ceiling to be sure"
            ));
        }
        // In constant current the volts follow the short, and the quotient is what counts.
        let same_volts = match volts {
            [Some(b), Some(a)] if b > 0.0 && a > 0.0 => b / a,
            _ => 1.0,
        };
        let ratio = match amps {
            // A current below the last digit is no more than that digit.
            [Some(b), Some(a)] if b > digit => Some(a.max(0.5 * digit) / b * same_volts),
            _ => None,
        };
        let scaling = match (ratio, amps, watts(before), watts(after)) {
            (Some(ratio), ..) if ratio < NO_CURRENT_SHARE => Scaling::NoCurrent,
            (Some(_), [Some(b), Some(a)], Some(wb), Some(wa)) if b.min(a) > DIGITS * digit => Scaling::ToPower(wb / wa),
            _ => Scaling::Unknown,
        };
        if scaling == Scaling::Unknown {
            notes.push("the log does not tell both powers: rises are compared as filmed".into());
        }
        Self { amps: (amps[0], amps[1]), volts: (volts[0], volts[1]), ratio, scaling }
    }
}
