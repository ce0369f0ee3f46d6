//! The next sensible thing at the bench: from the case to the engine's state, and its answer as a button.

use joulemark_locate::{
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
use crate::case::{intervention::Doing, reading::Quantity};

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
        Action::Inject { .. }
        | Action::FilmBefore
        | Action::OtherFace { .. }
        | Action::FilmCloser
        | Action::AlcoholOrFrost => Command::BeforeFilming(true),
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
            ..Tried::default()
        },
    }
}
