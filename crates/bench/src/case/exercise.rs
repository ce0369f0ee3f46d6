//! An exercise in a case: the task, the answer as sealed text, and how far a student has come. Plain data; what is right and
//! how it is scored is in `crate::exercise`.

pub use joulemark_locate::simulate::scenario::Difficulty;
use serde::{Deserialize, Serialize};

use crate::layer::Layer;

/// An exercise.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Exercise {
    /// Told apart from every other exercise; says nothing about the answer.
    pub id: String,
    /// What the student is asked, as Markdown.
    pub task: String,
    /// How hard it is meant to be, for exercises that the program made up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub difficulty: Option<Difficulty>,
    /// The answer, unreadable in an editor; see `crate::exercise::seal` for what that protects from and what not.
    pub sealed: String,
    /// What the student has answered so far.
    #[serde(default)]
    pub answers: Answers,
    /// What the student has looked at beyond the plain frames.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub looks: Vec<Look>,
    /// What was handed in, the newest last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub handed_in: Vec<HandIn>,
    /// Where hand-ins are collected, from the exercise's folder; empty for nowhere.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub class: String,
    /// Whether it is being worked on again after it was handed in.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub again: bool,
}

impl Exercise {
    /// Whether the answer may be shown: something was handed in, and it is not being worked on again.
    pub fn open(&self) -> bool {
        !self.handed_in.is_empty() && !self.again
    }

    /// Whether a layer was looked at already, so that it costs nothing more.
    pub fn has_seen(&self, layer: Layer) -> bool {
        self.looks.contains(&Look::Layer(layer))
    }
}

/// Which rail a student takes for the faulty one.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum RailAnswer {
    /// Not answered yet.
    #[default]
    Open,
    /// This one.
    Rail(String),
    /// None: nothing is wrong with this board.
    NothingWrong,
}

/// A place on a face.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// The face.
    pub face: String,
    /// Millimetres of the drawing.
    pub x_mm: f64,
    /// Millimetres of the drawing.
    pub y_mm: f64,
}

/// What a student answers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Answers {
    /// The rail.
    #[serde(default)]
    pub rail: RailAnswer,
    /// Volts that the supply would be set to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volts: Option<f64>,
    /// Amps that it would be limited to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amps: Option<f64>,
    /// Seconds with current on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds: Option<f64>,
    /// Where the fault is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// The part; empty when none is named.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub part: String,
}

impl Answers {
    /// What is still to be answered before it can be handed in, in words; the part may stay open.
    pub fn missing(&self) -> Vec<&'static str> {
        if self.rail == RailAnswer::NothingWrong {
            return Vec::new();
        }
        let wanted = [
            (self.rail == RailAnswer::Open, "the rail"),
            (self.volts.is_none(), "volts"),
            (self.amps.is_none(), "amps"),
            (self.seconds.is_none(), "seconds"),
            (self.place.is_none(), "the place"),
        ];
        wanted.into_iter().filter(|(open, _)| *open).map(|(_, what)| what).collect()
    }
}

/// A look beyond the plain frames.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Look {
    /// A map of the take.
    Layer(Layer),
    /// The curve at a place.
    Curve(Place),
}

/// Answers as they were handed in, with their score.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HandIn {
    /// When, in UTC.
    pub time: String,
    /// By whom; may be empty.
    pub student: String,
    /// What was answered.
    pub answers: Answers,
    /// Looks that were used.
    pub looks: u32,
    /// Points out of 100.
    pub points: u32,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exercise_survives_its_file() {
        let place = Place { face: "top".into(), x_mm: 3.25, y_mm: 4.0 };
        let answers = Answers {
            rail: RailAnswer::Rail("V5".into()),
            volts: Some(0.3),
            place: Some(place.clone()),
            part: "C4".into(),
            ..Answers::default()
        };
        let exercise = Exercise {
            id: "K3TQ".into(),
            task: "# Find it\n\n*Now*".into(),
            difficulty: Some(Difficulty::Hard),
            sealed: "abc=".into(),
            looks: vec![Look::Layer(Layer::Rise), Look::Curve(place)],
            handed_in: vec![HandIn { points: 7, answers: answers.clone(), ..HandIn::default() }],
            answers,
            class: "../class.csv".into(),
            again: true,
        };
        let written = crate::case::to_ron(&exercise).unwrap();
        let read: Exercise = crate::case::notation::parse(std::path::Path::new("case.ron"), &written).unwrap();
        assert_eq!(read, exercise);
        assert!(read.has_seen(Layer::Rise) && !read.has_seen(Layer::Z) && !read.open());
    }

    #[test]
    fn what_is_missing_is_named_until_nothing_is_wrong() {
        let mut answers = Answers::default();
        assert_eq!(answers.missing(), ["the rail", "volts", "amps", "seconds", "the place"]);
        answers.volts = Some(0.3);
        answers.rail = RailAnswer::Rail("V5".into());
        assert_eq!(answers.missing(), ["amps", "seconds", "the place"]);
        answers.rail = RailAnswer::NothingWrong;
        assert!(answers.missing().is_empty());
    }
}
