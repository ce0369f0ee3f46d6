//! Changes to what was measured, planned and done at the bench. Each puts one list of the case as a whole in place of
//! the one before, so that taking it back is the same thing.

use crate::{
    case::{
        Case,
        conclusion::{SignOff, VerdictEntry},
        connection::Connection,
        device::Device,
        exercise::Answers,
        intervention::Intervention,
        plan::PlanChoices,
        reading::ReadingEntry,
        survey::Survey,
    },
    lesson::Lesson,
};

/// One change.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchEdit {
    /// What it does, for "Undo: ...".
    pub words: String,
    /// Its line in the case log.
    pub record: Option<String>,
    /// What is put in place.
    pub part: BenchPart,
}

/// What is put in place.
#[derive(Clone, Debug, PartialEq)]
pub enum BenchPart {
    /// Readings.
    Readings(Vec<ReadingEntry>),
    /// What was done to the board.
    Interventions(Vec<Intervention>),
    /// Connections of the supply.
    Connections(Vec<Connection>),
    /// What was stated for the plan.
    Plan(Box<PlanChoices>),
    /// Millivolt surveys.
    Surveys(Vec<Survey>),
    /// Resistance of the meter's leads.
    MeterLeads(Option<f64>),
    /// Verdicts of repair checks.
    Verdicts(Vec<VerdictEntry>),
    /// The lead's signature.
    SignOff(Option<SignOff>),
    /// Which device it is.
    Device(Device),
    /// Lessons made of it.
    Lessons(Vec<Lesson>),
    /// What a student answers; nothing where the case is no exercise.
    Answers(Box<Answers>),
}

impl BenchEdit {
    /// The meter's leads measured.
    pub fn meter_leads(ohms: Option<f64>) -> Self {
        let words = ohms.map_or("of unknown resistance".to_owned(), |v| format!("of {v} ohms"));
        Self {
            words: format!("note meter leads {words}"),
            record: Some(format!("meter leads {words}")),
            part: BenchPart::MeterLeads(ohms),
        }
    }

    /// Applies it and returns what takes it back.
    pub fn apply(self, case: &mut Case) -> Self {
        use std::mem::replace;
        let part = match self.part {
            BenchPart::Readings(readings) => BenchPart::Readings(replace(&mut case.readings, readings)),
            BenchPart::Interventions(done) => BenchPart::Interventions(replace(&mut case.interventions, done)),
            BenchPart::Connections(made) => BenchPart::Connections(replace(&mut case.connections, made)),
            BenchPart::Plan(plan) => BenchPart::Plan(Box::new(replace(&mut case.plan, *plan))),
            BenchPart::Surveys(surveys) => BenchPart::Surveys(replace(&mut case.surveys, surveys)),
            BenchPart::Verdicts(verdicts) => BenchPart::Verdicts(replace(&mut case.verdicts, verdicts)),
            BenchPart::SignOff(signed) => BenchPart::SignOff(replace(&mut case.sign_off, signed)),
            BenchPart::Device(device) => BenchPart::Device(replace(&mut case.device, device)),
            BenchPart::Lessons(lessons) => BenchPart::Lessons(replace(&mut case.lessons, lessons)),
            BenchPart::Answers(answers) => match &mut case.exercise {
                Some(exercise) => BenchPart::Answers(Box::new(replace(&mut exercise.answers, *answers))),
                None => BenchPart::Answers(answers),
            },
            BenchPart::MeterLeads(ohms) => BenchPart::MeterLeads(replace(&mut case.meter_lead_ohms, ohms)),
        };
        Self { part, ..self }
    }
}
