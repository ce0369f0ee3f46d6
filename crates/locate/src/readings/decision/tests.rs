use super::{
    super::{
        rank, samples,
        typical::tests::{parsed, ranges},
    },
    *,
};

fn table() -> DecisionTable {
    parsed(NEXT_MEASUREMENT_RON)
}

fn rail(nominal_volts: Option<f64>, series: &[&str]) -> RailFacts {
    let series_parts = series.iter().map(|s| (*s).to_owned()).collect();
    RailFacts { name: "MAST_12V".into(), nominal_volts, series_parts, ..RailFacts::default() }
}

const RAIL: &str = "MAST_12V";

fn ohms(value: f64) -> Reading {
    samples::ohms(RAIL, value)
}

fn diode(value: f64) -> Reading {
    samples::diode(RAIL, value)
}

fn next(rail: &RailFacts, readings: &[Reading], lifted: &[&str], halves: (bool, bool)) -> Option<Next> {
    let ranked = rank(std::slice::from_ref(rail), readings, &ranges());
    let lifted: Vec<String> = lifted.iter().map(|s| (*s).to_owned()).collect();
    table().next(&Situation::new(rail, &ranked[0], readings, &lifted, halves)).map(|p| p.next)
}

#[test]
fn a_table_of_situations() {
    let main = rail(Some(12.0), &[]);
    let fed = rail(Some(12.0), &["L3"]);
    let core = rail(Some(1.1), &[]);
    let unknown = rail(None, &[]);
    let (one, stack, parted) = ((false, false), (true, false), (true, true));
    let on = |face: &str, value| Reading { face: face.into(), ..ohms(value) };
    let good = Reading { good_board: true, ..ohms(0.9) };
    let no_leads = Reading { meter_lead_ohms: None, ..ohms(0.4) };
    let against = |value| Reading { against: Return::Rail("LOGGER_3V3".into()), ..ohms(value) };
    let open = samples::reading(RAIL, Measured::Ohms(Shown::Open));
    for (rail, readings, lifted, halves, expected) in [
        (&main, vec![], vec![], one, Some(Next::Ohms)),
        (&main, vec![no_leads], vec![], one, Some(Next::MeterLeads)),
        (&main, vec![ohms(0.3)], vec![], one, Some(Next::Diode)),
        (&main, vec![ohms(0.3), diode(0.001)], vec![], one, Some(Next::Film)),
        (&main, vec![ohms(0.3), diode(0.001)], vec![], stack, Some(Next::SeparateHalves)),
        (&main, vec![ohms(0.3), diode(0.001)], vec![], parted, Some(Next::EachHalf)),
        (&main, vec![on("upper", 0.3), on("lower", 22e3), diode(0.001)], vec![], parted, Some(Next::Film)),
        (&main, vec![ohms(0.12), diode(0.001)], vec![], one, Some(Next::Survey)),
        (&main, vec![diode(-0.4)], vec![], one, Some(Next::Ohms)),
        (&main, vec![ohms(40.0), diode(0.1)], vec![], one, Some(Next::Film)),
        (&fed, vec![ohms(40.0), diode(0.1)], vec![], one, Some(Next::LiftSeriesPart)),
        (&fed, vec![ohms(40.0), diode(0.1)], vec!["L3"], one, Some(Next::Film)),
        (&main, vec![open.clone()], vec![], one, Some(Next::Diode)),
        (&main, vec![open, diode(0.4)], vec![], one, Some(Next::CheckProbe)),
        (&core, vec![ohms(0.2)], vec![], one, Some(Next::GoodBoard)),
        (&core, vec![ohms(0.2), good], vec![], one, Some(Next::Diode)),
        (&unknown, vec![ohms(0.2)], vec![], one, Some(Next::StateUse)),
        (&main, vec![against(0.3)], vec![], one, Some(Next::Ohms)),
        (&main, vec![ohms(22e3), diode(0.4)], vec![], one, None),
    ] {
        assert_eq!(next(rail, &readings, &lifted, halves), expected, "{rail:?} {readings:?}");
    }
}

#[test]
fn words_are_filled_in() {
    let rail = rail(Some(12.0), &["L3"]);
    let readings = [ohms(40.0), diode(0.1)];
    let ranked = rank(std::slice::from_ref(&rail), &readings, &ranges());
    let proposal =
        table().next(&Situation::new(&rail, &ranked[0], &readings, &[], (false, false))).expect("a proposal");
    assert_eq!(proposal.say, "Lift L3 and measure MAST_12V on both sides of it");
    assert!(!proposal.because.is_empty());
}

#[test]
fn a_line_that_was_put_aside_is_not_proposed_again() {
    let core = rail(Some(1.1), &[]);
    let readings = [ohms(0.2)];
    let ranked = rank(std::slice::from_ref(&core), &readings, &ranges());
    let mut situation = Situation::new(&core, &ranked[0], &readings, &[], (false, false));
    let proposal = table().next(&situation).expect("a proposal");
    assert_eq!(proposal.next, Next::GoodBoard);
    situation.put_aside.push(proposal.line);
    assert_eq!(table().next(&situation), None, "a core is not filmed as shorted for want of a good board");
}

#[test]
fn a_shop_goes_first_and_replaces_by_name() {
    table().check().expect("the table that comes along makes sense");
    let shop: DecisionTable = parsed(
        r#"(rules: [
            (name: "film", when: (verdicts: [shorted]), next: film, say: "Film {rail}", because: "ours"),
            (name: "always good board", when: (verdicts: [shorted], not_measured: [good_board]), next: good_board,
             say: "Measure {rail} of a good board", because: "we have one"),
        ])"#,
    );
    let layered = table().layered(&shop).expect("it fits");
    assert_eq!(layered.rules.len(), table().rules.len() + 1);
    assert_eq!(layered.rules[0].say, "Film {rail}");
}

#[test]
fn nonsense_is_refused_in_one_line() {
    let line = |name: &str, when: &str, say: &str| {
        format!(r#"(name: "{name}", when: ({when}), next: film, say: "{say}", because: "b")"#)
    };
    for (lines, says) in [
        (vec![line("a", "verdicts: [low]", "x"), line("a", "verdicts: [low]", "x")], "stands twice"),
        (vec![line("a", "", "x"), line("b", "verdicts: [low]", "x")], "never reached"),
        (vec![line("a", "measured: [ohms], not_measured: [ohms]", "x")], "take one out"),
        (vec![line("a", "ohms_below: 0.0", "x")], "above zero"),
        (vec![line("a", "ohms_below: 1.0, ohms_above: 2.0", "x")], "less than"),
        (vec![line("a", "verdicts: [low]", "{board}")], "not known"),
        (vec![line("a", "verdicts: [low]", "lift {part}")], "has_series_part"),
        (vec![line("a", "verdicts: [low]", " ")], "must all be written"),
    ] {
        let table: DecisionTable = parsed(&format!("(rules: [{}])", lines.join(",")));
        let error = table.check().expect_err(says);
        assert!(error.contains(says) && error.lines().count() == 1, "{error}");
    }
}
