//! The next sensible thing at the bench: from the case to the engine's state, and its answer as a button.

use joulemark_locate::{
    align::PointPair,
    limits,
    next_action::{Action, Deed, Filmed, Found, Plan, State, Tried, next_action},
    readings::{RankedRail, decision},
};

use super::{
    super::{
        command::Command, document::Edit, plan::PlanCommand, session::Session, stage::Stage, survey::SurveyCommand,
    },
    Proposal, Readiness, ReadyItem,
};
use crate::case::{TakeEntry, intervention::Doing, reading::Quantity, shows::Shows};

/// A part whose emissivity is below this looks cooler than it is. Common practice, no published source.
const SHINY_BELOW: f64 = 0.5;

/// What the engine knows of the rest.
pub(super) struct Known<'a> {
    pub ranked: Vec<RankedRail>,
    pub proposal: Option<(decision::Proposal, Command)>,
    pub plan: &'a limits::Plan,
    pub cautions_read: bool,
    pub ready: &'a [ReadyItem],
}

/// The proposal, once something was measured or done: a case of recordings alone goes by its recordings.
pub(super) fn propose(session: &Session, known: Known<'_>) -> Option<Proposal> {
    let case = &session.document.case;
    if case.readings.is_empty() && case.interventions.is_empty() {
        return None;
    }
    let measure = known.proposal.as_ref().map(|(_, command)| command.clone());
    let next = next_action(&state(session, known));
    let rail = case.rail.clone();
    let command = match &next.action {
        Action::Measure(_) => measure?,
        Action::SeparateHalves => Command::AskDone(Doing::Separated, String::new()),
        Action::TakeRail { rail } => Command::Edit(Edit::Rail(rail.clone())),
        Action::StateNominal | Action::MakePlan | Action::ReadCautions | Action::MoveProbe => {
            Command::SetStage(Stage::Injection)
        }
        Action::Inject { step } if *step != case.plan.step => Command::Plan(PlanCommand::Step(*step)),
        Action::Inject { .. } | Action::FilmBefore | Action::OtherFace { .. } | Action::FilmCloser => {
            Command::BeforeFilming(true)
        }
        Action::AlcoholOrFrost => Command::AddPlainTake(Shows::DryingAlcohol),
        Action::Locate => Command::Locate,
        Action::Coat { part } => Command::AskDone(Doing::Coated, part.clone()),
        Action::Lift { part } => Command::AskDone(Doing::Lifted, part.clone()),
        Action::FitNew { part } => Command::AskDone(Doing::Replaced, part.clone()),
        Action::MeasureAgain { .. } => super::rails::ask(&rail, Quantity::Ohms, false, ""),
        Action::LookCleanDry => Command::AskDone(Doing::Cleaned, String::new()),
        Action::Survey => Command::Survey(SurveyCommand::Open),
        Action::RecordRepairCheck => Command::SetStage(Stage::RepairCheck),
        Action::Stop | Action::Done => Command::CaseLog(true),
    };
    let cautions = next.cautions.iter().map(|c| (*c).to_owned()).collect();
    Some(Proposal { words: next.say, because: next.because, command, cautions })
}

fn state(session: &Session, known: Known<'_>) -> State {
    let case = &session.document.case;
    let latest = session.document.latest_intervention();
    let of_rail = || case.readings.iter().filter(|r| r.rail == case.rail && !r.good_board);
    let done = |what: Doing| case.interventions.iter().any(|i| i.what == what);
    let taken = |name: &str| session.document.take(name).map_or(0, |t| t.after);
    let good = |id: &str| known.ready.iter().any(|item| item.id == id && item.state == Readiness::Good);
    let filmed = session.view().map(|view| Filmed {
        after: taken(&view.take.name),
        face: view.inputs.face.clone(),
        before_enough: good("before"),
        step: view.take.timeline.first_injected().map(|_| case.plan.step),
        found: view.located.as_deref().map(Found::of),
    });
    let on_rail = session.board.faces.iter().flat_map(|f| &f.parts).filter(|p| p.rails.contains(&case.rail));
    let shiny = on_rail.filter(|p| p.emissivity.is_some_and(|e| e < SHINY_BELOW));
    State {
        rail: case.rail.clone(),
        ranked: known.ranked,
        read_after: of_rail().map(|r| r.after).max(),
        proposal: known.proposal.map(|(proposal, _)| proposal),
        volts_known: session.rail().is_some_and(|r| r.nominal_volts.is_some())
            || case.plan.lowest_of(&case.rail).is_some(),
        plan: match (known.plan.refusals.first(), session.rail()) {
            (_, None) => Plan::None,
            (Some(why), _) => Plan::Refused { reason: why.words.clone() },
            (None, _) => {
                Plan::Ready { steps: known.plan.steps.len(), enough_at: known.plan.enough.map(|n| n.saturating_sub(1)) }
            }
        },
        cautions_read: known.cautions_read,
        filmed,
        faces_filmed: case.takes.iter().filter(|t| t.after >= latest).map(|t| t.face.clone()).collect(),
        faces: session.board.faces.iter().filter(|f| !f.parts.is_empty()).map(|f| f.name.clone()).collect(),
        shiny_parts: shiny.map(|p| p.designator.clone()).collect(),
        deeds: case
            .interventions
            .iter()
            .map(|i| Deed { number: i.number, what: i.what, part: i.part.clone() })
            .collect(),
        tried: Tried {
            looked: done(Doing::Cleaned) || done(Doing::Dried),
            survey: case.surveys.iter().any(|s| s.rail == case.rail && s.points.iter().any(|p| p.millivolts.is_some())),
            alcohol_or_frost: case.takes.iter().any(|t| t.shows.is_plain() && t.after >= latest),
            closer: filmed_closer(&case.takes, latest),
            repair_check: case.verdict().is_some_and(|v| taken(&v.after) >= latest),
            nominal_unknowable: case.plan.unknowable_volts.contains(&case.rail),
        },
    }
}

/// A take this many times closer than another one of the same side is a close-up.
const CLOSER: f64 = 1.3;

/// Whether a side was filmed again from nearer since the last thing done.
fn filmed_closer(takes: &[TakeEntry], latest: u32) -> bool {
    let scaled: Vec<(&str, f64)> = takes
        .iter()
        .filter(|t| t.after >= latest)
        .filter_map(|t| Some((t.face.as_str(), px_per_mm(&t.pairs)?)))
        .collect();
    scaled
        .iter()
        .enumerate()
        .any(|(i, (face, scale))| scaled[..i].iter().any(|(other, before)| other == face && *scale > CLOSER * before))
}

/// Pixels per millimetre, from how far the marked points lie apart in picture and drawing.
fn px_per_mm(pairs: &[PointPair]) -> Option<f64> {
    let mut apart = (0.0, 0.0);
    for (i, a) in pairs.iter().enumerate() {
        for b in &pairs[..i] {
            apart.0 += (a.x_px - b.x_px).hypot(a.y_px - b.y_px);
            apart.1 += (a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm);
        }
    }
    (apart.1 > 0.0).then(|| apart.0 / apart.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_close_up_is_a_later_take_of_the_same_side_with_more_pixels_to_the_millimetre() {
        let take = |face: &str, px: f64, after: u32| TakeEntry {
            face: face.into(),
            after,
            pairs: vec![
                PointPair { x_px: 0.0, y_px: 0.0, x_mm: 0.0, y_mm: 0.0 },
                PointPair { x_px: px, y_px: 0.0, x_mm: 10.0, y_mm: 0.0 },
            ],
            ..TakeEntry::default()
        };
        assert_eq!(px_per_mm(&take("top", 40.0, 0).pairs), Some(4.0));
        assert!(filmed_closer(&[take("top", 40.0, 0), take("top", 60.0, 0)], 0));
        assert!(!filmed_closer(&[take("top", 60.0, 0), take("top", 40.0, 0)], 0), "further away");
        assert!(!filmed_closer(&[take("top", 40.0, 0), take("bottom", 60.0, 0)], 0), "another side");
        assert!(!filmed_closer(&[take("top", 40.0, 0), take("top", 60.0, 1)], 1), "before the last thing done");
    }
}
