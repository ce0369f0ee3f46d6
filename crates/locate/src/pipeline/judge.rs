//! Which peaks the injection made, and which spots can be true.

use joulemark_frames::{Take, Unit};

use super::Attempt;
use crate::{
    HotSpot, Scene,
    cause::{Causes, Other, Verdict},
    ledger::{self, LedgerSolution, SpotEvidence},
    model::ResponseModel,
    peaks::Peak,
    power::Power,
    spot,
};

/// A hot spot's fitted rise exceeds its standard error, which holds the recording's drift as well: the search has already
/// judged the spot, this only drops what the fit contradicts.
const LEAST_RISE_ERRORS: f64 = 1.0;
/// The injection must explain a spot's curve better than any other cause by this much of Schwarz's criterion: from 2 to 6 is
/// "positive", beyond it "strong" (Kass & Raftery, J. Am. Stat. Assoc. 90 (1995) 773).
const LEAST_MARGIN: f64 = 6.0;
/// Drifts have been weighed by the search already, against those of the whole board.
const LEAST_MARGIN_DRIFT: f64 = 4.0;
/// Beside stronger places that something else moved, it must be this much.
const LEAST_MARGIN_BESIDE: f64 = 12.0;
/// And chi-square per value must stay below this; the model's own errors are allowed for in it.
const MOST_MISFIT: f64 = 2.5;
/// Places that something else moved show how strong such things get in this recording: a weaker place that happens to look
/// like the injection is not believed below this share of them. (What is rejected after a true spot was found is that spot's own
/// field on the board's texture, and no decoy.)
const DECOY_SHARE: f64 = 0.35;
/// A weaker spot is a source when this share of all watts is made at it, as for entries of the ledger.
const LEAST_OWN_SHARE: f64 = 0.02;
/// The strongest spot takes this share of all watts, or the templates of the best source there explain it better than nothing does by
/// this (logarithm of the likelihood). Found on simulated boards of their own: of 248 true spots of 0.01 to 50 K one has both
/// below, of thirteen that something else made two have one above.
const LEAST_SHARE_OF_STRONGEST: f64 = 0.3;
const CLEAR_GAIN: f64 = 20.0;
const CLEAR_GAIN_PULSED: f64 = 60.0;
/// A log is shifted when that improves the criterion of the strongest spot by more than this.
const LEAST_SHIFT_GAIN: f64 = 20.0;
/// And by at least this many frame intervals: marks are true to a frame anyway.
const LEAST_SHIFT_FRAMES: f64 = 0.9;
/// And by how many frame intervals it may lag or lead.
const MOST_SHIFT_FRAMES: i32 = 3;

impl Attempt<'_> {
    /// Drops spots that their own curve or the power at the board contradicts.
    pub(super) fn drop_implausible(&self, hot_spots: &mut Vec<HotSpot>, power: Power, warnings: &mut Vec<String>) {
        // The fit of its own curve must show the rise that the search scored.
        hot_spots.retain(|spot| spot.rise.end > LEAST_RISE_ERRORS * spot.rise.end_se);
        let most_k = match self.take.unit {
            Unit::Kelvin if self.settings.repairs.power_bound => power.most_rise_k(),
            _ => f64::INFINITY,
        };
        hot_spots.retain(|spot| {
            let place = format!("a place at column {:.0}, row {:.0}", spot.centre_px.x, spot.centre_px.y);
            if spot.pulse.is_some_and(|p| !can_lag(p.lag_deg, p.lag_se_deg)) {
                warnings.push(format!("{place} follows the pulse rate with a lag that heat cannot have: left out"));
                return false;
            }
            if spot.rise.end - 2.0 * spot.rise.end_se > most_k {
                warnings.push(format!(
                    "{place} warms by {:.2} K, more than the power at the board can do ({most_k:.2} K): left out; look for a \
                     hand, a reflection or another source of heat",
                    spot.rise.end
                ));
                return false;
            }
            true
        });
    }

    /// Keeps the peaks that the injection explains best; returns the verdict on the strongest one kept.
    pub(super) fn judge_causes(
        &self,
        model: &ResponseModel,
        peaks: &mut Vec<&Peak>,
        warnings: &mut Vec<String>,
    ) -> Option<Verdict> {
        if model.drive.pulses().is_some() || peaks.is_empty() {
            return None;
        }
        let interval_s = model.drive.interval_s();
        let shifts: Vec<f64> = if self.settings.repairs.log_lag {
            (-2 * MOST_SHIFT_FRAMES..=2 * MOST_SHIFT_FRAMES).map(|half| f64::from(half) / 2.0 * interval_s).collect()
        } else {
            vec![0.0]
        };
        let causes = Causes::new(model, &shifts);
        let mut strongest = None;
        let mut strongest_decoy = 0.0_f64;
        let mut kept = Vec::new();
        for &peak in peaks.iter().take(spot::MOST_LOOKED_AT) {
            let (curve, sigma) = spot::contrast(self.film.frames, peak);
            let verdict = causes.judge(&curve, sigma);
            let least = if verdict.other == Other::Drift { LEAST_MARGIN_DRIFT } else { LEAST_MARGIN };
            // Where something else moved more strongly, its own parts can pass for the injection by chance.
            let least = if peak.z < strongest_decoy { least.max(LEAST_MARGIN_BESIDE) } else { least };
            let injected = verdict.margin >= least && verdict.misfit <= MOST_MISFIT;
            if !self.settings.repairs.other_causes || injected && peak.z >= DECOY_SHARE * strongest_decoy {
                strongest = strongest.or(Some(verdict));
                kept.push(peak);
                continue;
            }
            if kept.is_empty() && !injected {
                strongest_decoy = strongest_decoy.max(peak.z);
            }
            if kept.is_empty() && warnings.len() < 20 {
                warnings.push(format!(
                    "a place at column {:.0}, row {:.0} changes, but {}: left out",
                    peak.at_px.x,
                    peak.at_px.y,
                    verdict.other.words()
                ));
            }
        }
        *peaks = kept;
        strongest
    }
}

/// What [`drop_without_source`] asks of the strongest spot.
pub(super) fn clear_gain(pulsed: bool) -> f64 {
    if pulsed { CLEAR_GAIN_PULSED } else { CLEAR_GAIN }
}

/// Drops spots at which no heat is made. Weaker ones: a part or pad that shows more of the warmth around it than the board does
/// stands out as a spot, but the forward templates need no source there. The strongest is what all of it starts from: where it
/// takes a small share of the watts and templates of heat explain it by less than `clear_gain`, what changes there does not spread as
/// heat; it stays where that is not asked. Says whether any went.
pub(super) fn drop_without_source(
    hot_spots: &mut Vec<HotSpot>,
    solution: Option<&LedgerSolution>,
    clear_gain: Option<f64>,
    warnings: &mut Vec<String>,
) -> bool {
    let Some(solution) = solution else { return false };
    let before = hot_spots.len();
    let gain = solution.evidence.first().and_then(SpotEvidence::best_gain);
    let strongest_is_heat = solution.own_shares.first().is_none_or(|share| *share >= LEAST_SHARE_OF_STRONGEST)
        || clear_gain.is_none_or(|least| gain.is_none_or(|gain| gain >= least));
    if let Some(spot) = hot_spots.first().filter(|_| !strongest_is_heat) {
        warnings.push(format!(
            "a place at column {:.0}, row {:.0} changes with the injection, but not as heat that is made there: left out",
            spot.centre_px.x, spot.centre_px.y
        ));
    }
    let mut shares = solution.own_shares.iter().enumerate();
    hot_spots.retain(|_| {
        shares.next().is_none_or(|(i, share)| if i == 0 { strongest_is_heat } else { *share >= LEAST_OWN_SHARE })
    });
    hot_spots.len() < before
}

/// The shift of the log that a spot asks for, where it is one.
pub(super) fn asked_shift_s(verdict: &Verdict, model: &ResponseModel) -> Option<f64> {
    let enough =
        verdict.shift_gain > LEAST_SHIFT_GAIN && verdict.shift_s.abs() >= LEAST_SHIFT_FRAMES * model.drive.interval_s();
    enough.then_some(verdict.shift_s)
}

/// Heat lags its power by 0 to about 100 degrees at the pulse rate: 45 for the surface of a thick body, 90 for a body that is
/// slow against the pulses, a little more beside the source (Carslaw & Jaeger, sec. 2.6 and 10.4). A frame's own exposure and the
/// log's rounding are allowed for by the margin.
fn can_lag(lag_deg: f64, se_deg: f64) -> bool {
    let margin_deg = 25.0 + 3.0 * se_deg;
    (-margin_deg..=100.0 + margin_deg).contains(&lag_deg)
}

/// What to do about a rail that leaks rather than shorts, by the supply's own readings.
pub(super) fn leakage(take: &Take, scene: &Scene<'_>) -> Option<String> {
    let (watts, amps) = (take.timeline.mean_watts()?, take.timeline.mean_amps()?);
    let ohms = watts.abs() / (amps * amps) - scene.lead_ohms.unwrap_or(0.0);
    ledger::leakage_advice(scene.board.rail(scene.rail)?.nominal_volts, ohms)
}

#[cfg(test)]
mod tests {
    use nalgebra::{Matrix2, Point2};

    use super::*;
    use crate::{Curve, Rise, TimeConstant, ledger::PartEvidence};

    fn spot(x: f64) -> HotSpot {
        let rise = Rise {
            end: 1.0,
            end_se: 0.1,
            start_slope_per_s: 0.2,
            start_slope_se_per_s: 0.02,
            time_constant: TimeConstant::Unknown,
            onset_s: 0.0,
            onset_se_s: 0.1,
            converged: true,
        };
        HotSpot {
            centre_px: Point2::new(x, 7.0),
            covariance_px2: Matrix2::identity(),
            centre_mm: Point2::new(x, 7.0),
            covariance_mm2: Matrix2::identity(),
            scale_px: 2.0,
            z: 20.0,
            q_value: 1e-9,
            rise,
            curve: Curve::default(),
            pulse: None,
        }
    }

    /// Places of the spots that stay, and how many warnings there are.
    fn stays(shares: &[f64], gain: f64, clear_gain: Option<f64>) -> (Vec<f64>, usize) {
        let part = PartEvidence {
            part: "C1".into(),
            face: "top".into(),
            log_gain: gain,
            watts: 0.1,
            looks_bare: false,
            shift_mm: nalgebra::Vector2::zeros(),
        };
        let solution = LedgerSolution {
            ledger: None,
            roles: Vec::new(),
            own_shares: shares.to_vec(),
            evidence: vec![SpotEvidence { parts: vec![part], ..SpotEvidence::default() }],
            reduced_chi_square: 1.0,
        };
        let mut spots: Vec<HotSpot> = (0..shares.len()).map(|i| spot(i as f64)).collect();
        let mut warnings = Vec::new();
        let before = spots.len();
        let dropped = drop_without_source(&mut spots, Some(&solution), clear_gain, &mut warnings);
        assert_eq!(dropped, spots.len() < before);
        (spots.iter().map(|s| s.centre_px.x).collect(), warnings.len())
    }

    #[test]
    fn the_strongest_spot_stays_by_its_watts_or_by_its_form() {
        assert_eq!(stays(&[0.9], 3.0, Some(CLEAR_GAIN)), (vec![0.0], 0));
        assert_eq!(stays(&[0.1], 30.0, Some(CLEAR_GAIN)), (vec![0.0], 0));
        assert_eq!(stays(&[0.1], 3.0, Some(CLEAR_GAIN)), (vec![], 1));
        assert_eq!(stays(&[0.1], 30.0, Some(clear_gain(true))), (vec![], 1));
        assert_eq!(stays(&[0.1], 3.0, None), (vec![0.0], 0), "switched off");
    }

    #[test]
    fn weaker_spots_need_watts_of_their_own() {
        assert_eq!(stays(&[0.9, 0.0, 0.05], 90.0, Some(CLEAR_GAIN)), (vec![0.0, 2.0], 0));
        assert_eq!(stays(&[0.0, 0.01, 0.05], 3.0, Some(CLEAR_GAIN)), (vec![2.0], 1));
    }
}
