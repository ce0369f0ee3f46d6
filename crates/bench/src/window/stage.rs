//! The seven stages of the work: a reminder of what is done and what is missing, not a wizard.

use super::{compare, session::Session};

/// A stage, in the order of the work.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Stage {
    /// Resistance and diode readings.
    Readings,
    /// What may be injected.
    Injection,
    /// The recording.
    #[default]
    Capture,
    /// Where the rise is real.
    HotSpots,
    /// Which part.
    Suspects,
    /// Proof that it is gone.
    RepairCheck,
    /// Class material.
    Handout,
}

/// How a stage stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Nothing is missing.
    Done,
    /// Nothing is missing; how much there is.
    Has(String),
    /// What it still needs.
    Needs(String),
    /// Nothing is there, and nothing needs to be.
    Free(String),
}

impl Standing {
    /// In words.
    pub fn words(&self) -> &str {
        match self {
            Self::Done => "done",
            Self::Has(what) | Self::Needs(what) | Self::Free(what) => what,
        }
    }

    /// Whether nothing is missing.
    pub fn is_done(&self) -> bool {
        matches!(self, Self::Done | Self::Has(_))
    }
}

impl Stage {
    /// All, in the order of the work.
    pub const ALL: [Self; 7] = [
        Self::Readings,
        Self::Injection,
        Self::Capture,
        Self::HotSpots,
        Self::Suspects,
        Self::RepairCheck,
        Self::Handout,
    ];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Readings => "Readings",
            Self::Injection => "Injection",
            Self::Capture => "Capture",
            Self::HotSpots => "Hot spots",
            Self::Suspects => "Suspects",
            Self::RepairCheck => "Repair check",
            Self::Handout => "Handout",
        }
    }

    /// What a stage is for, in one sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Readings => "Resistance and diode readings that make one rail stand out.",
            Self::Injection => "What may be injected into the rail, and what the hands must see to first.",
            Self::Capture => "The recording, when injection starts in it, and where the board lies in the picture.",
            Self::HotSpots => "Places whose rise is real, tested against this recording's own noise.",
            Self::Suspects => "The part under each hot spot, with its probability and why.",
            Self::RepairCheck => "The proof that the short is gone, from a take before and a take after.",
            Self::Handout => "Lessons made of this case: steps with marks and words, to present or to hand out.",
        }
    }

    /// How it stands in a case.
    pub fn standing(self, session: Option<&Session>) -> Standing {
        let needs = |what: &str| Standing::Needs(what.to_owned());
        let Some(session) = session else {
            return needs("needs a case");
        };
        let view = session.view();
        let located = view.and_then(|v| v.located.as_ref());
        match self {
            Self::Readings => {
                let rail = &session.document.case.rail;
                let read = &session.document.case.readings;
                if session.board.rails.is_empty() {
                    needs("needs rails")
                } else if read.is_empty() {
                    needs("nothing measured")
                } else if !read.iter().any(|r| r.rail == *rail && r.after == session.document.latest_intervention()) {
                    Standing::Needs(format!("measure {rail}"))
                } else {
                    Standing::Done
                }
            }
            Self::Injection => {
                if session.board.rail(&session.document.case.rail).is_none() {
                    needs("needs the rail")
                } else if session.limits_in_words().is_none() {
                    needs("refused")
                } else if !session.open_cautions().is_empty() {
                    needs("needs cautions")
                } else {
                    Standing::Done
                }
            }
            Self::Capture => {
                let Some(view) = view else {
                    return needs("needs a take");
                };
                let pairs = session.document.take(&session.shown).map_or(0, |t| t.pairs.len());
                if view.take.timeline.first_injected().is_none() {
                    needs("needs the onset")
                } else if pairs < 2 {
                    let missing = 2 - pairs;
                    Standing::Needs(format!("needs {missing} more point pair{}", if missing == 1 { "" } else { "s" }))
                } else if view.alignment.is_none() {
                    needs("needs other point pairs")
                } else {
                    Standing::Done
                }
            }
            Self::RepairCheck => {
                let case = &session.document.case;
                match case.verdict() {
                    Some(_) if case.sign_off.is_some() => Standing::Done,
                    Some(entry) => Standing::Needs(format!("{}, not signed off", entry.verdict.words())),
                    None if compare::pair(case, &compare::CompareScreen::default()).is_none() => {
                        needs("needs a take after")
                    }
                    None => needs("needs a verdict"),
                }
            }
            Self::Handout => {
                let lessons = &session.document.case.lessons;
                match lessons.iter().map(|l| l.steps.len()).sum() {
                    _ if lessons.is_empty() => Standing::Free("no lesson yet".to_owned()),
                    0 => needs("needs a step"),
                    1 => Standing::Has("1 step".to_owned()),
                    n => Standing::Has(format!("{n} steps")),
                }
            }
            _ => match located {
                None => needs("not located yet"),
                Some(_) if session.out_of_date() => needs("out of date"),
                Some(l) if self == Self::HotSpots && l.hot_spots.is_empty() => needs("none found"),
                Some(l) if self == Self::Suspects && l.answers.iter().all(|a| a.suspects.is_empty()) => {
                    needs("nobody suspected")
                }
                Some(_) => Standing::Done,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        case::Case,
        lesson::{Lesson, Step},
        window::document::Document,
    };

    #[test]
    fn the_handout_counts_its_steps_and_nags_nobody_who_wants_none() {
        let standing = |steps: &[usize]| {
            let lesson = |&n: &usize| Lesson { steps: vec![Step::default(); n], ..Lesson::default() };
            let case = Case { lessons: steps.iter().map(lesson).collect(), ..Case::default() };
            let session = Session::new(None, Document { case, ..Document::default() }, std::sync::Arc::default());
            Stage::Handout.standing(Some(&session))
        };
        assert_eq!(standing(&[]), Standing::Free("no lesson yet".into()));
        assert_eq!(standing(&[0]), Standing::Needs("needs a step".into()));
        assert_eq!(standing(&[1]), Standing::Has("1 step".into()));
        assert_eq!(standing(&[2, 3]), Standing::Has("5 steps".into()));
        assert!(standing(&[1]).is_done() && !standing(&[]).is_done());
    }
}
