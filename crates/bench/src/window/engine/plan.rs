//! The injection plan: from the case to the engine's inputs, and its answer in the window's words.

use joulemark_frames::Unit;
use joulemark_locate::limits::{self, Camera, Ceiling, Change, Confirmations, Inputs, Plan, Rules, Seen, Step};

use super::{
    super::{
        plan::view::{Figure, Loosenable, PlanView, StepView},
        session::Session,
    },
    CautionView,
};
use crate::case::{books::Books, connection::LIMITS};

/// The rule book in force.
fn rules() -> &'static Rules {
    &Books::in_force().limits
}

/// All cautions of the rule book.
pub(super) fn cautions() -> Vec<CautionView> {
    let view = |c: &limits::Caution| CautionView {
        id: c.id.clone(),
        words: c.words.clone(),
        before_injection: c.before_injection,
    };
    rules().cautions.iter().map(view).collect()
}

/// Whether the rule book takes a change.
///
/// # Errors
/// Why it does not, one line.
pub fn allows_change(rule: &str, value: f64, reason: &str, by: &str) -> Result<(), String> {
    let change = Change { id: rule.to_owned(), value, reason: reason.to_owned(), by: by.to_owned() };
    let (_, told) = rules().changed(&[change]);
    match told.into_iter().find_map(|c| c.refused) {
        Some(why) => Err(why),
        None => Ok(()),
    }
}

/// What is known about the case's rail.
fn inputs(session: &Session) -> Inputs {
    let case = &session.document.case;
    let rail = &case.rail;
    let view = session.view();
    let located = view.and_then(|v| Some((v, v.located.as_ref()?)));
    let seen = |caution: &str| {
        session
            .document
            .connection()
            .and_then(|c| c.seen(caution, rail, "").filter(|_| caution != LIMITS))
            .map(|_| true)
    };
    Inputs {
        camera: located.and_then(|(view, located)| Camera::of(located, &view.take.timeline)),
        measured_kelvin_per_watt: located.and_then(|(_, located)| located.kelvin_per_watt()),
        relative: view.is_some_and(|v| v.take.unit == Unit::Relative),
        confirmed: Confirmations {
            // One caution of the book covers both.
            isolated_from_mains: seen("discharged"),
            cells_out: seen("battery"),
            polarity_right: seen("polarity"),
            discharged: seen("discharged"),
        },
        ..case.plan_inputs(&session.board, rail)
    }
}

/// The plan for the case's rail.
pub(super) fn plan(session: &Session) -> Plan {
    limits::plan(&inputs(session), rules())
}

/// A number with three figures and no more zeros than it needs.
fn number(value: f64) -> String {
    let decimals = (2 - value.abs().max(1e-9).log10().floor() as i32).clamp(0, 3) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A ceiling is cut off, never rounded up.
fn cut(value: f64) -> f64 {
    let scale = 10f64.powi((2 - value.abs().max(1e-9).log10().floor() as i32).clamp(0, 3));
    (value * scale + 1e-9).floor() / scale
}

fn figure(ceiling: &Ceiling, sign: &str, unit: &str) -> Figure {
    Figure {
        text: format!("{sign}{} {unit}", number(cut(ceiling.value))),
        because: ceiling.because.clone(),
        source: format!("Rule {}: {}", ceiling.rule, ceiling.source),
    }
}

/// The plan as the window says it.
pub(super) fn in_words(session: &Session, plan: &Plan) -> PlanView {
    if session.rail().is_none() {
        let rail = &session.document.case.rail;
        let refusal = if rail.is_empty() {
            "Choose the shorted rail first: there are no limits without it.".to_owned()
        } else {
            format!("Rail {rail} is not on the drawing: choose the shorted rail first.")
        };
        return PlanView { refusals: vec![refusal], ..PlanView::default() };
    }
    let sign = if plan.swap_leads { "\u{2212}" } else { "" };
    let said = |s: &limits::Said| format!("{}.", s.words);
    PlanView {
        refusals: plan.refusals.iter().map(said).collect(),
        steps: plan.steps.iter().map(|step| step_in_words(plan, step, sign)).collect(),
        advice: plan.warnings.iter().map(said).chain(Books::in_force().faults.iter().cloned()).collect(),
        loosened: loosenable(plan),
    }
}

fn step_in_words(plan: &Plan, step: &Step, sign: &str) -> StepView {
    let mut expected = Vec::new();
    if let Some(e) = &step.expected {
        expected.push(format!("{} to {} A", number(e.amps.0), number(e.amps.1)));
        expected.push(format!("{} to {} W at the board", number(e.watts.0), number(e.watts.1)));
    }
    expected.extend(step.notes.iter().cloned());
    if step.expected.is_none() {
        expected.push("unknown until the ohms are measured".to_owned());
    }
    let note = plan.enough.filter(|&n| step.number >= n).map(|n| match step.number == n {
        true => format!("step {n} is enough"),
        false => format!("step {n} is enough; more adds risk, not information"),
    });
    let note = note.or_else(|| (step.seen == Seen::No).then(|| "the camera will hardly see this".to_owned()));
    let energy = figure(&step.joules, "", "J");
    StepView {
        volts: figure(&step.volts, sign, "V"),
        amps: figure(&step.amps, "", "A"),
        stop: step.stop_c.as_ref().map_or_else(|| energy.clone(), |stop| figure(stop, "", "\u{b0}C")),
        dwell: figure(&step.dwell_s, "", "s"),
        expected,
        note,
    }
}

/// The rules that bind somewhere in the plan and may be loosened.
fn loosenable(plan: &Plan) -> Vec<Loosenable> {
    let mut found: Vec<Loosenable> = Vec::new();
    for step in &plan.steps {
        let ceilings =
            [Some(&step.volts), Some(&step.amps), Some(&step.dwell_s), Some(&step.joules), step.stop_c.as_ref()];
        for ceiling in ceilings.into_iter().flatten() {
            let Some(rule) = rules().rule(&ceiling.rule).filter(|r| r.loosen_to.is_some()) else {
                continue;
            };
            if found.iter().all(|l| l.rule != rule.id) {
                let value = plan.changes.iter().rev().find(|c| c.id == rule.id).map_or(rule.value, |c| c.to);
                found.push(Loosenable {
                    rule: rule.id.clone(),
                    words: rule.words.clone(),
                    unit: rule.unit.clone(),
                    value,
                });
            }
        }
    }
    found
}
