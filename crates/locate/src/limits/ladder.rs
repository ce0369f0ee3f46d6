//! Builds the ladder: every ceiling is the lowest of all rules that speak about it.

use super::{
    Back, Ceiling, Inputs, Plan, RailUse, Rules, Seen, Step,
    expect::{self, At},
    remarks::{pending, refusals, said, warnings},
};
use crate::copper::trace_amps;

const STEPS: usize = 3;

/// The plan for one rail. Refused plans have no steps.
pub fn plan(inputs: &Inputs, standard: &Rules) -> Plan {
    let (rules, changes) = standard.changed(&inputs.changes);
    let kind = inputs.kind.or(inputs.nominal_volts.map(RailUse::of_volts));
    let mut plan = Plan {
        rail: inputs.rail.clone(),
        kind,
        refusals: refusals(inputs, &rules),
        pending: pending(inputs),
        steps: Vec::new(),
        enough: None,
        warnings: Vec::new(),
        changes,
        swap_leads: inputs.nominal_volts.is_some_and(|v| v < 0.0),
    };
    if plan.refusals.is_empty() {
        let levels = if inputs.nominal_volts.is_none() && inputs.least_volts.is_none() { 2 } else { STEPS };
        for number in 1..=levels {
            let (volts, amps) = (volts(inputs, &rules, kind, number), amps(inputs, &rules, kind, number));
            plan.steps.push(step(inputs, &rules, number, volts, amps));
        }
        // A last step that lets nothing more through than the one before is none.
        while let [.., before, last] = plan.steps.as_slice()
            && same(before, last)
        {
            plan.steps.pop();
        }
        for i in 1..plan.steps.len() {
            if same(&plan.steps[i - 1], &plan.steps[i]) {
                plan.steps[i].notes.push("same ceilings as the step before".to_owned());
            }
        }
        below_the_supply(inputs, &mut plan);
        plan.enough = plan.steps.iter().find(|s| s.seen == Seen::Yes).map(|s| s.number);
    }
    plan.warnings = warnings(inputs, &rules, &plan);
    plan
}

fn same(a: &Step, b: &Step) -> bool {
    a.volts.value == b.volts.value && a.amps.value == b.amps.value
}

/// The lowest of all limits that were named.
struct Lowest(Option<Ceiling>);

impl Lowest {
    fn limit(&mut self, value: f64, rule: &str, because: impl Into<String>, source: &str) {
        if self.0.as_ref().is_none_or(|c| value < c.value) {
            let (rule, source) = (rule.to_owned(), source.to_owned());
            self.0 = Some(Ceiling { value, rule, because: because.into(), source });
        }
    }

    fn rule(&mut self, rules: &Rules, id: &str) {
        match rules.rule(id) {
            Some(r) => self.limit(r.value, id, r.words.clone(), &r.source),
            // A book without the rule lets nothing through.
            None => self.limit(0.0, id, "this rule is missing from the rule book", ""),
        }
    }

    fn found(self) -> Ceiling {
        self.0.unwrap_or(Ceiling { value: 0.0, rule: "none".into(), because: "no rule".into(), source: String::new() })
    }
}

fn volts(inputs: &Inputs, rules: &Rules, kind: Option<RailUse>, number: usize) -> Ceiling {
    let mut most = Lowest(None);
    // What the board bears is named first, so that it is named when it ties with a rule of practice.
    if let Some(v) = inputs.nominal_volts {
        most.limit(v.abs(), "nominal", format!("the rail's nominal {} V", v.abs()), "the rail itself; never exceeded");
    }
    if let Some(weak) = &inputs.weakest {
        let via =
            if weak.via.is_empty() { String::new() } else { format!(", reached through {}", weak.via.join(", ")) };
        let because = format!("{} bears {} V{via}", weak.part, weak.volts.abs());
        most.limit(weak.volts.abs(), "weakest_part", because, "the part's absolute maximum; never exceeded");
    }
    if let Some((rail, v)) = &inputs.joined_least {
        let because = format!("{rail}, joined to it at DC, has nominal {} V", v.abs());
        most.limit(v.abs(), "joined_rail", because, "the board drawing; never exceeded");
    }
    if let Some(v) = inputs.least_volts {
        most.limit(
            v,
            "least_volts",
            format!("the rail works from {v} V on"),
            "stated; variable rails count at their lowest",
        );
    }
    if let Some(v) = inputs.supply_most_volts {
        most.limit(v, "supply", "the supply gives no more", "the supply");
    }
    if inputs.nominal_volts.is_none() {
        let stated = inputs.least_volts.is_some();
        most.rule(rules, if stated && number == STEPS { "stated_v" } else { "unknown_v" });
    }
    most.rule(rules, &format!("step_{number}_v"));
    if matches!(kind, Some(RailUse::Core)) || inputs.core_behind.is_some() {
        most.rule(rules, "core_v");
    }
    match &inputs.back_driven {
        Back::Unknown => most.rule(rules, "converters_unknown_v"),
        Back::Some(_) => most.rule(rules, "back_driven_v"),
        Back::None => {}
    }
    most.found()
}

fn amps(inputs: &Inputs, rules: &Rules, kind: Option<RailUse>, number: usize) -> Ceiling {
    let mut most = Lowest(None);
    match kind {
        Some(RailUse::MainInput) => most.rule(rules, &format!("main_{number}_a")),
        Some(RailUse::System) => most.rule(rules, &format!("rail_{number}_a")),
        // Signals and memory are fed no more than a core.
        Some(_) => most.rule(rules, &format!("core_{number}_a")),
        None => {}
    }
    if inputs.nominal_volts.is_none() {
        most.rule(rules, if number == 1 { "unknown_1_a" } else { "unknown_2_a" });
    }
    let mut stated = |value: Option<f64>, id: &str, because: &str, unknown: Option<&str>| match (value, unknown) {
        (Some(a), _) => most.limit(a, id, because, "stated"),
        (None, Some(rule)) => most.rule(rules, rule),
        (None, None) => {}
    };
    stated(inputs.supply_most_amps, "supply", "the supply gives no more", None);
    stated(inputs.leads_most_amps, "leads", "the leads and connectors carry no more", Some("leads_unknown_a"));
    stated(inputs.probe_most_amps, "probe", "the probe's tip carries no more", Some("probe_unknown_a"));
    if let Some(width_mm) = inputs.trace_width_mm {
        let rise_k = rules.value("trace_rise_k");
        let um = inputs.copper_um.unwrap_or(rules.copper_um);
        let amps = trace_amps(width_mm, um, rise_k, inputs.trace_layer);
        let source = rules.rule("trace_rise_k").map_or("", |r| r.source.as_str());
        let because = format!("a trace of {width_mm} mm and {um} µm warms by {rise_k} K");
        most.limit(if amps.is_finite() { amps } else { 0.0 }, "trace", because, source);
    }
    most.found()
}

fn step(inputs: &Inputs, rules: &Rules, number: usize, volts: Ceiling, amps: Ceiling) -> Step {
    let watts = volts.value * amps.value;
    let mut dwell = Lowest(None);
    dwell.rule(rules, "dwell_s");
    if let Some(rule) = rules.rule("step_j").filter(|_| watts > 0.0) {
        let because = format!("{} J at {:.2} V and {:.2} A", rule.value, volts.value, amps.value);
        dwell.limit(rule.value / watts, "step_j", because, &rule.source);
    }
    let dwell_s = dwell.found();
    let mut joules = Lowest(None);
    joules.rule(rules, "step_j");
    joules.limit(watts * dwell_s.value, "dwell_s", "volts times amps times the dwell", &dwell_s.source);
    let expected = expect::expected(inputs, rules, At { volts: volts.value, amps: amps.value, dwell_s: dwell_s.value });
    let smallest_seen_k = expect::smallest_seen_k(inputs, rules, dwell_s.value);
    let seen = expect::seen(expected.as_ref(), smallest_seen_k);
    let mut stop = Lowest(None);
    stop.rule(rules, "stop_c");
    let mut notes = Vec::new();
    if volts.value > rules.value("silicon_v") {
        notes.push(format!("above {} V healthy silicon draws and warms", rules.value("silicon_v")));
    }
    if let (Some(e), Some(k)) = (&expected, smallest_seen_k) {
        let words = match seen {
            Seen::Yes => "should be seen",
            Seen::Perhaps => "may be seen",
            _ => "is below what the camera can tell apart",
        };
        notes.push(format!("{:.2} to {:.1} K {words}; {k:.3} K is the least that counts", e.rise_k.0, e.rise_k.1));
    }
    Step {
        number,
        volts,
        amps,
        dwell_s,
        joules: joules.found(),
        stop_c: (!inputs.relative).then(|| stop.found()),
        expected,
        smallest_seen_k,
        seen,
        notes,
    }
}

/// A supply that cannot be set as low as a step asks cannot be used for it.
fn below_the_supply(inputs: &Inputs, plan: &mut Plan) {
    let Some(least) = inputs.supply_least_volts else { return };
    if let Some(step) = plan.steps.iter().find(|s| s.volts.value < least) {
        let words = format!(
            "the supply cannot be set below {least} V and step {} allows {:.2} V: use another supply",
            step.number, step.volts.value
        );
        plan.refusals.push(said("supply_least", words, "the supply"));
        plan.steps.clear();
    }
}
