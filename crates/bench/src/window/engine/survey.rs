//! The millivolt survey: which points lie nearest to the fault.

use joulemark_locate::survey::{USUAL_RESOLUTION_MV, surveyed};

use super::{super::session::Session, SurveyRank};

/// Points of the survey in hand, the nearest to the fault first; points that cannot be told apart say so.
pub(super) fn ranked(session: &Session) -> Vec<SurveyRank> {
    let Some(survey) = session.survey() else {
        return Vec::new();
    };
    let Ok(found) = surveyed(&survey.points, survey.amps, USUAL_RESOLUTION_MV) else {
        return Vec::new();
    };
    let mut ranks = Vec::new();
    for (place, group) in found.groups.iter().enumerate() {
        for &point in &group.points {
            let nearness =
                if place == 0 { "nearest to the fault".to_owned() } else { format!("{}. nearest", place + 1) };
            let tied = group.points.len() > 1;
            let words = if tied { format!("{nearness}, with others that cannot be told apart") } else { nearness };
            ranks.push(SurveyRank { point, words });
        }
    }
    ranks
}

/// What the engine remarks about the survey, or why it cannot judge it.
pub(super) fn notes(session: &Session) -> Vec<String> {
    let Some(survey) = session.survey().filter(|s| s.points.iter().any(|p| p.millivolts.is_some())) else {
        return Vec::new();
    };
    surveyed(&survey.points, survey.amps, USUAL_RESOLUTION_MV).map_or_else(|why| vec![why], |found| found.notes)
}
