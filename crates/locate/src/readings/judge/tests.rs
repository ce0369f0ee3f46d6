use proptest::prelude::*;

use super::{
    super::{RailUse, learn, samples, typical::tests::ranges},
    *,
};

fn rail(nominal_volts: Option<f64>, stated_use: Option<RailUse>) -> RailFacts {
    RailFacts { name: "V".into(), nominal_volts, stated_use, ..RailFacts::default() }
}

fn reading(measured: Measured) -> Reading {
    samples::reading("V", measured)
}

fn ohms_of(value: f64) -> Reading {
    samples::ohms("V", value)
}

fn diode_of(value: f64) -> Reading {
    samples::diode("V", value)
}

#[test]
fn a_table_of_readings() {
    use Verdict::{Healthy, High, Low, MayBeHealthy, Open, Shorted, Unknown};
    let (main, five, core, unknown) =
        (rail(Some(12.0), None), rail(Some(5.0), None), rail(Some(1.1), None), rail(None, None));
    let signal = rail(None, Some(RailUse::Signal));
    let open_diode = reading(Measured::Diode(Polarity::RedOnGround, Shown::Open));
    let other_way = |shown| reading(Measured::Diode(Polarity::BlackOnGround, shown));
    for (rail, reading, verdict) in [
        (&main, ohms_of(0.3), Shorted),
        (&main, ohms_of(40.0), Low),
        (&main, ohms_of(22e3), Healthy),
        (&main, reading(Measured::Ohms(Shown::Open)), Open),
        (&five, ohms_of(300e3), High),
        (&core, ohms_of(5.0), Healthy),
        (&core, ohms_of(0.12), MayBeHealthy),
        (&unknown, ohms_of(0.2), MayBeHealthy),
        (&unknown, diode_of(0.002), Unknown),
        (&signal, ohms_of(0.2), Shorted),
        (&signal, ohms_of(900.0), Unknown),
        (&signal, diode_of(0.55), Healthy),
        (&five, diode_of(0.004), Shorted),
        (&five, diode_of(0.08), Low),
        (&five, diode_of(0.45), Healthy),
        (&five, diode_of(0.9), High),
        (&five, diode_of(-0.3), Unknown),
        (&core, diode_of(0.004), MayBeHealthy),
        (&core, diode_of(0.05), Healthy),
        (&five, open_diode.clone(), Open),
        (&five, other_way(Shown::Open), Unknown),
        (&five, other_way(Shown::Number(0.5)), Unknown),
        (&five, other_way(Shown::Number(0.003)), Shorted),
        (&five, reading(Measured::Volts(Shown::Number(5.1))), Healthy),
        (&five, reading(Measured::Volts(Shown::Number(0.4))), Low),
        (&five, reading(Measured::Volts(Shown::Number(6.0))), High),
        (&five, reading(Measured::Ohms(Shown::Number(f64::NAN))), Unknown),
    ] {
        let judged = judge(&reading, rail, &ranges(), None);
        assert_eq!(judged.verdict, verdict, "{rail:?} {reading:?} {judged:?}");
        assert!(judged.why.iter().all(|w| !w.is_empty()));
    }
}

#[test]
fn scores_are_decades() {
    let main = rail(Some(12.0), None);
    // 10 ohms against 10 k ohms are three decades; 0.05 V against 0.15 V is one.
    let score = |reading| judge(&reading, &main, &ranges(), None).score;
    assert!((score(ohms_of(10.1)) - 3.0).abs() < 1e-9);
    assert!((score(diode_of(0.05)) - 1.0).abs() < 1e-9);
}

#[test]
fn a_good_board_settles_what_a_core_leaves_open() {
    let core = rail(Some(1.1), None);
    let good = Reading { good_board: true, ..ohms_of(0.9) };
    let learnt = learn(&[good], &ranges());
    let like = judge(&ohms_of(0.7), &core, &ranges(), learnt.first());
    assert_eq!(like.verdict, Verdict::Healthy);
    assert!(like.why[0].contains("on 1 good board"), "{like:?}");
    assert_eq!(judge(&ohms_of(0.2), &core, &ranges(), learnt.first()).verdict, Verdict::Low);
}

#[test]
fn not_even_a_file_that_was_not_checked_makes_a_core_shorted() {
    let mut ranges = ranges();
    for band in &mut ranges.bands {
        (band.shorted_below_ohms, band.shorted_below_diode_volts) = (Some(5.0), Some(0.01));
    }
    assert!(ranges.check().is_err());
    for reading in [ohms_of(0.1), diode_of(0.001)] {
        assert_eq!(judge(&reading, &rail(Some(1.1), None), &ranges, None).verdict, Verdict::MayBeHealthy);
    }
}

#[test]
fn doubt_in_the_leads_never_makes_a_short() {
    let main = rail(Some(12.0), None);
    // 5.0 ohms with 0.05 ohms of contact doubt may be above the limit of 5 ohms.
    assert_eq!(judge(&ohms_of(5.08), &main, &ranges(), None).verdict, Verdict::Low);
    assert_eq!(judge(&ohms_of(4.9), &main, &ranges(), None).verdict, Verdict::Shorted);
}

fn any_use() -> impl Strategy<Value = Option<RailUse>> {
    use RailUse::{Core, MainInput, Memory, Signal, System};
    proptest::option::of(prop_oneof![Just(MainInput), Just(System), Just(Memory), Just(Core), Just(Signal)])
}

proptest! {
    #[test]
    fn a_core_is_never_called_shorted(
        ohms in 0.0_f64..1e6, volts in -1.0_f64..1.5, nominal in proptest::option::of(0.5_f64..1.69),
        lead in proptest::option::of(0.0_f64..1.0), stated in any::<bool>(), good in proptest::option::of(0.0_f64..100.0),
    ) {
        let core = rail(nominal, stated.then_some(RailUse::Core));
        let learnt = good.map(|v| learn(&[Reading { good_board: true, ..ohms_of(v) }], &ranges()));
        let good = learnt.as_ref().and_then(|l| l.first());
        let on_ohms = judge(&Reading { meter_lead_ohms: lead, ..ohms_of(ohms) }, &core, &ranges(), good);
        prop_assert_ne!(on_ohms.verdict, Verdict::Shorted);
        prop_assert_ne!(judge(&diode_of(volts), &core, &ranges(), None).verdict, Verdict::Shorted);
    }

    #[test]
    fn less_ohms_below_the_range_are_never_less_abnormal(
        a in 0.0_f64..100.0, b in 0.0_f64..100.0, use_of in any_use(), nominal in proptest::option::of(0.5_f64..60.0),
    ) {
        let rail = rail(nominal, use_of);
        let (low, high) = (a.min(b), a.max(b));
        let from = ranges().band_of(&rail).and_then(|band| band.ohms).map_or(0.0, |s| s.from);
        prop_assume!(high < from);
        let score = |ohms| judge(&ohms_of(ohms), &rail, &ranges(), None).score;
        prop_assert!(score(low) >= score(high));
    }

    #[test]
    fn scores_are_finite_and_healthy_is_zero(
        ohms in 0.0_f64..1e9, volts in -2.0_f64..70.0, use_of in any_use(), nominal in proptest::option::of(-60.0_f64..60.0),
    ) {
        let rail = rail(nominal, use_of);
        for reading in [ohms_of(ohms), diode_of(volts), reading(Measured::Volts(Shown::Number(volts)))] {
            let judged = judge(&reading, &rail, &ranges(), None);
            prop_assert!(judged.score.is_finite() && judged.score >= 0.0);
            prop_assert!(judged.verdict != Verdict::Healthy || judged.score == 0.0);
        }
    }

    #[test]
    fn open_is_never_healthy_without_a_good_board(use_of in any_use(), nominal in proptest::option::of(0.5_f64..60.0)) {
        let rail = rail(nominal, use_of);
        for measured in [Measured::Ohms(Shown::Open), Measured::Diode(Polarity::RedOnGround, Shown::Open)] {
            prop_assert_eq!(judge(&reading(measured), &rail, &ranges(), None).verdict, Verdict::Open);
        }
    }
}
