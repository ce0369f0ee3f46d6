//! What a press, a drag and a release on the picture mean for each tool, in points of the screen.

use egui::{Pos2, Vec2};

use super::{Tool, paint};
use crate::{
    lesson::{Mark, place::Placing, shapes::shapes},
    report::drawing::Shape,
};

/// How near the pointer must be to a mark.
pub const REACH: f32 = 8.0;
/// A drag shorter than this is a click.
pub const CLICK: f32 = 4.0;

/// A drag under way.
#[derive(Clone, Debug, PartialEq)]
pub enum Gesture {
    /// A new mark, from where the button went down to where the pointer is.
    New { from: Pos2, to: Pos2 },
    /// A mark, or one of its places, follows the pointer.
    Move { mark: usize, place: Option<usize>, by: Vec2 },
    /// The view follows the pointer.
    Pan,
}

/// Where a place of a mark lies on the screen.
pub fn handles(mark: &Mark, placing: &dyn Placing) -> Vec<Option<Pos2>> {
    mark.what.places().into_iter().map(|p| placing.place(&mark.space, p).map(Pos2::from)).collect()
}

/// What lies under the pointer: a place of the selected mark, else the uppermost mark.
pub fn hit(marks: &[Mark], chosen: Option<usize>, placing: &dyn Placing, at: Pos2) -> Option<(usize, Option<usize>)> {
    if let Some((index, mark)) = chosen.and_then(|i| Some((i, marks.get(i)?))) {
        let near = |h: &Option<Pos2>| h.is_some_and(|h| h.distance(at) <= REACH);
        // The last one first: a loop of no width has its handles on its middle, and must be opened again.
        if let Some(place) = handles(mark, placing).iter().rposition(near) {
            // A mark with one place moves as a whole anyway.
            return Some((index, Some(place).filter(|_| mark.what.places().len() > 1)));
        }
    }
    let drawn: Vec<Vec<Shape>> = marks.iter().map(|m| shapes(m, placing)).collect();
    drawn.iter().rposition(|s| paint::distance(s, at) <= REACH).map(|index| (index, None))
}

/// A drag starts here.
pub fn start(tool: Tool, marks: &[Mark], chosen: Option<usize>, placing: &dyn Placing, at: Pos2) -> Gesture {
    match hit(marks, chosen, placing, at) {
        _ if tool != Tool::Select => Gesture::New { from: at, to: at },
        Some((mark, place)) => Gesture::Move { mark, place, by: Vec2::ZERO },
        None => Gesture::Pan,
    }
}

/// Where a click with a tool puts a mark: as a drag of ordinary size from there would.
pub fn clicked(tool: Tool, [x, y]: [f32; 2], view: [f32; 4]) -> [[f32; 2]; 2] {
    let [from, to] = super::act::middle_points(tool, view);
    let (dx, dy) = match tool {
        // Round things have their middle there, the others begin there; an arrow's tip is what counts.
        Tool::Loop | Tool::Dim => (f32::midpoint(from[0], to[0]), f32::midpoint(from[1], to[1])),
        Tool::Arrow => (to[0], to[1]),
        _ => (from[0], from[1]),
    };
    [from, to].map(|p| [p[0] - dx + x, p[1] - dy + y])
}
