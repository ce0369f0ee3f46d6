//! What the supply says of both takes, and how the after-take's heat is brought to the power before.

use super::{Bench, Side};

/// A supply shows milliamps unless something else is known.
const USUAL_RESOLUTION_AMPS: f64 = 1e-3;
/// Takes are scaled to the same power where both currents exceed this many last digits.
const DIGITS: f64 = 10.0;
/// A repaired rail draws less than this share of what it drew.
pub(super) const NO_CURRENT_SHARE: f64 = 0.05;
/// Volts further apart than this share are not the same.
const SAME_VOLTS_SHARE: f64 = 0.15;

/// Whether two volts are not the same for a comparison.
pub(super) fn differ(one: f64, other: f64) -> bool {
    one.abs().max(other.abs()) > (1.0 + SAME_VOLTS_SHARE) * one.abs().min(other.abs())
}

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
    /// Current after over current before, brought to the same volts (at the board, where the leads are known) where both are logged.
    pub ratio: Option<f64>,
    /// How heat was scaled.
    pub scaling: Scaling,
}

fn mean(side: &Side<'_>, values: &[Option<f64>]) -> Option<f64> {
    let t = side.timeline;
    let on: Vec<f64> = (0..t.len()).filter(|&i| t.injecting[i]).filter_map(|i| values[i]).collect();
    (!on.is_empty()).then(|| on.iter().sum::<f64>().abs() / on.len() as f64)
}

/// Where the leads take more than this share of the volts, what is left for the board is known too badly.
const MOST_LEADS: f64 = 0.8;

/// Volts at the board, the leads' drop taken off; `None` where the leads are not known in both takes, or take almost all.
fn at_board(sides: [&Side<'_>; 2], amps: [Option<f64>; 2], volts: [Option<f64>; 2]) -> Option<[f64; 2]> {
    let of = |i: usize| {
        let (amps, volts, lead_ohms) = (amps[i]?, volts[i]?, sides[i].scene.lead_ohms?);
        let drop = amps * lead_ohms;
        (volts > 0.0 && drop < MOST_LEADS * volts).then_some(volts - drop)
    };
    Some([of(0)?, of(1)?])
}

/// Watts at the board; without the leads' resistance those at the supply.
fn watts(side: &Side<'_>) -> Option<f64> {
    side.located.electrical_watts.or_else(|| side.timeline.mean_watts().map(f64::abs)).filter(|w| *w > 0.0)
}

/// A reading in two takes.
type Both = (Option<f64>, Option<f64>);

impl Electrical {
    /// Mean amps and volts of two takes while injecting.
    pub(super) fn readings(first: &Side<'_>, second: &Side<'_>) -> (Both, Both) {
        let amps = |s: &Side<'_>| s.timeline.mean_amps().map(f64::abs);
        let volts = |s: &Side<'_>| mean(s, &s.timeline.volts);
        ((amps(first), amps(second)), (volts(first), volts(second)))
    }

    pub(super) fn of(before: &Side<'_>, after: &Side<'_>, bench: &Bench, notes: &mut Vec<String>) -> Self {
        let (amps, volts) = Self::readings(before, after);
        let (amps, volts) = ([amps.0, amps.1], [volts.0, volts.1]);
        let digit = bench.amps_resolution.unwrap_or(USUAL_RESOLUTION_AMPS);
        if let [Some(b), Some(a)] = [before, after].map(|s| mean(s, &s.timeline.set_volts))
            && differ(b, a)
        {
            notes.push(format!(
                "the volts were set to {b:.2} V before and {a:.2} V after: film at the same ceiling to be sure"
            ));
        }
        // In constant current the volts follow the short, and the quotient is what counts.
        let same_volts = match (at_board([before, after], amps, volts), volts) {
            (Some([b, a]), _) => b / a,
            (None, [Some(b), Some(a)]) if b > 0.0 && a > 0.0 => b / a,
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
