//! A lesson: views of a case in an order, with marks on them and words beside them. Plain data that is kept in
//! `case.ron`; what it shows comes from the case's own takes, drawing and photos.

pub mod mark;
pub mod markdown;
pub mod outline;
pub mod place;
pub mod render;
pub mod shapes;

pub use mark::{Anchored, Mark, Space, What};

use serde::{Deserialize, Serialize};

use crate::layer::Layer;

/// A lesson made of a case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Lesson {
    /// What it is called; unique within the case.
    pub name: String,
    /// What it teaches and for whom, as Markdown.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub about: String,
    /// The steps, in the order in which they are shown.
    #[serde(default)]
    pub steps: Vec<Step>,
}

/// One step: a view, its layer of marks, its words.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Its heading.
    pub title: String,
    /// What is said, as Markdown.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub text: String,
    /// What is shown.
    pub view: View,
    /// Marks over it, the first one below.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<Mark>,
    /// Whether the marks of the step before stay in sight under its own.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub keeps_earlier: bool,
    /// A piece of the recording that is played in it; only where the view is a take's frames.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plays: Option<Plays>,
}

/// What a step shows.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct View {
    /// Which picture.
    pub shows: Shows,
    /// Which part of it: the whole where it is absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zoom: Option<Zoom>,
    /// Ends of the colour scale, in the layer's unit; as the layer suggests where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range: Option<(f32, f32)>,
}

/// A picture of the case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Shows {
    /// Words alone.
    #[default]
    Words,
    /// A layer of a take; `frame` counts for the layers that follow time. `outlines`: board and parts over it. `answer`: hot
    /// spots and suspects over it.
    Map { take: String, layer: Layer, frame: usize, outlines: bool, answer: bool },
    /// A face's photo, with the outlines of its parts or without.
    Photo { face: String, outlines: bool },
    /// The drawing of a face; parts of the rail are set off where one is named.
    Drawing { face: String, rail: Option<String> },
    /// A curve over time at a place of a take's picture, in pixels. `fit`: what was fitted to it, where the place is a hot spot.
    Curve { take: String, at_px: [f64; 2], fit: bool },
}

impl Shows {
    /// The take that it needs.
    pub fn take(&self) -> Option<&str> {
        match self {
            Self::Map { take, .. } | Self::Curve { take, .. } => Some(take),
            Self::Words | Self::Photo { .. } | Self::Drawing { .. } => None,
        }
    }

    /// What kind of picture it is.
    pub fn words(&self) -> &'static str {
        match self {
            Self::Words => "Words alone",
            Self::Map { .. } => "Map",
            Self::Photo { .. } => "Photo",
            Self::Drawing { .. } => "Drawing",
            Self::Curve { .. } => "Curve",
        }
    }
}

/// The part of a picture that is shown: its middle, and how much of it is seen from left to right. Pixels of a map,
/// millimetres of a drawing or photo.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Zoom {
    /// What is in the middle.
    pub middle: [f64; 2],
    /// Width that is seen.
    pub across: f64,
}

/// A piece of the recording.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plays {
    /// First frame.
    pub from: usize,
    /// Last frame.
    pub to: usize,
    /// Times the speed of recording.
    pub speed: f32,
}

impl Lesson {
    /// Marks in sight in a step: its own, under them those that it keeps; `revealed` says how many of the step's own
    /// reveals were asked for.
    pub fn marks_in_sight(&self, step: usize, revealed: u32) -> Vec<&Mark> {
        let first = (0..=step).rev().find(|&i| !self.steps.get(i).is_some_and(|s| s.keeps_earlier)).unwrap_or(0);
        let earlier = self.steps.get(first..step).into_iter().flatten().flat_map(|s| &s.marks);
        let own = self.steps.get(step).into_iter().flat_map(|s| &s.marks).filter(|m| m.reveal <= revealed);
        earlier.chain(own).collect()
    }
}

impl Step {
    /// How many times something more can be revealed.
    pub fn reveals(&self) -> u32 {
        self.marks.iter().map(|m| m.reveal).max().unwrap_or(0)
    }

    /// The number that the next callout gets.
    pub fn next_number(&self) -> u32 {
        let taken = self.marks.iter().filter_map(|m| match m.what {
            What::Callout { number, .. } => Some(number),
            _ => None,
        });
        taken.max().unwrap_or(0) + 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(numbers: &[(u32, u32)], keeps_earlier: bool) -> Step {
        let marks = numbers.iter().map(|&(number, reveal)| Mark {
            space: Space::Board("top".into()),
            what: What::Callout { at: [1.0, 2.0], label: [3.0, 4.0], number, text: String::new() },
            style: mark::Style::default(),
            reveal,
        });
        Step { marks: marks.collect(), keeps_earlier, ..Step::default() }
    }

    fn numbers(marks: &[&Mark]) -> Vec<u32> {
        let number = |m: &&Mark| match m.what {
            What::Callout { number, .. } => number,
            _ => 0,
        };
        marks.iter().map(number).collect()
    }

    #[test]
    fn marks_come_one_by_one_and_stay_where_a_step_keeps_them() {
        let steps = vec![step(&[(1, 0)], false), step(&[(2, 0), (3, 1)], false), step(&[(4, 0), (5, 2)], true)];
        let lesson = Lesson { steps, ..Lesson::default() };
        assert_eq!(numbers(&lesson.marks_in_sight(1, 0)), [2]);
        assert_eq!(numbers(&lesson.marks_in_sight(1, 1)), [2, 3]);
        assert_eq!(numbers(&lesson.marks_in_sight(2, 0)), [2, 3, 4]);
        assert_eq!(numbers(&lesson.marks_in_sight(2, 2)), [2, 3, 4, 5]);
        assert_eq!((lesson.steps[2].reveals(), lesson.steps[2].next_number()), (2, 6));
        assert!(lesson.marks_in_sight(9, 0).is_empty());
    }

    #[test]
    fn a_lesson_survives_its_file() {
        let shows = Shows::Map { take: "inject 1".into(), layer: Layer::Rise, frame: 3, outlines: true, answer: false };
        let view = View { shows, zoom: Some(Zoom { middle: [80.0, 60.5], across: 40.0 }), range: Some((0.0, 2.5)) };
        let plays = Some(Plays { from: 10, to: 40, speed: 2.0 });
        let first = Step { title: "One".into(), text: "*Look*".into(), view, plays, ..step(&[(1, 0)], false) };
        let lesson = Lesson { name: "Heat".into(), about: "For beginners".into(), steps: vec![first, Step::default()] };
        let written = crate::case::to_ron(&lesson).unwrap();
        let read: Lesson = crate::case::notation::parse(std::path::Path::new("lesson.ron"), &written).unwrap();
        assert_eq!(read, lesson);
    }
}
