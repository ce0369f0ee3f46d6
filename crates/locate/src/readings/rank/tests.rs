use proptest::prelude::*;

use super::{
    super::{Polarity, RailUse, Shown, samples::ohms, typical::tests::ranges},
    *,
};

fn rails() -> Vec<RailFacts> {
    let rail = |name: &str, volts, use_of| RailFacts {
        name: name.into(),
        nominal_volts: volts,
        stated_use: use_of,
        ..RailFacts::default()
    };
    vec![
        rail("MAST_12V", Some(12.0), None),
        rail("LOGGER_3V3", Some(3.3), None),
        rail("RADIO_CORE", Some(1.1), Some(RailUse::Core)),
        rail("SPARE", None, None),
    ]
}

fn names(ranked: &[RankedRail]) -> Vec<&str> {
    ranked.iter().map(|r| r.rail.as_str()).collect()
}

#[test]
fn the_shorted_rail_comes_first_and_a_low_core_is_not_called_shorted() {
    let readings = [ohms("RADIO_CORE", 0.15), ohms("LOGGER_3V3", 60.0), ohms("MAST_12V", 0.3)];
    let ranked = rank(&rails(), &readings, &ranges());
    assert_eq!(names(&ranked), ["MAST_12V", "LOGGER_3V3", "RADIO_CORE", "SPARE"]);
    let verdicts: Vec<Verdict> = ranked.iter().map(|r| r.verdict).collect();
    assert_eq!(verdicts, [Verdict::Shorted, Verdict::Low, Verdict::MayBeHealthy, Verdict::Unknown]);
    assert_eq!(ranked[3].why, ["not measured yet"]);
    assert!((ranked[0].ohms.expect("ohms") - 0.2).abs() < 1e-12);
}

#[test]
fn two_rails_shorted_to_each_other_say_so_both() {
    let between = Reading { against: Return::Rail("LOGGER_3V3".into()), ..ohms("MAST_12V", 0.3) };
    let readings = [between, ohms("MAST_12V", 900.0), ohms("LOGGER_3V3", 900.0)];
    let ranked = rank(&rails(), &readings, &ranges());
    let to: Vec<Option<&str>> = ranked.iter().take(2).map(|r| r.shorted_to.as_deref()).collect();
    assert_eq!(to, [Some("MAST_12V"), Some("LOGGER_3V3")]);
}

#[test]
fn the_latest_stage_counts_and_the_change_is_said() {
    let later = Reading { after: 1, ..ohms("MAST_12V", 22e3) };
    let ranked = rank(&rails(), &[ohms("MAST_12V", 0.3), later], &ranges());
    let mast = ranked.iter().find(|r| r.rail == "MAST_12V").expect("it is there");
    assert_eq!(mast.verdict, Verdict::Healthy);
    assert_eq!(mast.changed.as_deref(), Some("0.2 ohms before, 22 k ohms now"));
}

#[test]
fn halves_are_told_apart_and_charge_is_named() {
    let on = |face: &str, value| Reading { face: face.into(), ..ohms("MAST_12V", value) };
    let volts = Reading { measured: Measured::Volts(Shown::Number(0.4)), ..ohms("MAST_12V", 0.0) };
    let ranked = rank(&rails(), &[on("upper half", 0.3), on("lower half", 22e3), volts], &ranges());
    assert!(ranked[0].why.iter().any(|w| w.ends_with("look on upper half")), "{:?}", ranked[0].why);
    assert!(ranked[0].why.iter().any(|w| w.starts_with("0.400 V stood on it")), "{:?}", ranked[0].why);
}

#[test]
fn nothing_measured_and_unknown_names_are_no_surprise() {
    assert!(rank(&[], &[ohms("NOWHERE", 1.0)], &ranges()).is_empty());
    assert!(rank(&rails(), &[], &ranges()).iter().all(|r| r.verdict == Verdict::Unknown && r.score == 0.0));
}

fn any_reading() -> impl Strategy<Value = Reading> {
    let names = prop_oneof![Just("MAST_12V"), Just("LOGGER_3V3"), Just("RADIO_CORE"), Just("SPARE")];
    let shown = prop_oneof![4 => (-5.0_f64..6.0).prop_map(|e| Shown::Number(10_f64.powf(e))), 1 => Just(Shown::Open)];
    let against = prop_oneof![3 => Just(Return::Ground), 1 => Just(Return::Rail("SPARE".into()))];
    (names, shown, 0..3_u32, 0..4_u8, against, proptest::option::of(0.0_f64..1.0)).prop_map(
        |(rail, shown, after, what, against, lead)| {
            let measured = match what {
                0 => Measured::Ohms(shown),
                1 => Measured::Diode(Polarity::RedOnGround, shown),
                2 => Measured::Diode(Polarity::BlackOnGround, shown),
                _ => Measured::Volts(shown),
            };
            let good_board = after == 2 && what == 0;
            Reading { measured, after, against, good_board, meter_lead_ohms: lead, ..ohms(rail, 0.0) }
        },
    )
}

proptest! {
    #[test]
    fn every_rail_once_whatever_was_measured_in_whatever_order(
        (readings, shuffled) in proptest::collection::vec(any_reading(), 0..12)
            .prop_flat_map(|r| (Just(r.clone()), Just(r).prop_shuffle())),
    ) {
        let (one, other) = (rank(&rails(), &readings, &ranges()), rank(&rails(), &shuffled, &ranges()));
        prop_assert_eq!(one.len(), rails().len());
        let strip = |ranked: &[RankedRail]| -> Vec<(String, Verdict, u64)> {
            ranked.iter().map(|r| (r.rail.clone(), r.verdict, r.score.to_bits())).collect()
        };
        prop_assert_eq!(strip(&one), strip(&other));
        // Shorted rails lead, and the rest comes in falling order.
        let first_other = one.iter().position(|r| r.verdict != Verdict::Shorted).unwrap_or(one.len());
        prop_assert!(one[first_other..].iter().all(|r| r.verdict != Verdict::Shorted));
        prop_assert!(one[first_other..].windows(2).all(|w| w[0].score >= w[1].score));
        for core in one.iter().filter(|r| r.rail == "RADIO_CORE" && r.verdict == Verdict::Shorted) {
            prop_assert!(core.shorted_to.is_some(), "never to ground on a meter's word alone");
        }
    }
}
