//! stub
use super::{readings::RailSays, session::Session};
/// a
pub struct SurveyRank {
    /// a
    pub point: usize,
    /// a
    pub words: String,
}
impl Session {
    /// a
    pub fn rail_says(&self, _rail: &str, _against: &str) -> Option<RailSays> {
        None
    }
    /// a
    pub fn limits_in_words(&self) -> Option<String> {
        Some("0.3 V, 1 A".into())
    }
    /// a
    pub fn survey_ranking(&self) -> Vec<SurveyRank> {
        vec![]
    }
    /// a
    pub fn survey_cautions(&self) -> Vec<String> {
        vec![]
    }
    /// a
    pub fn survey_amps_refused(&self, _a: f64) -> Option<String> {
        None
    }
}
