//! What is right in an exercise: the true part, the rails that count, the limits of every rail, and the supply's log, which
//! would tell how the take was filmed.

use std::path::Path;

use joulemark_locate::{
    board::{Board, Footprint, Part},
    limits,
};
use nalgebra::Point2;
use serde::{Deserialize, Serialize};

use super::seal;
use crate::case::{BadInput, CASE_FILE, Case, books::Books, exercise::Exercise, notation};

/// What is right.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    /// The faulty parts; none on a healthy board.
    pub parts: Vec<TruePart>,
    /// The rail that current was injected into when the take was made.
    pub rail: String,
    /// Rails that count as right: that one and those joined to it at DC.
    pub rails: Vec<String>,
    /// What may be injected into each rail of the board, as the program says from what the student sees.
    pub limits: Vec<RailLimits>,
    /// The capture log with the supply's readings.
    pub log: String,
    /// Where the probe touched the face, in millimetres.
    pub probe_mm: Option<(f64, f64)>,
    /// Time from one pulse to the next, in seconds.
    pub period_s: Option<f64>,
    /// Whether the recording is simulated.
    pub simulated: bool,
}

/// A faulty part and the rectangle that it covers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TruePart {
    /// Its designator.
    pub designator: String,
    /// Its face.
    pub face: String,
    /// Its centre on the face.
    pub x_mm: f64,
    /// Its centre on the face.
    pub y_mm: f64,
    /// Size along its own x axis.
    pub width_mm: f64,
    /// Size along its own y axis.
    pub height_mm: f64,
    /// Clockwise to the eye.
    pub rotation_deg: f64,
}

impl TruePart {
    /// A part of the drawing.
    pub fn of(face: &str, part: &Part) -> Self {
        Self {
            designator: part.designator.clone(),
            face: face.to_owned(),
            x_mm: part.x_mm,
            y_mm: part.y_mm,
            width_mm: part.width_mm,
            height_mm: part.height_mm,
            rotation_deg: part.rotation_deg,
        }
    }

    /// Distance from a place on its face to its edge in millimetres; zero on the part.
    pub fn distance_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        let part = Part {
            x_mm: self.x_mm,
            y_mm: self.y_mm,
            width_mm: self.width_mm,
            height_mm: self.height_mm,
            rotation_deg: self.rotation_deg,
            ..Part::default()
        };
        Footprint::from(&part).distance_mm(Point2::new(x_mm, y_mm))
    }
}

/// What may be injected into a rail.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RailLimits {
    /// The rail.
    pub rail: String,
    /// Why nothing may be injected; empty where something may.
    pub refused: String,
    /// The steps, the first one first.
    pub steps: Vec<StepLimits>,
}

/// The most of one step.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct StepLimits {
    /// Volts.
    pub volts: Most,
    /// Amps.
    pub amps: Most,
    /// Seconds with current on.
    pub seconds: Most,
}

/// A limit with its reason.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Most {
    /// In volts, amps or seconds.
    pub value: f64,
    /// Why.
    pub because: String,
    /// Where the rule comes from.
    pub source: String,
}

impl From<&limits::Ceiling> for Most {
    fn from(ceiling: &limits::Ceiling) -> Self {
        Self { value: ceiling.value, because: ceiling.because.clone(), source: ceiling.source.clone() }
    }
}

impl RailLimits {
    /// Those of a rail of a case, by the rules in force.
    pub fn of(case: &Case, board: &Board, rail: &str) -> Self {
        let plan = limits::plan(&case.plan_inputs(board, rail), &Books::in_force().limits);
        let step = |s: &limits::Step| StepLimits {
            volts: Most::from(&s.volts),
            amps: Most::from(&s.amps),
            seconds: Most::from(&s.dwell_s),
        };
        Self {
            rail: rail.to_owned(),
            refused: plan.refusals.first().map(|said| said.words.clone()).unwrap_or_default(),
            steps: plan.steps.iter().map(step).collect(),
        }
    }
}

impl Answer {
    /// Whether nothing is wrong with the board.
    pub fn healthy(&self) -> bool {
        self.parts.is_empty()
    }

    /// The limits of a rail.
    pub fn limits_of(&self, rail: &str) -> Option<&RailLimits> {
        self.limits.iter().find(|l| l.rail == rail)
    }

    /// The true parts in words: "C12", "C12 and C14".
    pub fn parts_in_words(&self) -> String {
        self.parts.iter().map(|p| p.designator.as_str()).collect::<Vec<_>>().join(" and ")
    }

    /// As sealed text.
    ///
    /// # Errors
    /// When it cannot be written as text.
    pub fn sealed(&self) -> anyhow::Result<String> {
        Ok(seal::seal(&serde_json::to_string(self)?))
    }

    /// Opens the answer of an exercise in a folder.
    ///
    /// # Errors
    /// One line, when the seal is damaged or was made by a newer program.
    pub fn open(exercise: &Exercise, folder: &Path) -> anyhow::Result<Self> {
        let file = folder.join(CASE_FILE);
        let text = seal::open(&exercise.sealed).map_err(|why| BadInput::at(&file, "exercise", why, ""))?;
        notation::parse(Path::new("the sealed answer"), &text).map_err(|_| {
            BadInput::at(&file, "exercise", "the sealed answer is of another version", "use the program that made it")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_survives_its_seal_and_damage_is_one_line() {
        let part = TruePart { designator: "CapacitorTwelve".into(), width_mm: 2.0, ..TruePart::default() };
        let answer = Answer { parts: vec![part], rails: vec!["V5".into()], log: "a\nb".into(), ..Answer::default() };
        let mut exercise = Exercise { sealed: answer.sealed().unwrap(), ..Exercise::default() };
        assert_eq!(Answer::open(&exercise, Path::new("x")).unwrap(), answer);
        assert!(!exercise.sealed.contains("CapacitorTwelve"));
        exercise.sealed.truncate(900);
        let message = Answer::open(&exercise, Path::new("x")).unwrap_err().to_string();
        assert!(message.contains("sealed answer is damaged") && message.lines().count() == 1, "{message}");
        exercise.sealed = seal::seal("something else");
        let message = Answer::open(&exercise, Path::new("x")).unwrap_err().to_string();
        assert!(message.contains("another version") && message.lines().count() == 1, "{message}");
    }

    #[test]
    fn distance_is_to_the_edge_of_the_turned_part() {
        let part = TruePart { x_mm: 10.0, y_mm: 5.0, width_mm: 4.0, height_mm: 2.0, ..TruePart::default() };
        assert_eq!(part.distance_mm(11.0, 5.5), 0.0);
        assert!((part.distance_mm(14.5, 5.0) - 2.5).abs() < 1e-12);
        let turned = TruePart { rotation_deg: 90.0, ..part };
        assert!((turned.distance_mm(14.5, 5.0) - 3.5).abs() < 1e-12);
    }
}
