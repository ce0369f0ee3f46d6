use proptest::prelude::*;

use super::*;
use crate::readings::{
    RankedRail, Verdict,
    decision::{Next, Proposal},
};

fn ranked(rail: &str, verdict: Verdict, ohms: Option<f64>) -> RankedRail {
    RankedRail {
        rail: rail.into(),
        verdict,
        score: 1.0,
        why: vec!["w".into()],
        judged: vec![0],
        shorted_to: None,
        ohms,
        changed: None,
    }
}

fn proposed(next: Next) -> Option<Proposal> {
    Some(Proposal { line: "l".into(), next, say: "say".into(), because: "because".into() })
}

fn deed(number: u32, what: Doing, part: &str) -> Deed {
    Deed { number, what, part: part.into() }
}

/// A shorted 12 V rail, measured, planned, cautions read, nothing filmed.
fn ready() -> State {
    State {
        rail: "MAST_12V".into(),
        ranked: vec![ranked("MAST_12V", Verdict::Shorted, Some(0.2))],
        read_after: Some(0),
        proposal: proposed(Next::Film),
        volts_known: true,
        plan: Plan::Ready { steps: 3, enough_at: None },
        cautions_read: true,
        faces: vec!["top".into(), "bottom".into()],
        faces_filmed: vec!["top".into()],
        ..State::default()
    }
}

fn with(change: impl FnOnce(&mut State)) -> State {
    let mut state = ready();
    change(&mut state);
    state
}

fn lead(part: &str, probability: f64) -> Found {
    Found { lead: Some(Lead { part: part.into(), probability, ..Lead::default() }), ..Found::default() }
}

fn filmed(step: Option<usize>, found: Option<Found>) -> Option<Filmed> {
    Some(Filmed { after: 0, face: "top".into(), before_enough: true, step, found })
}

fn located(step: usize, found: Found) -> State {
    with(|s| s.filmed = filmed(Some(step), Some(found)))
}

/// All steps done, both faces filmed, nothing found.
fn exhausted(change: impl FnOnce(&mut State)) -> State {
    let mut state = located(2, Found::default());
    state.faces_filmed = state.faces.clone();
    change(&mut state);
    state
}

#[test]
fn a_table_of_situations() {
    let c12 = || "C12".to_owned();
    let group = Found {
        lead: Some(Lead { part: c12(), probability: 0.6, group: vec![c12(), "C13".into()], ..Lead::default() }),
        too_coarse: Some("Move the camera to 40 mm".into()),
        ..Found::default()
    };
    let explained = |share: f64, relative| Found { explained: Some((share, 0.05)), relative, ..lead("C12", 0.9) };
    let at_probe = Found { lead: Some(Lead { at_probe: true, ..Lead::default() }), ..Found::default() };
    let doubtful = Found {
        lead: Some(Lead { part: c12(), probability: 0.3, nothing_probability: 0.7, ..Lead::default() }),
        ..Found::default()
    };
    let healthy = |s: &mut State| s.ranked[0].verdict = Verdict::Healthy;
    let hard = |s: &mut State| s.ranked[0].ohms = Some(0.02);
    let table: Vec<(&str, State, Action)> = vec![
        ("nothing measured", with(|s| (s.proposal, s.read_after) = (proposed(Next::Ohms), None)), measure(Next::Ohms)),
        ("stacked", with(|s| s.proposal = proposed(Next::SeparateHalves)), Action::SeparateHalves),
        ("volts unknown", with(|s| (s.plan, s.volts_known) = (Plan::None, false)), Action::StateNominal),
        ("planned with volts unknown", with(|s| s.volts_known = false), Action::StateNominal),
        (
            "planned, volts cannot be known",
            with(|s| (s.volts_known, s.tried.nominal_unknowable) = (false, true)),
            Action::FilmBefore,
        ),
        (
            "volts cannot be known",
            with(|s| {
                (s.plan, s.volts_known) = (Plan::None, false);
                s.tried.nominal_unknowable = true;
            }),
            Action::MakePlan,
        ),
        ("no plan", with(|s| s.plan = Plan::None), Action::MakePlan),
        ("refused", with(|s| s.plan = Plan::Refused { reason: "above 60 V".into() }), Action::LookCleanDry),
        (
            "refused and looked",
            with(|s| {
                s.plan = Plan::Refused { reason: "above 60 V".into() };
                s.tried.looked = true;
            }),
            Action::Stop,
        ),
        (
            "refused and very low: no survey either",
            with(|s| {
                hard(s);
                s.plan = Plan::Refused { reason: "mains".into() };
            }),
            Action::LookCleanDry,
        ),
        ("very low", with(hard), Action::Survey),
        (
            "very low and surveyed",
            with(|s| {
                hard(s);
                s.tried.survey = true;
            }),
            Action::FilmBefore,
        ),
        ("cautions unread", with(|s| s.cautions_read = false), Action::ReadCautions),
        ("nothing filmed", ready(), Action::FilmBefore),
        ("too little before", with(|s| s.filmed = Some(Filmed::default())), Action::FilmBefore),
        ("filmed before", with(|s| s.filmed = filmed(None, None)), Action::Inject { step: 0 }),
        (
            "filmed before, new connection",
            with(|s| (s.filmed, s.cautions_read) = (filmed(None, None), false)),
            Action::ReadCautions,
        ),
        ("injected", with(|s| s.filmed = filmed(Some(0), None)), Action::Locate),
        ("one suspect", located(0, lead("C12", 0.9)), Action::Lift { part: c12() }),
        ("weak suspect", located(0, lead("C12", 0.3)), Action::Inject { step: 1 }),
        ("weak suspect at the last step", located(2, lead("C12", 0.3)), Action::Lift { part: c12() }),
        (
            "enough seen: no more power for a weak suspect",
            with(|s| {
                s.filmed = filmed(Some(1), Some(lead("C12", 0.3)));
                s.plan = Plan::Ready { steps: 3, enough_at: Some(1) };
            }),
            Action::Lift { part: c12() },
        ),
        ("two not told apart", located(0, group.clone()), Action::FilmCloser),
        (
            "two not told apart, camera is close",
            with(|s| {
                s.filmed = filmed(Some(0), Some(group));
                s.tried.closer = true;
            }),
            Action::Lift { part: c12() },
        ),
        ("most heat elsewhere", located(0, explained(0.2, false)), Action::OtherFace { face: "bottom".into() }),
        ("a relative take has no watts", located(0, explained(0.2, true)), Action::Lift { part: c12() }),
        ("most heat here", located(0, explained(0.9, false)), Action::Lift { part: c12() }),
        ("the probe's contact", located(0, at_probe), Action::MoveProbe),
        ("off the drawing", located(0, lead("", 0.8)), Action::LookCleanDry),
        ("more likely nothing", located(0, doubtful), Action::Inject { step: 1 }),
        ("nothing warms", located(0, Found::default()), Action::Inject { step: 1 }),
        ("nothing warms at the last step", located(2, Found::default()), Action::OtherFace { face: "bottom".into() }),
        (
            "nothing warms, shiny part",
            exhausted(|s| s.shiny_parts = vec!["U4".into()]),
            Action::Coat { part: "U4".into() },
        ),
        (
            "coated: the earlier take shows it shiny",
            exhausted(|s| {
                s.shiny_parts = vec!["U4".into()];
                s.deeds = vec![deed(1, Doing::Coated, "U4")];
            }),
            Action::FilmBefore,
        ),
        (
            "nothing warms, shiny part coated",
            exhausted(|s| {
                s.shiny_parts = vec!["U4".into()];
                s.deeds = vec![deed(1, Doing::Coated, "U4")];
                s.filmed = s.filmed.clone().map(|f| Filmed { after: 1, ..f });
            }),
            Action::LookCleanDry,
        ),
        ("nothing warms anywhere", exhausted(|_| ()), Action::LookCleanDry),
        ("looked", exhausted(|s| s.tried.looked = true), Action::AlcoholOrFrost),
        ("all tried", exhausted(|s| (s.tried.looked, s.tried.alcohol_or_frost) = (true, true)), Action::Stop),
        (
            "lifted",
            with(|s| {
                s.filmed = filmed(Some(0), Some(lead("C12", 0.9)));
                s.deeds = vec![deed(1, Doing::Lifted, "C12")];
            }),
            Action::MeasureAgain { after: 1 },
        ),
        (
            "lifted, still shorted: the old take tells of another board",
            with(|s| {
                s.filmed = filmed(Some(0), Some(lead("C12", 0.9)));
                s.deeds = vec![deed(1, Doing::Lifted, "C12")];
                s.read_after = Some(1);
            }),
            Action::FilmBefore,
        ),
        (
            "lifted, healthy",
            with(|s| {
                healthy(s);
                s.deeds = vec![deed(1, Doing::Lifted, "C12")];
                s.read_after = Some(1);
            }),
            Action::FitNew { part: c12() },
        ),
        (
            "replaced, healthy",
            with(|s| {
                healthy(s);
                s.deeds = vec![deed(1, Doing::Lifted, "C12"), deed(2, Doing::Replaced, "C12")];
                s.read_after = Some(2);
            }),
            Action::RecordRepairCheck,
        ),
        (
            "checked",
            with(|s| {
                healthy(s);
                s.deeds = vec![deed(1, Doing::Cleaned, "")];
                s.read_after = Some(1);
                s.tried.repair_check = true;
            }),
            Action::Done,
        ),
        (
            "healthy, another is not",
            with(|s| {
                healthy(s);
                s.ranked.insert(0, ranked("LOGGER_3V3", Verdict::Low, Some(60.0)));
            }),
            Action::TakeRail { rail: "LOGGER_3V3".into() },
        ),
        ("all healthy", with(healthy), Action::Stop),
        (
            "a core that may be healthy is compared before anything is lifted",
            with(|s| {
                s.ranked[0].verdict = Verdict::MayBeHealthy;
                s.proposal = proposed(Next::GoodBoard);
                s.filmed = filmed(Some(0), Some(lead("C12", 0.9)));
            }),
            measure(Next::GoodBoard),
        ),
    ];
    for (name, state, action) in table {
        let next = next_action(&state);
        assert_eq!(next.action, action, "{name}: {next:?}");
        assert!(!next.say.is_empty() && !next.because.is_empty(), "{name}");
    }
}

fn measure(next: Next) -> Action {
    Action::Measure(proposed(next).expect("a proposal"))
}

#[test]
fn after_a_lift_a_second_short_is_named_and_hands_are_warned() {
    let lifted = with(|s| s.deeds = vec![deed(1, Doing::Lifted, "C12")]);
    let next = next_action(&lifted);
    assert!(next.say.contains("before fitting a new part"), "{next:?}");
    assert!(next.because.contains("another short may be in parallel"), "{next:?}");
    let coat = next_action(&exhausted(|s| s.shiny_parts = vec!["U4".into()]));
    assert_eq!(coat.cautions, cautions::COAT);
    let frost = next_action(&exhausted(|s| s.tried.looked = true));
    assert!(frost.cautions.iter().any(|c| c.contains("flame")) && frost.cautions.iter().any(|c| c.contains("window")));
}

fn any_state() -> impl Strategy<Value = State> {
    let verdict = prop_oneof![
        Just(Verdict::Healthy),
        Just(Verdict::Unknown),
        Just(Verdict::MayBeHealthy),
        Just(Verdict::Low),
        Just(Verdict::Shorted)
    ];
    let plan = prop_oneof![
        Just(Plan::None),
        Just(Plan::Refused { reason: "r".into() }),
        (0..4_usize, proptest::option::of(0..4_usize)).prop_map(|(steps, enough_at)| Plan::Ready { steps, enough_at }),
    ];
    let found = proptest::option::of((0.0_f64..1.0, 0.0_f64..1.0, any::<bool>(), any::<bool>()).prop_map(
        |(probability, nothing_probability, at_probe, named)| Found {
            lead: Some(Lead {
                part: if named { "C12".into() } else { String::new() },
                probability,
                group: Vec::new(),
                at_probe,
                nothing_probability,
            }),
            ..Found::default()
        },
    ));
    let filmed = proptest::option::of((0..3_u32, any::<bool>(), proptest::option::of(0..4_usize), found).prop_map(
        |(after, before_enough, step, found)| Filmed { after, face: "top".into(), before_enough, step, found },
    ));
    let deeds = prop_oneof![
        Just(vec![]),
        Just(vec![deed(1, Doing::Lifted, "C12")]),
        Just(vec![deed(1, Doing::Lifted, "C12"), deed(2, Doing::Replaced, "C12")]),
        Just(vec![deed(1, Doing::Coated, "U4")]),
    ];
    let tried =
        (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>()).prop_map(|(looked, survey, frost, check)| Tried {
            looked,
            survey,
            alcohol_or_frost: frost,
            repair_check: check,
            ..Tried::default()
        });
    (
        (verdict, 0.001_f64..100.0),
        plan,
        filmed,
        deeds,
        tried,
        (any::<bool>(), any::<bool>()),
        proptest::option::of(0..3_u32),
    )
        .prop_map(|((verdict, ohms), plan, filmed, deeds, tried, (volts_known, cautions_read), read_after)| {
            State {
                ranked: vec![ranked("MAST_12V", verdict, Some(ohms))],
                plan,
                filmed,
                deeds,
                tried,
                volts_known,
                cautions_read,
                read_after,
                ..ready()
            }
        })
}

proptest! {
    // Few of the states get as far as power.
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn power_is_proposed_only_within_a_plan_and_after_the_cautions(state in any_state()) {
        let next = next_action(&state);
        prop_assert!(!next.say.is_empty() && !next.because.is_empty());
        if let Action::Inject { step } = next.action {
            prop_assert!(state.cautions_read);
            let Plan::Ready { steps, .. } = state.plan else { return Err(TestCaseError::fail("no plan")) };
            prop_assert!(step < steps);
            prop_assert_eq!(next.cautions, cautions::INJECT);
            // Never a step beyond the one after what was injected.
            let injected = state.filmed.as_ref().and_then(|f| f.step);
            prop_assert!(step == 0 || injected == Some(step - 1));
        }
        let refused = matches!(state.plan, Plan::Refused { .. });
        prop_assert!(!(refused && matches!(next.action, Action::Survey | Action::AlcoholOrFrost | Action::FilmBefore)));
    }

    #[test]
    fn what_was_lifted_is_not_proposed_again_before_a_reading(state in any_state()) {
        let unread = state.deeds.iter().any(|d| d.what.changes_readings() && state.read_after.is_none_or(|r| r < d.number));
        if unread {
            prop_assert!(matches!(next_action(&state).action, Action::MeasureAgain { .. }), "something was done since the last reading");
        }
    }
}
