//! No plan exceeds a rule; tightening never raises a ceiling; what is unknown is stricter; the worked cases.

use proptest::prelude::*;

use super::*;

fn main_input() -> Inputs {
    Inputs {
        rail: "VIN".into(),
        kind: Some(RailUse::MainInput),
        nominal_volts: Some(12.0),
        ohms: Some(0.2),
        lead_ohms: Some(0.05),
        back_driven: Back::None,
        leads_most_amps: Some(5.0),
        probe_most_amps: Some(5.0),
        ..Inputs::default()
    }
}

/// The book that the program comes with.
fn standard() -> Rules {
    ron::from_str::<Rules>(LIMITS_RON).unwrap().checked().unwrap()
}

fn made(inputs: &Inputs) -> Plan {
    plan(inputs, &standard())
}

fn ceilings(plan: &Plan) -> Vec<(f64, f64)> {
    plan.steps.iter().map(|s| (s.volts.value, s.amps.value)).collect()
}

#[test]
fn a_main_input_climbs_from_one_amp_to_three() {
    let plan = made(&main_input());
    assert_eq!(ceilings(&plan), [(0.3, 1.0), (0.5, 2.0), (0.8, 3.0)]);
    // 0.3 V over 0.25 ohm would be 1.2 A: the supply stays at 1 A, and 1 A² x 0.2 ohm is 0.2 W.
    let e = plan.steps[0].expected.unwrap();
    assert!((e.amps.0 - 1.0).abs() < 1e-12 && (e.watts.1 - 0.2).abs() < 1e-12);
    assert_eq!(plan.pending.len(), 4);
}

#[test]
fn a_core_stays_low_and_is_never_called_shorted() {
    let plan = made(&Inputs { kind: Some(RailUse::Core), nominal_volts: Some(1.1), ohms: Some(5.0), ..main_input() });
    assert_eq!(ceilings(&plan), [(0.3, 0.5), (0.5, 1.0), (0.5, 2.0)]);
    assert!(plan.warnings.iter().any(|w| w.id == "core_low" && w.words.contains("good board")));
}

#[test]
fn a_leak_on_a_rail_of_unknown_volts_gets_two_steps_until_volts_are_stated() {
    let leak = Inputs { kind: None, nominal_volts: None, ohms: Some(40.0), ..main_input() };
    assert_eq!(ceilings(&made(&leak)), [(0.3, 0.5), (0.3, 1.0)]);
    let stated = Inputs { least_volts: Some(3.0), ..leak.clone() };
    assert_eq!(ceilings(&made(&stated)), [(0.3, 0.5), (0.3, 1.0), (0.8, 1.0)]);
    // 0.3 V squared over 40 ohm: 2.25 mW.
    assert!(made(&leak).warnings.iter().any(|w| w.id == "leakage" && w.words.contains("2.2 mW")));
}

#[test]
fn dangerous_rails_and_answers_are_refused() {
    let no = Some(false);
    for (id, inputs) in [
        ("refuse_v", Inputs { nominal_volts: Some(-60.1), ..main_input() }),
        ("refuse_v", Inputs { nominal_volts: None, least_volts: Some(61.0), ..main_input() }),
        (
            "mains",
            Inputs { confirmed: Confirmations { isolated_from_mains: no, ..Default::default() }, ..main_input() },
        ),
        ("lithium", Inputs { confirmed: Confirmations { cells_out: no, ..Default::default() }, ..main_input() }),
        ("polarity", Inputs { confirmed: Confirmations { polarity_right: no, ..Default::default() }, ..main_input() }),
        ("input", Inputs { ohms: Some(f64::NAN), ..main_input() }),
        ("input", Inputs { lead_ohms: Some(-0.1), ..main_input() }),
        ("supply_least", Inputs { supply_least_volts: Some(0.4), ..main_input() }),
    ] {
        let plan = made(&inputs);
        assert!(plan.steps.is_empty() && plan.refusals.iter().any(|r| r.id == id), "{id}: {plan:?}");
    }
    assert!(made(&Inputs { nominal_volts: Some(60.0), ..main_input() }).refusals.is_empty());
}

#[test]
fn loosening_needs_a_reason_and_ends_at_the_rail() {
    let change = |reason: &str| Change { id: "step_3_v".into(), value: 50.0, reason: reason.into(), by: "Ada".into() };
    let plan = made(&Inputs { changes: vec![change(" ")], ..main_input() });
    assert_eq!(plan.steps[2].volts.value, 0.8);
    let plan = made(&Inputs { changes: vec![change("leak seen by nobody")], ..main_input() });
    assert_eq!((plan.steps[2].volts.value, plan.steps[2].volts.rule.as_str()), (12.0, "nominal"));
    assert!(plan.warnings.iter().any(|w| w.words.contains("leak seen by nobody")));
    let never = Change { id: "refuse_v".into(), value: 100.0, reason: "please".into(), by: String::new() };
    let plan = made(&Inputs { nominal_volts: Some(80.0), changes: vec![never], ..main_input() });
    assert!(plan.steps.is_empty() && plan.changes[0].refused.is_some());
}

#[test]
fn a_camera_says_which_step_is_enough() {
    let camera = Some(Camera { netd_k: 0.05, rate_hz: 9.0, frames_before: 45 });
    let plan = made(&Inputs { camera, ..main_input() });
    assert_eq!(plan.enough, Some(1), "{plan:?}");
    let relative = made(&Inputs { camera, relative: true, ..main_input() });
    assert!(relative.enough.is_none() && relative.steps.iter().all(|s| s.stop_c.is_none()));
}

#[test]
fn a_shop_file_names_its_faults() {
    let rules = standard();
    let change = |id: &str| [Change { id: id.into(), value: 50.0, ..Change::default() }];
    assert_eq!(rules.knows(&change("stop_c")), Ok(()));
    assert!(rules.knows(&change("stop")).unwrap_err().to_string().contains("is no rule"));
    let mut twice = rules.clone();
    twice.rules.push(rules.rules[0].clone());
    assert!(twice.checked().unwrap_err().to_string().contains("stands 2 times"));
    assert!(Rules::default().checked().is_err());
}

fn some(range: std::ops::Range<f64>) -> impl Strategy<Value = Option<f64>> {
    prop_oneof![Just(None), range.prop_map(Some)]
}

prop_compose! {
    fn any_inputs()(
        kind in prop_oneof![Just(None), Just(Some(RailUse::MainInput)), Just(Some(RailUse::System)), Just(Some(RailUse::Core))],
        nominal_volts in some(-70.0..70.0), least_volts in some(0.01..20.0), weakest in some(0.05..20.0),
        joined in some(0.05..20.0), back in 0..3_usize, ohms in some(0.0..200.0), doubt in 0.0..0.3, lead_ohms in some(0.0..0.5),
        supply in (some(0.1..30.0), some(0.1..10.0), some(0.1..10.0), some(0.1..10.0)), trace_width_mm in some(0.05..5.0),
        loosened in 0.01..100.0, which in 0..28_usize,
    ) -> Inputs {
        Inputs {
            rail: "V".into(), kind, nominal_volts, least_volts, joined_least: joined.map(|v| ("W".into(), v)),
            weakest: weakest.map(|volts| Weakest { part: "C1".into(), volts, via: vec![] }),
            back_driven: [Back::Unknown, Back::None, Back::Some(vec!["U1".into()])][back].clone(),
            ohms, ohms_doubt: doubt, lead_ohms, supply_most_volts: supply.0, supply_most_amps: supply.1,
            leads_most_amps: supply.2, probe_most_amps: supply.3, trace_width_mm,
            changes: vec![Change { id: standard().rules[which].id.clone(), value: loosened, reason: "test".into(), by: String::new() }],
            ..Inputs::default()
        }
    }
}

/// Every ceiling of `tight` is at or below that of the same step of `loose` (the last one, where that ladder is shorter).
fn below(tight: &Plan, loose: &Plan) -> Result<(), TestCaseError> {
    for step in &tight.steps {
        prop_assert!(!loose.steps.is_empty());
        let other = &loose.steps[(step.number - 1).min(loose.steps.len() - 1)];
        prop_assert!(step.volts.value <= other.volts.value, "{:?} {:?}", step.volts, other.volts);
        prop_assert!(step.amps.value <= other.amps.value, "{:?} {:?}", step.amps, other.amps);
        prop_assert!(step.joules.value <= other.joules.value * (1.0 + 1e-12), "{:?} {:?}", step.joules, other.joules);
    }
    Ok(())
}

proptest! {
    #[test]
    fn no_plan_exceeds_a_rule(inputs in any_inputs()) {
        let plan = made(&inputs);
        let (rules, _) = standard().changed(&inputs.changes);
        for s in &plan.steps {
            for most in [inputs.nominal_volts, inputs.weakest.as_ref().map(|w| w.volts), inputs.joined_least.as_ref().map(|j| j.1),
                inputs.least_volts, inputs.supply_most_volts, Some(60.0)].into_iter().flatten() {
                prop_assert!(s.volts.value <= most.abs());
            }
            for most in [inputs.supply_most_amps, inputs.leads_most_amps, inputs.probe_most_amps].into_iter().flatten() {
                prop_assert!(s.amps.value <= most);
            }
            let own = rules.value(["step_1_v", "step_2_v", "step_3_v"][s.number - 1]);
            prop_assert!(s.volts.value <= own);
            prop_assert!(s.dwell_s.value <= rules.value("dwell_s"));
            prop_assert!(s.joules.value <= rules.value("step_j"));
            prop_assert!(s.volts.value * s.amps.value * s.dwell_s.value <= rules.value("step_j") * (1.0 + 1e-12));
            if let Some(e) = s.expected {
                prop_assert!(e.amps.0 <= e.amps.1 && e.watts.0 <= e.watts.1 && e.rise_k.0 <= e.rise_k.1);
                prop_assert!(e.amps.1 <= s.amps.value);
                prop_assert!(e.watts.1 <= s.volts.value * s.amps.value * (1.0 + 1e-12));
            }
        }
    }

    #[test]
    fn tightening_a_rule_or_an_input_never_raises_a_ceiling(inputs in any_inputs(), which in 0..28_usize, factor in 0.01..1.0) {
        let mut rules = standard();
        let loose = plan(&Inputs { changes: vec![], ..inputs.clone() }, &rules);
        rules.rules[which].value *= factor;
        let tight = plan(&Inputs { changes: vec![], ..inputs.clone() }, &rules);
        below(&tight, &loose)?;
        let lower = |v: Option<f64>| v.map(|v| v * factor);
        let loose = made(&inputs);
        for tighter in [
            Inputs { least_volts: lower(inputs.least_volts), ..inputs.clone() },
            Inputs { supply_most_volts: lower(inputs.supply_most_volts), ..inputs.clone() },
            Inputs { supply_most_amps: lower(inputs.supply_most_amps), ..inputs.clone() },
            Inputs { leads_most_amps: lower(inputs.leads_most_amps), ..inputs.clone() },
            Inputs { probe_most_amps: lower(inputs.probe_most_amps), ..inputs.clone() },
            Inputs { trace_width_mm: lower(inputs.trace_width_mm), ..inputs.clone() },
        ] {
            // Lowering volts below 60 takes a refusal away, which is no ceiling raised by a tighter rule.
            if !loose.refusals.is_empty() { continue; }
            below(&made(&tighter), &loose)?;
        }
    }

    #[test]
    fn the_unknown_is_never_looser_than_something_harmless(inputs in any_inputs()) {
        let known = Inputs {
            nominal_volts: Some(20.0), kind: Some(RailUse::MainInput), back_driven: Back::None,
            leads_most_amps: Some(9.0), probe_most_amps: Some(9.0), changes: vec![], ..inputs
        };
        let loose = made(&known);
        for less in [
            Inputs { nominal_volts: None, ..known.clone() },
            Inputs { kind: None, nominal_volts: None, ..known.clone() },
            Inputs { kind: None, ..known.clone() },
            Inputs { back_driven: Back::Unknown, ..known.clone() },
            Inputs { leads_most_amps: None, ..known.clone() },
            Inputs { probe_most_amps: None, ..known.clone() },
            Inputs { ohms: None, ..known.clone() },
            Inputs { lead_ohms: None, ..known.clone() },
        ] {
            below(&made(&less), &loose)?;
        }
    }
}

#[test]
fn words_and_the_document_say_the_same() {
    let plan = made(&main_input());
    let table = plan.table();
    assert!(table.contains("step 3 amps: main input, step 3 [main_3_a;"), "{table}");
    assert!(table.contains("1     0.30   1.00"), "{table}");
    let json = serde_json::to_string(&PlanReport::from(plan.clone())).unwrap();
    assert!(json.starts_with("{\"schema\":\"joulemark.plan/1\",\"rail\":\"VIN\""), "{json}");
    assert_eq!(serde_json::from_str::<PlanReport>(&json).unwrap().plan.steps.len(), plan.steps.len());
    let refused = made(&Inputs { nominal_volts: Some(80.0), ..main_input() }).table();
    assert!(refused.contains("Do not inject") && !refused.contains("\nstep "), "{refused}");
}
