//! What is said beside the ladder: why nothing may be injected, what has to be confirmed, what to bear in mind.

use super::{Back, Inputs, Plan, RailUse, Rules, Said};
use crate::{
    ledger::{LEAK_OHMS, is_leak, leakage_advice},
    survey::BELOW_OHMS,
};

pub(super) const PRACTICE: &str = "common practice, no published source";

pub(super) fn said(id: &str, words: impl Into<String>, source: &str) -> Said {
    Said { id: id.to_owned(), words: words.into(), source: source.to_owned() }
}

pub(super) fn refusals(inputs: &Inputs, rules: &Rules) -> Vec<Said> {
    let mut out = Vec::new();
    let magnitudes = [
        inputs.least_volts,
        inputs.ohms,
        Some(inputs.ohms_doubt),
        inputs.lead_ohms,
        inputs.supply_least_volts,
        inputs.supply_most_volts,
        inputs.supply_most_amps,
        inputs.leads_most_amps,
        inputs.probe_most_amps,
        inputs.trace_width_mm,
        inputs.copper_um,
        inputs.measured_kelvin_per_watt,
        inputs.camera.map(|c| c.netd_k),
        inputs.camera.map(|c| c.rate_hz),
    ];
    let signed =
        [inputs.nominal_volts, inputs.weakest.as_ref().map(|w| w.volts), inputs.joined_least.as_ref().map(|j| j.1)];
    if magnitudes.iter().flatten().any(|v| !(v.is_finite() && *v >= 0.0))
        || signed.iter().flatten().any(|v| !v.is_finite())
    {
        out.push(said("input", "a value given is not a number, or below zero: correct it", "what was given"));
    }
    let limit = rules.value("refuse_v");
    let source = rules.rule("refuse_v").map_or("", |r| r.source.as_str());
    for (what, volts) in [("nominal", inputs.nominal_volts), ("lowest working", inputs.least_volts)] {
        if let Some(v) = volts.filter(|v| v.abs() > limit) {
            let words =
                format!("{} has {what} {v} V, above {limit} V, where touching it can kill: do not inject", inputs.rail);
            out.push(said("refuse_v", words, source));
        }
    }
    let c = inputs.confirmed;
    for (answer, id, words) in [
        (c.isolated_from_mains, "mains", "the device is not isolated from mains: do not inject"),
        (
            c.cells_out,
            "lithium",
            "a lithium cell can be reached: take the pack and the coin cell out first; never charge through a fault",
        ),
        (c.polarity_right, "polarity", "polarity is reversed: output off, swap the leads, measure again"),
        (c.discharged, "discharged", "capacitors still hold charge: discharge and measure them first"),
    ] {
        if answer == Some(false) {
            out.push(said(id, words, PRACTICE));
        }
    }
    out
}

pub(super) fn pending(inputs: &Inputs) -> Vec<Said> {
    let c = inputs.confirmed;
    [
        (c.isolated_from_mains, "mains", "confirm that the device is isolated from mains"),
        (c.cells_out, "lithium", "confirm that battery and coin cell are out"),
        (c.polarity_right, "polarity", "confirm the polarity, measured with the output off"),
        (c.discharged, "discharged", "confirm that the capacitors are discharged"),
    ]
    .into_iter()
    .filter(|(answer, ..)| answer.is_none())
    .map(|(_, id, words)| said(id, words, PRACTICE))
    .collect()
}

pub(super) fn warnings(inputs: &Inputs, rules: &Rules, plan: &Plan) -> Vec<Said> {
    let mut out = Vec::new();
    let mut warn = |id: &str, words: String| out.push(said(id, words, PRACTICE));
    if matches!(plan.kind, Some(RailUse::Core | RailUse::Memory)) {
        let ohms = inputs.ohms.map_or_else(String::new, |r| format!("{r} ohms "));
        warn(
            "core_low",
            format!(
                "{ohms}can be healthy on a {}: compare a good board before anything is lifted",
                plan.kind.map_or("", RailUse::as_rail)
            ),
        );
    }
    match (inputs.ohms, inputs.nominal_volts) {
        (None, _) => {
            warn("ohms_unknown", "the resistance is not known: no heat can be foretold; measure it first".into());
        }
        (Some(r), nominal) if is_leak(r) => {
            let at_these_volts = || {
                let most = plan.steps.last().map_or(0.0, |s| s.volts.value);
                format!(
                    "{r:.0} ohm is a leak, not a short: {most:.2} V put {:.1} mW into it; more volts only once a nominal or lowest \
                     working volts is known; pulse the output key and film a good board at the same volts",
                    1e3 * most * most / r
                )
            };
            warn("leakage", leakage_advice(nominal, r).unwrap_or_else(at_these_volts));
        }
        (Some(r), _) if r < BELOW_OHMS => warn(
            "hard_short",
            format!("{r} ohms is a hard short: it warms little; a millivolt survey finds it without heat"),
        ),
        (Some(r), _) if r > LEAK_OHMS.1 => {
            warn("high_ohms", format!("{r:.0} ohms is no short that heat shows at these volts"));
        }
        _ => {}
    }
    if inputs.ohms.is_some_and(|r| inputs.ohms_doubt > 0.3 * r) {
        warn(
            "ohms_doubt",
            "the meter's own leads are as large as the reading: measure their resistance and take it off".into(),
        );
    }
    if inputs.lead_ohms.is_none() {
        warn(
            "leads_unknown",
            "the leads' resistance is not known: heat at the board is only a range, and missing watts prove nothing"
                .into(),
        );
    }
    match &inputs.back_driven {
        Back::Some(parts) => warn("back_driven", format!("{} could be driven backwards", parts.join(", "))),
        Back::Unknown => warn("converters_unknown", "state whether a converter could be driven backwards".into()),
        Back::None => {}
    }
    if inputs.nominal_volts.is_none() {
        warn(
            "nominal_unknown",
            "nominal volts are not known: state the least that the rail works at before going above the first volts"
                .into(),
        );
    }
    if let Some(step) = plan.steps.iter().find(|s| s.volts.value > rules.value("silicon_v")) {
        warn(
            "silicon",
            format!("from step {} on healthy silicon draws and warms: warmth alone proves nothing there", step.number),
        );
    }
    if inputs.relative {
        warn("relative", "the take has no temperatures: time and energy bind, and a hot part is not told".into());
    } else if let Some(within_s) = rules.burns_within_s(rules.value("stop_c")) {
        let words = format!("bare metal at {} °C burns skin within {within_s:.0} s", rules.value("stop_c"));
        out.push(said("skin", words, &rules.skin_source));
    }
    if let Some(n) = plan.enough.filter(|n| *n < plan.steps.len()) {
        out.push(said(
            "enough",
            format!("step {n} is enough; more adds risk, not information"),
            "expected rise against the camera's noise",
        ));
    }
    for change in plan.changes.iter().filter(|c| c.loosened || c.refused.is_some()) {
        let words = match &change.refused {
            Some(why) => format!("rule {}: asked for a change, {why}; it stands at {}", change.id, change.to),
            None => format!(
                "rule {} was loosened from {} to {} by {}: {}",
                change.id,
                change.from,
                change.to,
                if change.by.is_empty() { "somebody unnamed" } else { &change.by },
                change.reason
            ),
        };
        out.push(said("changed", words, "typed at the bench"));
    }
    out
}
