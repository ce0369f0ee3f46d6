//! From what the hands ask to what changes in the case.

use super::{
    super::{
        bench_edit::{BenchEdit, BenchPart},
        session::Session,
    },
    SurveyCommand,
};
use crate::case::survey::{Survey, SurveyPoint};

/// The current that a survey begins with: half of what is allowed.
const FIRST_AMPS: f64 = 0.5;

/// The change that a command asks for, when it changes anything. The number of the point that comes next is second.
pub fn edit(session: &Session, command: &SurveyCommand) -> Option<BenchEdit> {
    let case = &session.document.case;
    let after = session.document.latest_intervention();
    let mut surveys = case.surveys.clone();
    let there = surveys.iter().position(|s| s.rail == case.rail && s.after == after);
    let at = there.unwrap_or_else(|| {
        surveys.push(Survey { rail: case.rail.clone(), after, amps: FIRST_AMPS, points: Vec::new() });
        surveys.len() - 1
    });
    let survey = &mut surveys[at];
    let near = |point: &SurveyPoint| session.near(&point.face, [point.x_mm, point.y_mm]);
    let (words, record) = match command {
        SurveyCommand::Open | SurveyCommand::Close => return None,
        SurveyCommand::Amps(amps) => {
            survey.amps = *amps;
            let words = format!("survey with {amps} A");
            (words.clone(), Some(format!("millivolt {words} into {}", case.rail)))
        }
        SurveyCommand::Add { face, at_mm: [x_mm, y_mm] } => {
            let round = |v: &f64| (v * 100.0).round() / 100.0;
            let point = SurveyPoint { face: face.clone(), x_mm: round(x_mm), y_mm: round(y_mm), millivolts: None };
            let words = format!("add survey point {}, {}", survey.points.len() + 1, near(&point));
            survey.points.push(point);
            (words, None)
        }
        SurveyCommand::Millivolts(index, millivolts) => {
            let amps = survey.amps;
            let point = survey.points.get_mut(*index)?;
            point.millivolts = *millivolts;
            let said = millivolts.map_or("not measured".to_owned(), |v| format!("{v} mV"));
            let words = format!("survey point {}: {said}", index + 1);
            let place = near(point);
            (words.clone(), Some(format!("{words}, {place}, {amps} A into {}", case.rail)))
        }
        SurveyCommand::Remove(index) => {
            if *index >= survey.points.len() {
                return None;
            }
            survey.points.remove(*index);
            let words = format!("take survey point {} away", index + 1);
            (words, Some(format!("survey point {} taken away", index + 1)))
        }
    };
    Some(BenchEdit { words, record, part: BenchPart::Surveys(surveys) })
}
