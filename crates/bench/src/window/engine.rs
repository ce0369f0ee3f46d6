//! What the engine says about the case, kept until the case or the take changes. Views ask here and never work anything
//! out themselves.

mod next;
mod plan;
mod rails;
mod ready;
mod survey;
mod watch;

pub use plan::allows_change;

use std::{
    collections::HashMap,
    ops::RangeInclusive,
    sync::{Arc, Mutex, PoisonError},
};

use super::{
    command::Command,
    plan::view::PlanView,
    readings::{RailSays, ReadingsCommand, Weight},
    session::Session,
};
use crate::case::{
    books::Books,
    reading::{Quantity, shown},
};

/// Something that a take did against its plan.
#[derive(Clone, Debug, PartialEq)]
pub struct EventView {
    /// From which frame to which.
    pub frames: RangeInclusive<usize>,
    /// What happened.
    pub words: String,
    /// The same with its time.
    pub said: String,
    /// Whether it is a reason to stop.
    pub stop: bool,
}

/// How a point of the list before filming stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Readiness {
    /// Measured, and fine.
    Good,
    /// Measured, and not fine.
    Poor,
    /// It cannot be measured here.
    Unknown,
    /// Only a person can say, and this one said so or not.
    Question(bool),
}

impl Readiness {
    /// Whether nothing is to be done about it.
    pub fn fine(self) -> bool {
        matches!(self, Self::Good | Self::Question(true))
    }
}

/// A point of the list before filming.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadyItem {
    /// Its name in the case file.
    pub id: String,
    /// What is to be so.
    pub words: String,
    /// What was measured, and why it matters.
    pub because: String,
    /// How it stands.
    pub state: Readiness,
}

/// A caution of the rule book.
#[derive(Clone, Debug, PartialEq)]
pub struct CautionView {
    /// Its name there.
    pub id: String,
    /// What it says.
    pub words: String,
    /// Whether a connection has to acknowledge it.
    pub before_injection: bool,
}

/// A rail in the ranking.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// The rail.
    pub rail: String,
    /// The verdict.
    pub words: String,
    /// Why.
    pub because: String,
    /// How heavily.
    pub weight: Weight,
}

/// Something to do, with its reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// On the button.
    pub words: String,
    /// Below it.
    pub because: String,
    /// What the button does.
    pub command: Command,
    /// What the hands must know for it.
    pub cautions: Vec<String>,
}

/// A point of a survey in the ranking.
#[derive(Clone, Debug, PartialEq)]
pub struct SurveyRank {
    /// Which, counted from 0.
    pub point: usize,
    /// How near to the fault.
    pub words: String,
}

/// Everything that was judged at one time.
#[derive(Clone, Debug, Default)]
pub struct Judged {
    /// The injection plan.
    pub plan: PlanView,
    /// What is said about a rail against ground or another rail.
    pub rails: HashMap<(String, String), RailSays>,
    /// Rails by how abnormal they are.
    pub ranked: Vec<Ranked>,
    /// What to measure next.
    pub measure: Option<Proposal>,
    /// What to do next at the bench, beyond measuring.
    pub next: Option<Proposal>,
    /// Points of the survey, the nearest to the fault first.
    pub survey: Vec<SurveyRank>,
    /// What is to be said about the survey.
    pub survey_notes: Vec<String>,
    /// All cautions, in the order of the work.
    pub cautions: Vec<CautionView>,
    /// What has to be seen to before filming.
    pub ready: Vec<ReadyItem>,
    /// What the take did against the plan.
    pub watch: Vec<EventView>,
    /// How hot a place may be in every frame at most, in degrees Celsius; `None` without temperatures.
    pub bound_c: Option<Vec<f64>>,
}

/// What a judgement was made from: how often the document changed, and the view of the take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct JudgedFrom {
    changes: u64,
    view: Option<u64>,
}

/// The last judgement, and what it was made from.
#[derive(Debug, Default)]
pub struct Judgement {
    last: Mutex<Option<(JudgedFrom, Arc<Judged>)>>,
}

impl Clone for Judgement {
    fn clone(&self) -> Self {
        let last = self.last.lock().unwrap_or_else(PoisonError::into_inner).clone();
        Self { last: Mutex::new(last) }
    }
}

impl Session {
    /// What the engine says now.
    pub fn judged(&self) -> Arc<Judged> {
        let from = JudgedFrom { changes: self.changes(), view: self.view().map(|v| v.serial) };
        let mut last = self.judgement.last.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((was, judged)) = &*last
            && *was == from
        {
            return Arc::clone(judged);
        }
        let judged = Arc::new(judge(self));
        *last = Some((from, Arc::clone(&judged)));
        judged
    }

    /// The limits of the step in force: "0.3 V, 1 A"; `None` when nothing may be injected.
    pub fn limits_in_words(&self) -> Option<String> {
        limits_in_words(self, &self.judged().plan)
    }

    /// The resistance of the rail to ground that the plan counts with.
    pub fn ohms_in_words(&self) -> Option<String> {
        let case = &self.document.case;
        let ohms = case
            .readings
            .iter()
            .filter(|r| r.rail == case.rail && r.against.is_empty() && r.quantity == Quantity::Ohms && !r.good_board);
        let last = ohms.max_by_key(|r| r.after)?;
        Some(format!("measured {}", shown(last.value, last.quantity)))
    }

    /// The command that measures the rail's ohms.
    pub fn ask_ohms(&self) -> Command {
        Command::Readings(ReadingsCommand::Ask {
            rail: self.document.case.rail.clone(),
            quantity: Quantity::Ohms,
            face: String::new(),
            good_board: false,
            against: String::new(),
        })
    }

    /// What happens against the plan at a frame.
    pub fn watch_at(&self, frame: usize) -> Vec<EventView> {
        self.judged().watch.iter().filter(|e| e.frames.contains(&frame)).cloned().collect()
    }
}

fn judge(session: &Session) -> Judged {
    let plan = plan::plan(session);
    let words = plan::in_words(session, &plan);
    let rails::Said { rails, ranked, measure, raw, for_rail } = rails::judge(session);
    let (cautions, ready) = (plan::cautions(), ready::list(session));
    let limits = limits_in_words(session, &words).unwrap_or_default();
    let cautions_read = session.open_among(&cautions, &limits).is_empty();
    let known = next::Known { ranked: raw, proposal: for_rail, plan: &plan, cautions_read, ready: &ready };
    let bound_c = watch::bound_c(session);
    Judged {
        next: next::propose(session, known),
        watch: watch::events(session, &plan, bound_c.as_deref()),
        bound_c,
        plan: words,
        rails,
        ranked,
        measure,
        survey: survey::ranked(session),
        survey_notes: survey::notes(session),
        cautions,
        ready,
    }
}

/// The limits of the step in force: "0.3 V, 1 A"; `None` when nothing may be injected.
fn limits_in_words(session: &Session, plan: &PlanView) -> Option<String> {
    let (_, step) = plan.in_force(session.document.case.plan.step)?;
    Some(format!("{}, {}", step.volts.text, step.amps.text))
}

/// The bench card as a page of HTML.
pub fn bench_card(session: &Session) -> String {
    crate::bench_card::html(&plan::plan(session), &Books::in_force().limits.cautions)
}
