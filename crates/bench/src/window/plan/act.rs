//! From what the hands ask to what changes in the case.

use super::{
    super::{
        bench_edit::{BenchEdit, BenchPart},
        engine,
        session::Session,
    },
    PlanCommand,
};
use crate::case::{
    clock,
    plan::{Override, PlanChoices},
};

/// The change that a command asks for, or why it is refused.
///
/// # Errors
/// One line that says why.
pub fn edit(session: &Session, command: PlanCommand) -> Result<BenchEdit, String> {
    let case = &session.document.case;
    let rail = case.rail.clone();
    let mut plan = case.plan.clone();
    let words = match command {
        PlanCommand::Step(step) => {
            plan.step = step;
            let judged = session.judged();
            let limits = judged.plan.in_force(step).map(|(_, s)| format!(", {}, {}", s.volts.text, s.amps.text));
            format!("step {} of the plan{}", step + 1, limits.unwrap_or_default())
        }
        PlanCommand::Number(number, value) => {
            number.set(&mut plan, &rail, value);
            let said = value.map_or("unknown".to_owned(), |v| v.to_string());
            format!("{}: {said}", number.words())
        }
        PlanCommand::Use(use_of) => {
            plan.uses.retain(|(name, _)| *name != rail);
            plan.uses.extend(use_of.map(|u| (rail.clone(), u)));
            format!("{rail} is for: {}", use_of.map_or("as its volts say", |u| u.words()))
        }
        PlanCommand::VoltsUnknowable(unknowable) => {
            plan.unknowable_volts.retain(|name| *name != rail);
            if unknowable {
                plan.unknowable_volts.push(rail.clone());
            }
            format!("volts of {rail}: {}", if unknowable { "cannot be known" } else { "to be stated" })
        }
        PlanCommand::TraceOnSurface(surface) => {
            plan.trace_on_surface = surface;
            format!("narrowest trace {}", if surface { "on the surface" } else { "perhaps inside the board" })
        }
        PlanCommand::Override { rule, value, reason } => {
            let made = over(session, &rule, value, &reason)?;
            let words = format!("{rule} to {value}: {reason}");
            plan.overrides.retain(|o| o.rule != made.rule || o.rail != made.rail);
            plan.overrides.push(made);
            return Ok(change(format!("override {words}"), format!("override at {rail}: {words}"), plan));
        }
        PlanCommand::DropOverride(index) => {
            if index >= plan.overrides.len() {
                return Err("that override is gone already".to_owned());
            }
            let gone = plan.overrides.remove(index);
            format!("override of {} taken back", gone.rule)
        }
        PlanCommand::Ready(question, yes) => {
            plan.ready.retain(|q| *q != question);
            if yes {
                plan.ready.push(question.clone());
            }
            let answer = if yes { "seen to" } else { "open" };
            format!("before filming, {question}: {answer}")
        }
    };
    Ok(change(words.clone(), words, plan))
}

fn change(words: String, record: String, plan: PlanChoices) -> BenchEdit {
    BenchEdit { words, record: Some(record), part: BenchPart::Plan(Box::new(plan)) }
}

/// An override, once it has a reason and a name and the engine takes it.
///
/// # Errors
/// One line that says what is missing.
pub fn over(session: &Session, rule: &str, value: f64, reason: &str) -> Result<Override, String> {
    let by = session.journal.by.clone();
    if by.is_empty() {
        return Err("an override needs a name: say who is at the bench first".to_owned());
    }
    let reason = reason.trim();
    if reason.split_whitespace().count() < 2 {
        return Err("an override needs a reason in words; it is printed in the report".to_owned());
    }
    engine::allows_change(rule, value, reason, &by)?;
    Ok(Override {
        rail: session.document.case.rail.clone(),
        rule: rule.to_owned(),
        value,
        reason: reason.to_owned(),
        time: clock::now(),
        by,
    })
}
