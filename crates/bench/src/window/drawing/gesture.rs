//! What a press, a drag and a release on the canvas mean for each tool.

use egui::Pos2;
use joulemark_locate::board::{Board, Hole};

use super::{
    BoardEdit, Drawing, Tool, act, parts, photo,
    snap::{self, to_grid},
    view::UiFromBoard,
};

/// How near, in screen points, the pointer must be to a corner or a line to snap to it.
const REACH_POINTS: f64 = 9.0;
/// A drag shorter than this, in screen points, is a click.
const CLICK_POINTS: f32 = 4.0;
/// Finest parts are a few tenths of a millimetre.
const LEAST_MM: f64 = 0.2;

/// A drag under way, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gesture {
    /// A new part, from corner to corner.
    Part { from: [f64; 2], to: [f64; 2] },
    /// A box around parts; `add` keeps what is selected.
    Box { from: [f64; 2], to: [f64; 2], add: bool },
    /// The selected parts follow the pointer.
    Move { from: [f64; 2], by: [f64; 2] },
    /// The view follows the pointer.
    Pan,
}

/// Reach of snapping at the present zoom.
pub fn reach_mm(map: UiFromBoard) -> f64 {
    REACH_POINTS / f64::from(map.points_per_mm)
}

/// A drag starts here.
pub fn start(board: &Board, drawing: &mut Drawing, at: [f64; 2], pans: bool, add: bool) {
    let grid = |p: [f64; 2]| p.map(|v| to_grid(v, drawing.grid_mm));
    drawing.gesture = match drawing.tool {
        _ if pans => Some(Gesture::Pan),
        Tool::Pan => Some(Gesture::Pan),
        Tool::Part => Some(Gesture::Part { from: grid(at), to: grid(at) }),
        Tool::Select => {
            let hit = drawing.face(board).and_then(|f| f.part_at(at.into())).map(|p| p.designator.clone());
            match hit {
                Some(part) => {
                    if !drawing.selected.contains(&part) {
                        drawing.selected = [part].into();
                    }
                    Some(Gesture::Move { from: at, by: [0.0, 0.0] })
                }
                None => Some(Gesture::Box { from: at, to: at, add }),
            }
        }
        Tool::Outline | Tool::Hole | Tool::Square => None,
    };
}

/// The drag goes on.
pub fn follow(drawing: &mut Drawing, at: [f64; 2]) {
    let grid_mm = drawing.grid_mm;
    match &mut drawing.gesture {
        Some(Gesture::Part { to, .. }) => *to = at.map(|v| to_grid(v, grid_mm)),
        Some(Gesture::Box { to, .. }) => *to = at,
        Some(Gesture::Move { from, by }) => *by = [0, 1].map(|i| to_grid(at[i] - from[i], grid_mm)),
        Some(Gesture::Pan) | None => {}
    }
}

/// The drag ends.
pub fn end(board: &Board, drawing: &mut Drawing, map: UiFromBoard) -> Option<BoardEdit> {
    let gesture = drawing.gesture.take()?;
    let face = drawing.face(board)?;
    match gesture {
        Gesture::Part { from, to } => {
            let size = [0, 1].map(|i: usize| (to[i] - from[i]).abs());
            let long = size[0].max(size[1]) * f64::from(map.points_per_mm) >= f64::from(CLICK_POINTS);
            if !long {
                return click(board, drawing, to, map, false);
            }
            drawing.size_mm = size.map(|v| v.max(LEAST_MM));
            let centre = [0, 1].map(|i: usize| (from[i] + to[i]) / 2.0);
            let part = act::new_part(board, drawing, centre, drawing.size_mm);
            Some(act::add(drawing, face, vec![part]))
        }
        Gesture::Box { from, to, add } => {
            let (low, high) = ([0, 1].map(|i: usize| from[i].min(to[i])), [0, 1].map(|i: usize| from[i].max(to[i])));
            if !add {
                drawing.selected.clear();
            }
            let inside = |p: &&joulemark_locate::board::Part| {
                let (a, b) = parts::bounds(p);
                (0..2).all(|i| a[i] >= low[i] && b[i] <= high[i])
            };
            drawing.selected.extend(face.parts.iter().filter(inside).map(|p| p.designator.clone()));
            None
        }
        Gesture::Move { by, .. } => {
            let chosen = drawing.chosen(board);
            act::change(&chosen, chosen.iter().map(|p| parts::shifted(p, by[0], by[1])).collect())
        }
        Gesture::Pan => None,
    }
}

/// A click on the canvas.
pub fn click(board: &Board, drawing: &mut Drawing, at: [f64; 2], map: UiFromBoard, add: bool) -> Option<BoardEdit> {
    let face = drawing.face(board)?;
    match drawing.tool {
        Tool::Pan => None,
        Tool::Select => {
            let hit = face.part_at(at.into()).map(|p| p.designator.clone());
            act::act(board, drawing, super::Draw::Select { parts: hit.into_iter().collect(), add })
        }
        Tool::Part => {
            let centre = at.map(|v| to_grid(v, drawing.grid_mm));
            let part = act::new_part(board, drawing, centre, drawing.size_mm);
            Some(act::add(drawing, face, vec![part]))
        }
        Tool::Outline => {
            let (point, to) = snap::snap(Some(face), &drawing.points, at, drawing.grid_mm, reach_mm(map));
            if to == snap::SnappedTo::Corner && drawing.points.len() >= 3 && drawing.points.first() == Some(&point) {
                return act::act(board, drawing, super::Draw::Finish);
            }
            if drawing.points.last() != Some(&point) {
                drawing.points.push(point);
            }
            None
        }
        Tool::Hole => {
            let mut holes = face.holes.clone();
            let before = holes.len();
            holes.retain(|h| (h.x_mm - at[0]).hypot(h.y_mm - at[1]) > h.diameter_mm / 2.0);
            if holes.len() == before {
                let [x_mm, y_mm] = at.map(|v| to_grid(v, drawing.grid_mm));
                holes.push(Hole { x_mm, y_mm, diameter_mm: drawing.hole_mm });
            }
            Some(BoardEdit::Holes { face: face.name.clone(), holes })
        }
        Tool::Square => {
            let squaring = photo::squaring(face.photo.as_ref()?).ok()?;
            let px = squaring.to_image(nalgebra::Point2::new(at[0], at[1]));
            // A second click on a corner is a slip of the hand, not a corner.
            let near = |p: &[f64; 2]| {
                let mm = squaring.to_board(nalgebra::Point2::new(p[0], p[1]));
                (mm.x - at[0]).hypot(mm.y - at[1]) < reach_mm(map)
            };
            if drawing.points.len() < 4 && !drawing.points.iter().any(near) {
                drawing.points.push([px.x, px.y]);
            }
            // The lengths come next: the hands go to the keys, even after one click too many.
            drawing.typed.focus = drawing.points.len() == 4;
            None
        }
    }
}

/// Where the next outline corner would land, for the mark under the pointer.
pub fn preview(board: &Board, drawing: &Drawing, pointer: Pos2, map: UiFromBoard) -> Option<[f64; 2]> {
    let at = map.to_mm(pointer);
    match drawing.tool {
        Tool::Outline => Some(snap::snap(drawing.face(board), &drawing.points, at, drawing.grid_mm, reach_mm(map)).0),
        Tool::Hole => Some(at.map(|v| to_grid(v, drawing.grid_mm))),
        _ => None,
    }
}
