//! Marks: numbered callouts, arrows, loops, text, a measuring line, dimmed surroundings.

use serde::{Deserialize, Serialize};

/// A point: x to the right, y down; on a curve seconds and the curve's own unit, upwards.
pub type Anchored = [f64; 2];

/// What the places of a mark are measured in. A mark stays on what it belongs to when the view changes.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Space {
    /// Millimetres of a face: seen on its drawing, its photo, and every take of it that is lined up.
    Board(String),
    /// Pixels of a take's frames.
    Frame(String),
    /// Seconds and value of a take's curve.
    Curve(String),
}

/// A mark of a step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// What its places are measured in.
    pub space: Space,
    /// What it is.
    pub what: What,
    /// How it is drawn.
    #[serde(default)]
    pub style: Style,
    /// It appears when the presenter asks for more this many times; 0: at once.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub reveal: u32,
}

/// What a mark is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum What {
    /// A number in a disc that points at a place, with words beside it.
    Callout { at: Anchored, label: Anchored, number: u32, text: String },
    /// From somewhere to the thing meant.
    Arrow { from: Anchored, to: Anchored },
    /// An ellipse around something: middle, and half its width and height.
    Loop { middle: Anchored, half: [f64; 2] },
    /// Words; the place is their left end.
    Text { at: Anchored, text: String },
    /// A line with its length beside it.
    Measure { from: Anchored, to: Anchored },
    /// Everything but an ellipse is dimmed.
    Dim { middle: Anchored, half: [f64; 2] },
}

impl What {
    /// What it is called.
    pub fn words(&self) -> &'static str {
        match self {
            Self::Callout { .. } => "Callout",
            Self::Arrow { .. } => "Arrow",
            Self::Loop { .. } => "Loop",
            Self::Text { .. } => "Text",
            Self::Measure { .. } => "Measuring line",
            Self::Dim { .. } => "Dimmed surroundings",
        }
    }

    /// Its places, for handles and for moving it.
    pub fn places(&self) -> Vec<Anchored> {
        match self {
            Self::Callout { at, label, .. } => vec![*at, *label],
            Self::Arrow { from, to } | Self::Measure { from, to } => vec![*from, *to],
            Self::Loop { middle, half } | Self::Dim { middle, half } => {
                vec![*middle, [middle[0] + half[0], middle[1]], [middle[0], middle[1] + half[1]]]
            }
            Self::Text { at, .. } => vec![*at],
        }
    }

    /// Puts one of its [places](Self::places) elsewhere; the first one of a loop or dimming takes the whole along.
    pub fn move_place(&mut self, index: usize, to: Anchored) {
        match (self, index) {
            (Self::Callout { at, .. } | Self::Text { at, .. }, 0) => *at = to,
            (Self::Callout { label, .. }, 1) => *label = to,
            (Self::Arrow { from, .. } | Self::Measure { from, .. }, 0) => *from = to,
            (Self::Arrow { to: end, .. } | Self::Measure { to: end, .. }, 1) => *end = to,
            (Self::Loop { middle, .. } | Self::Dim { middle, .. }, 0) => *middle = to,
            (Self::Loop { middle, half } | Self::Dim { middle, half }, 1) => half[0] = (to[0] - middle[0]).abs(),
            (Self::Loop { middle, half } | Self::Dim { middle, half }, 2) => half[1] = (to[1] - middle[1]).abs(),
            _ => {}
        }
    }

    /// Moves it as a whole.
    pub fn shift(&mut self, by: [f64; 2]) {
        let shift = |p: &mut Anchored| *p = [p[0] + by[0], p[1] + by[1]];
        match self {
            Self::Callout { at, label, .. } => [at, label].into_iter().for_each(shift),
            Self::Arrow { from, to } | Self::Measure { from, to } => [from, to].into_iter().for_each(shift),
            Self::Loop { middle, .. } | Self::Dim { middle, .. } => shift(middle),
            Self::Text { at, .. } => shift(at),
        }
    }
}

/// How a mark is drawn. Every line has an edge of the other tone, so that it is seen on any ground and in a print
/// without colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Style {
    /// White with a black edge, or black with a white one.
    #[serde(default)]
    pub tone: Tone,
    /// How heavy.
    #[serde(default)]
    pub weight: Weight,
    /// Whole or broken.
    #[serde(default)]
    pub line: Line,
}

/// White with a black edge, or the other way round.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Tone {
    /// White.
    #[default]
    Light,
    /// Black.
    Dark,
}

/// How heavy a line is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Weight {
    /// For what comes second.
    Thin,
    /// As usual.
    #[default]
    Normal,
    /// For the one thing that matters.
    Heavy,
}

/// Whole or broken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Line {
    /// Whole.
    #[default]
    Solid,
    /// Broken.
    Dashed,
}

fn is_zero(value: &u32) -> bool {
    *value == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_can_be_moved_alone_and_all_together() {
        let all = [
            What::Callout { at: [1.0, 2.0], label: [5.0, 6.0], number: 1, text: "here".into() },
            What::Arrow { from: [1.0, 2.0], to: [5.0, 6.0] },
            What::Loop { middle: [5.0, 5.0], half: [2.0, 3.0] },
            What::Text { at: [1.0, 2.0], text: "here".into() },
            What::Measure { from: [1.0, 2.0], to: [5.0, 6.0] },
            What::Dim { middle: [5.0, 5.0], half: [2.0, 3.0] },
        ];
        for what in all {
            for index in 0..what.places().len() {
                let mut moved = what.clone();
                let to = what.places()[index].map(|v| v + 1.5);
                moved.move_place(index, to);
                let axis = if index == 2 { 1 } else { 0 };
                assert!((moved.places()[index][axis] - to[axis]).abs() < 1e-12, "{what:?} {index}");
            }
            let mut shifted = what.clone();
            shifted.shift([1.0, -2.0]);
            for (before, after) in what.places().iter().zip(shifted.places()) {
                assert_eq!(after, [before[0] + 1.0, before[1] - 2.0]);
            }
        }
    }
}
