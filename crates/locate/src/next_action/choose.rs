//! The order of questions.
//!
//! 1. Was something done since the last reading? Measure again. 2. Does the rail read healthy now? Finish the repair.
//! 3. Has the meter more to say? Measure. 4. Is the short too hard for heat? Survey. 5. May the rail be injected at all?
//! 6. Film, inject, locate. 7. Act on what was found; where heat shows nothing, go on from the harmless to the laborious.

use super::{Action, Deed, Doing, Filmed, Found, NextAction, Plan, State, cautions};
use crate::{
    readings::{RankedRail, Verdict, decision::Next},
    survey,
};

/// Below this a suspect is no better than all the others together.
const MORE_LIKELY_THAN_NOT: f64 = 0.5;
/// Below this share of the watts, with two standard errors, most heat is somewhere else. Common practice, no published
/// source.
const MOST_OF_THE_HEAT: f64 = 0.5;

/// What to do next.
pub fn next_action(state: &State) -> NextAction {
    after_a_change(state)
        .or_else(|| finish(state))
        .or_else(|| measure(state))
        .or_else(|| other_rail(state))
        .or_else(|| survey_first(state))
        .or_else(|| plan(state))
        .or_else(|| film(state))
        .unwrap_or_else(|| act_on_found(state))
}

fn proposal(action: Action, say: impl Into<String>, because: impl Into<String>) -> NextAction {
    NextAction { action, say: say.into(), because: because.into(), cautions: &[] }
}

impl NextAction {
    fn with(self, cautions: &'static [&'static str]) -> Self {
        Self { cautions, ..self }
    }
}

fn after_a_change(state: &State) -> Option<NextAction> {
    let change = state.last_change()?;
    if state.read_after.is_some_and(|after| after >= change.number) {
        return None;
    }
    let rail = &state.rail;
    let (say, because) = match change.what {
        Doing::Lifted => (
            format!("Measure {rail} again before fitting a new part"),
            format!("{} was lifted; another short may be in parallel", change.part),
        ),
        Doing::Separated => (format!("Measure {rail} on each half"), "the halves were separated".to_owned()),
        Doing::Replaced => (format!("Measure {rail} again"), format!("{} was replaced", change.part)),
        Doing::Cleaned | Doing::Dried | Doing::Coated => {
            (format!("Measure {rail} again"), "dirt and water conduct: the fault may be gone".to_owned())
        }
    };
    Some(proposal(Action::MeasureAgain { after: change.number }, say, because))
}

fn finish(state: &State) -> Option<NextAction> {
    let rail = state.this_rail()?;
    let change = state.last_change()?;
    if rail.verdict != Verdict::Healthy {
        return None;
    }
    let reads = rail.changed.clone().unwrap_or_else(|| "the rail looks healthy".to_owned());
    if let Some(Deed { part, .. }) = state.lifted_and_open().filter(|d| !d.part.is_empty()) {
        let next = proposal(
            Action::FitNew { part: part.clone() },
            format!("Fit a new {part}, then measure {} again", rail.rail),
            format!("{reads}: with {part} lifted the fault is gone"),
        );
        return Some(next.with(cautions::LIFT));
    }
    // Taking halves apart repairs nothing: the fault is in the other half or in the joint.
    if change.what == Doing::Separated {
        return None;
    }
    if state.tried.repair_check {
        return Some(proposal(Action::Done, format!("{} is repaired and checked", rail.rail), reads));
    }
    Some(proposal(
        Action::RecordRepairCheck,
        "Record the repair check: readings again, then the device's own test",
        reads,
    ))
}

fn measure(state: &State) -> Option<NextAction> {
    let proposed = state.proposal.as_ref().filter(|p| !matches!(p.next, Next::Film | Next::Survey))?;
    // What was located goes before further readings, except where the rail may be healthy after all.
    let located = state.take().and_then(|f| f.found.as_ref()).is_some_and(|f| f.lead.is_some());
    let may_be_healthy = state.this_rail().is_some_and(|r| r.verdict == Verdict::MayBeHealthy);
    if located && !may_be_healthy {
        return None;
    }
    let (action, hands) = match proposed.next {
        Next::SeparateHalves => (Action::SeparateHalves, cautions::OPEN_UP),
        Next::LiftSeriesPart => (Action::Measure(proposed.clone()), cautions::LIFT),
        _ => (Action::Measure(proposed.clone()), &[][..]),
    };
    Some(proposal(action, proposed.say.clone(), proposed.because.clone()).with(hands))
}

/// A rail without a fault is left for the most abnormal one, or for good.
fn other_rail(state: &State) -> Option<NextAction> {
    let rail = state.this_rail()?;
    if rail.verdict != Verdict::Healthy {
        return None;
    }
    let worse = |r: &&RankedRail| r.rail != rail.rail && (r.verdict.faulty() || r.verdict == Verdict::MayBeHealthy);
    let because = format!("{} looks healthy", rail.rail);
    Some(match state.ranked.iter().find(worse) {
        Some(worst) => proposal(
            Action::TakeRail { rail: worst.rail.clone() },
            format!("Go on with {}", worst.rail),
            format!("{because}; {} is {}", worst.rail, worst.verdict.words()),
        ),
        None => match state.ranked.iter().find(|r| r.judged.is_empty()) {
            Some(unread) => {
                proposal(Action::TakeRail { rail: unread.rail.clone() }, format!("Measure {}", unread.rail), because)
            }
            None => proposal(Action::Stop, "No rail reads abnormal: nothing to inject", because),
        },
    })
}

/// Below 50 milliohms the short makes little heat at the amps that are allowed.
fn survey_first(state: &State) -> Option<NextAction> {
    let hard = state.this_rail()?.ohms.is_some_and(|ohms| ohms < survey::BELOW_OHMS);
    let refused = matches!(state.plan, Plan::Refused { .. });
    (hard && !state.tried.survey && !refused).then(|| {
        proposal(
            Action::Survey,
            "Survey the millivolts: fixed current, at most 1 A, drops to ground along the rail",
            "below 50 milliohms the short makes little heat; the smallest drop is nearest to it",
        )
        .with(&survey::CAUTIONS)
    })
}

fn plan(state: &State) -> Option<NextAction> {
    match &state.plan {
        Plan::Refused { reason } if state.tried.looked => {
            let say = "Do not inject: leave this rail to licensed practice or find the fault without power";
            Some(proposal(Action::Stop, say, reason.clone()))
        }
        Plan::Refused { reason } => {
            let because = format!("injection is refused: {reason}");
            Some(look(&because))
        }
        _ if !state.volts_known
            && !state.tried.nominal_unknowable
            && (state.plan == Plan::None || state.take().is_none()) =>
        {
            Some(proposal(
                Action::StateNominal,
                format!("State the nominal volts of {}, or the lowest it works at", state.rail),
                "the limits follow from them; without them only the strictest are allowed",
            ))
        }
        Plan::None => {
            Some(proposal(Action::MakePlan, "Work out the limits of injection", "nothing is injected without them"))
        }
        Plan::Ready { .. } => None,
    }
}

fn film(state: &State) -> Option<NextAction> {
    let take = state.take();
    if take.is_none() && !state.cautions_read {
        return Some(cautions_first());
    }
    // A take that showed the place already needs no more frames before.
    let showed = |t: &&Filmed| t.found.as_ref().is_some_and(|f| f.lead.is_some());
    let Some(take) = take.filter(|t| t.before_enough || showed(t)) else {
        let because = match state.last_deed() {
            Some(Deed { what: Doing::Lifted, part, .. }) if !part.is_empty() => {
                format!("with {part} lifted the rail is still at fault: another short is in parallel")
            }
            Some(Deed { what: Doing::Coated, part, .. }) => {
                format!("{part} is coated: the earlier take shows it shiny")
            }
            _ => "at least 5 s and 30 frames without power show what does not come from the injection".to_owned(),
        };
        return Some(proposal(Action::FilmBefore, "Film the board before the injection, everything still", because));
    };
    match (take.step, &take.found) {
        (None, _) => Some(inject(state, 0, "the frames before are there")),
        (Some(_), None) => Some(proposal(
            Action::Locate,
            "Locate the heat in this take",
            "frames before and during injection are there",
        )),
        (Some(_), Some(_)) => None,
    }
}

fn cautions_first() -> NextAction {
    proposal(
        Action::ReadCautions,
        "Read the cautions and acknowledge them for this connection",
        "polarity, battery and limits come before power",
    )
    .with(cautions::INJECT)
}

fn inject(state: &State, step: usize, because: &str) -> NextAction {
    let allowed = matches!(state.plan, Plan::Ready { steps, .. } if step < steps);
    if !allowed {
        return proposal(Action::MakePlan, "Work out the limits of injection", "the plan has no such step");
    }
    if !state.cautions_read {
        return cautions_first();
    }
    proposal(Action::Inject { step }, format!("Inject step {} of the plan", step + 1), because).with(cautions::INJECT)
}

fn look(because: &str) -> NextAction {
    let say = "Power off: look with a lens and light, clean and dry, then measure again";
    proposal(Action::LookCleanDry, say, because).with(cautions::OPEN_UP)
}

fn act_on_found(state: &State) -> NextAction {
    let Some((take, found)) = state.take().and_then(|t| Some((t, t.found.as_ref()?))) else {
        return proposal(Action::Stop, "Nothing is left to propose", "no take says more");
    };
    let Some(lead) = found.lead.as_ref().filter(|l| l.nothing_probability <= MORE_LIKELY_THAN_NOT) else {
        return nothing_warms(state, take, found);
    };
    if lead.at_probe {
        let because = "only the probe's contact or the track that feeds it warms";
        return proposal(Action::MoveProbe, "Output off: feed the rail at another point, then film again", because)
            .with(cautions::INJECT);
    }
    if let Some(next) = heat_elsewhere(state, found) {
        return next;
    }
    if lead.part.is_empty() {
        return if state.tried.looked {
            not_seen(state, "something warms that is not on the drawing")
        } else {
            look("something warms that is not on the drawing: solder, dirt or a broken layer")
        };
    }
    if !lead.group.is_empty() && !state.tried.closer && found.too_coarse.is_some() {
        let because = format!("the picture does not tell {} apart", lead.group.join(", "));
        let say = found.too_coarse.clone().unwrap_or_default();
        return proposal(Action::FilmCloser, say, because);
    }
    if lead.probability < MORE_LIKELY_THAN_NOT
        && let Some(step) = state.next_step()
    {
        let percent = 100.0 * lead.probability;
        return inject(state, step, &format!("{} has {percent:.0} %: the next step tells more", lead.part));
    }
    lift(state, lead)
}

fn lift(state: &State, lead: &super::Lead) -> NextAction {
    let gone = |part: &String| state.lifted_and_open().is_some_and(|d| d.part == *part);
    let group = if lead.group.is_empty() { std::slice::from_ref(&lead.part) } else { &lead.group[..] };
    let Some(part) = group.iter().find(|p| !gone(p)) else {
        return not_seen(state, "the suspects were lifted");
    };
    let because = if group.len() > 1 {
        format!("{} cannot be told apart: lift them one by one, in this order", group.join(", "))
    } else {
        format!("it is the most probable, {:.0} %", 100.0 * lead.probability)
    };
    proposal(Action::Lift { part: part.clone() }, format!("Lift {part} and measure {} again", state.rail), because)
        .with(cautions::LIFT)
}

/// Watts that the picture does not explain are on another face. A relative take has no watts.
fn heat_elsewhere(state: &State, found: &Found) -> Option<NextAction> {
    let (share, se) = found.explained.filter(|_| !found.relative)?;
    let face = state.face_to_film().filter(|_| share + 2.0 * se < MOST_OF_THE_HEAT)?;
    let because = format!("this picture explains {:.0} % of the power: the rest warms somewhere else", 100.0 * share);
    Some(other_face(face, &because))
}

fn other_face(face: &str, because: &str) -> NextAction {
    let say = format!("Output off: turn the board or move the camera to {face}, line it up and film again");
    proposal(Action::OtherFace { face: face.to_owned() }, say, because)
}

fn nothing_warms(state: &State, take: &Filmed, found: &Found) -> NextAction {
    let why = found.warnings.first().map_or_else(
        || format!("nothing warms on {} beyond its noise", if take.face.is_empty() { "this face" } else { &take.face }),
        Clone::clone,
    );
    if let Some(step) = state.next_step() {
        return inject(state, step, &format!("{why}; the plan allows one more step"));
    }
    if let Some(next) = heat_elsewhere(state, found) {
        return next;
    }
    not_seen(state, &why)
}

/// Where heat and camera fail: the harmless first.
fn not_seen(state: &State, why: &str) -> NextAction {
    if let Some(part) = state.part_to_coat() {
        let because = format!("{why}; {part} is shiny, and the camera under-reads it");
        let say = format!("Coat {part}: power off, removable matt tape first, then film again");
        return proposal(Action::Coat { part: part.to_owned() }, say, because).with(cautions::COAT);
    }
    if let Some(face) = state.face_to_film() {
        return other_face(face, why);
    }
    if !state.tried.looked {
        return look(why);
    }
    let low = state.this_rail().and_then(|r| r.ohms).is_some_and(|ohms| ohms < survey::BELOW_OHMS);
    if low && !state.tried.survey {
        let say = "Survey the millivolts: fixed current, at most 1 A, drops to ground along the rail";
        return proposal(Action::Survey, say, why).with(&survey::CAUTIONS);
    }
    if !state.tried.alcohol_or_frost {
        let say = "Film drying alcohol or melting frost, as a plain take within the plan";
        return proposal(Action::AlcoholOrFrost, say, why).with(cautions::ALCOHOL_OR_FROST);
    }
    proposal(Action::Stop, "Heat shows no more: go by schematic and meter, or lift series parts one by one", why)
}
