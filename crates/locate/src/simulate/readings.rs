//! Meter readings of a practice board: the short on its rail and on rails joined to it at DC, usual values elsewhere. They
//! are simulated like the recording; nothing was measured.

use joulemark_frames::Timeline;
use rand::RngExt;
use rand_distr::{Distribution, Normal};

use super::scenario::stage::scenario_rng;
use crate::{
    board::Board,
    readings::{Band, Measured, Polarity, RailFacts, Reading, Return, Shown, TypicalRanges},
};

/// Stream of the generator, apart from those of the scenarios.
const STREAM: u64 = 900;
/// Both leads of the meter together. Common practice, no published source.
const METER_LEAD_OHMS: f64 = 0.15;
/// Spread of a hand-held meter on ohms and on its diode test, as a share. Common practice, no published source.
const SPREAD: f64 = 0.005;
/// What a diode test drives through the board, in amps. Common practice, no published source.
const DIODE_TEST_AMPS: f64 = 1e-3;
/// A usual range without an upper end is taken to end at this factor of its lower end.
const OPEN_RANGE_FACTOR: f64 = 30.0;
/// Current below this says nothing about resistance, in amps.
const LEAST_AMPS: f64 = 1e-4;

/// What the supply saw of the rail towards ground, leads taken off: mean volts over mean amps while current flows. `None`
/// where the log does not say.
pub fn board_ohms(timeline: &Timeline, lead_ohms: f64) -> Option<f64> {
    let with_current = (0..timeline.len()).filter(|&i| timeline.injecting[i]);
    let read = with_current.filter_map(|i| timeline.volts[i].zip(timeline.amps[i]));
    let (volts, amps) = read
        .filter(|(_, amps)| amps.abs() > LEAST_AMPS)
        .fold((0.0, 0.0), |(volts, amps), (v, a)| (volts + v.abs(), amps + a.abs()));
    (amps > 0.0).then(|| (volts / amps - lead_ohms).max(0.0)).filter(|ohms| ohms.is_finite())
}

/// Ohms and diode readings of every rail to ground. `fault` is the rail that is shorted and its ohms; without one all rails
/// read as usual.
pub fn readings(board: &Board, fault: Option<(&str, f64)>, ranges: &TypicalRanges, seed: u64) -> Vec<Reading> {
    let mut rng = scenario_rng(seed, STREAM);
    // A meter is never off by so much that a reading changes its kind: three sigmas are the end.
    let spread = Normal::new(1.0, SPREAD).expect("a fixed spread above zero");
    let shorted = fault.map(|(rail, _)| board.joined_rails(rail)).unwrap_or_default();
    let mut usual: Vec<(String, f64, f64)> = Vec::new();
    let mut taken = Vec::new();
    for rail in &board.rails {
        let facts = RailFacts { name: rail.name.clone(), nominal_volts: rail.nominal_volts, ..RailFacts::default() };
        let band = ranges.band_of(&facts);
        let drawn = (middle_ohms(band.as_ref(), rng.random()), middle_diode(band.as_ref(), rng.random()));
        let faulty = shorted.iter().any(|j| j.rail == rail.name);
        let (ohms, diode) = match fault.filter(|_| faulty) {
            Some((_, ohms)) => (ohms, drawn.1.min(ohms * DIODE_TEST_AMPS)),
            None => {
                // Rails that are one at DC read alike: the first of them says what.
                let first = board.joined_rails(&rail.name).into_iter().find_map(|j| {
                    usual.iter().find(|(name, ..)| *name == j.rail).map(|(_, ohms, diode)| (*ohms, *diode))
                });
                first.unwrap_or(drawn)
            }
        };
        usual.push((rail.name.clone(), ohms, diode));
        let mut off = || spread.sample(&mut rng).clamp(1.0 - 3.0 * SPREAD, 1.0 + 3.0 * SPREAD);
        let ohms = on_display(ohms * off() + METER_LEAD_OHMS, 0.01);
        let diode = on_display(diode * off(), 0.001);
        let reading = |measured| Reading {
            rail: rail.name.clone(),
            against: Return::Ground,
            measured,
            face: String::new(),
            after: 0,
            good_board: false,
            meter_lead_ohms: Some(METER_LEAD_OHMS),
        };
        taken.push(reading(Measured::Ohms(Shown::Number(ohms))));
        taken.push(reading(Measured::Diode(Polarity::RedOnGround, Shown::Number(diode))));
    }
    taken
}

/// Ohms from the middle half of the usual range, by decades.
fn middle_ohms(band: Option<&Band>, share: f64) -> f64 {
    let span = band.and_then(|b| b.ohms);
    let (from, to) = span.map_or((1e3, 1e5), |s| (s.from, s.to.unwrap_or(s.from * OPEN_RANGE_FACTOR)));
    from * (to / from).powf(0.25 + 0.5 * share)
}

/// Diode volts from the middle half of the usual range.
fn middle_diode(band: Option<&Band>, share: f64) -> f64 {
    let span = band.and_then(|b| b.diode_volts);
    let (from, to) = span.map_or((0.2, 0.6), |s| (s.from, s.to.unwrap_or(s.from * 2.0)));
    from + (to - from) * (0.25 + 0.5 * share)
}

/// What a display of four figures shows that does not go below `least`.
fn on_display(value: f64, least: f64) -> f64 {
    let step = 10_f64.powf((value.abs().max(1e-9).log10() - 3.0).floor()).max(least);
    let shown = (value / step).round() * step;
    // Decimals as on a display, not as the division left them.
    (shown * 1e6).round() / 1e6
}

#[cfg(test)]
mod tests {
    use super::{super::scenario, *};
    use crate::readings::{Verdict, rank};

    fn ranges() -> TypicalRanges {
        let options = ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
        options.from_str(crate::readings::TYPICAL_READINGS_RON).unwrap()
    }

    #[test]
    fn one_rail_stands_out_and_on_a_healthy_board_none() {
        for name in scenario::NAMES {
            for seed in 1..4 {
                let case = scenario::build(name, seed).unwrap();
                let truth = &case.simulated.truth;
                let ohms = board_ohms(&case.simulated.take.timeline, case.lead_ohms).unwrap();
                let fault = truth.part.as_ref().map(|_| (case.rail.as_str(), ohms));
                let taken = readings(&case.board, fault, &ranges(), seed);
                assert_eq!(taken.len(), 2 * case.board.rails.len());
                let facts: Vec<RailFacts> = case
                    .board
                    .rails
                    .iter()
                    .map(|r| RailFacts { name: r.name.clone(), nominal_volts: r.nominal_volts, ..RailFacts::default() })
                    .collect();
                let ranked = rank(&facts, &taken, &ranges());
                let abnormal: Vec<&str> = ranked
                    .iter()
                    .filter(|r| !matches!(r.verdict, Verdict::Healthy | Verdict::Unknown | Verdict::MayBeHealthy))
                    .map(|r| r.rail.as_str())
                    .collect();
                let joined: Vec<String> = case.board.joined_rails(&case.rail).into_iter().map(|j| j.rail).collect();
                if fault.is_none() {
                    assert!(abnormal.is_empty(), "{name} {seed}: {ranked:?}");
                } else {
                    assert!(joined.iter().any(|j| j == abnormal[0]), "{name} {seed}: {ranked:?}");
                    assert!(abnormal.iter().all(|a| joined.iter().any(|j| j == a)), "{name} {seed}: {ranked:?}");
                }
            }
        }
    }

    #[test]
    fn the_short_is_what_the_supply_saw() {
        // Ohm's law by hand: 0.28 V and 1 A through 0.08 ohm of leads leave 0.2 ohm.
        let mut timeline = Timeline::steady(4, 1.0);
        timeline.inject_from(2);
        for i in 2..4 {
            (timeline.volts[i], timeline.amps[i]) = (Some(0.28), Some(1.0));
        }
        assert!((board_ohms(&timeline, 0.08).unwrap() - 0.2).abs() < 1e-12);
        assert_eq!(board_ohms(&Timeline::steady(4, 1.0), 0.0), None);
    }

    #[test]
    fn a_display_has_four_figures() {
        for (value, shown) in [(0.283_4, 0.28), (12.3456, 12.35), (47_123.4, 47_120.0), (0.412_34, 0.41)] {
            assert!((on_display(value, 0.01) - shown).abs() < 1e-9, "{value}");
        }
    }
}
