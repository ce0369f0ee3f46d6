//! Marks of a step: from points of the screen to places that stay.

use super::{
    super::{HandoutCommand, HandoutScreen, StaysOn, Tool, names},
    Said,
};
use crate::lesson::{Anchored, Mark, Space, Step, View, What, place::Placing};

/// How far a copy lies from its original, in points.
const COPY_POINTS: [f32; 2] = [16.0, 16.0];

/// What a new mark on a view is measured in: as asked, where the view has that.
pub fn space(view: &View, placing: &dyn Placing, stays_on: StaysOn) -> Space {
    let own = placing.space();
    let [x, y, w, h] = placing.rect();
    let frame = view.shows.take().map(|t| Space::Frame(t.to_owned()));
    let seen = |s: &Space| placing.anchor(s, [x + w / 2.0, y + h / 2.0]).is_some();
    match stays_on {
        StaysOn::Board => own,
        StaysOn::Picture => frame.filter(seen).unwrap_or(own),
    }
}

/// A mark of a tool's kind from where a drag began to where it ended.
pub fn from_points(
    tool: Tool,
    space: &Space,
    placing: &dyn Placing,
    [from, to]: [[f32; 2]; 2],
    number: u32,
) -> Option<What> {
    let (a, b) = (placing.anchor(space, from)?, placing.anchor(space, to)?);
    let middle = [0, 1].map(|i: usize| f64::midpoint(a[i], b[i]));
    let half = [0, 1].map(|i: usize| (b[i] - a[i]).abs() / 2.0);
    Some(match tool {
        Tool::Select => return None,
        Tool::Callout => What::Callout { at: a, label: b, number, text: String::new() },
        Tool::Arrow => What::Arrow { from: a, to: b },
        Tool::Loop => What::Loop { middle, half },
        Tool::Text => What::Text { at: a, text: "Text".to_owned() },
        Tool::Measure => What::Measure { from: a, to: b },
        Tool::Dim => What::Dim { middle, half },
    })
}

/// Where a drag would have gone that puts a mark of ordinary size into the middle of a view.
pub fn middle_points(tool: Tool, [x, y, w, h]: [f32; 4]) -> [[f32; 2]; 2] {
    let (cx, cy, s) = (x + w / 2.0, y + h / 2.0, w.min(h));
    let about = |dx: f32, dy: f32| [cx + dx * s, cy + dy * s];
    match tool {
        Tool::Callout => [about(0.0, 0.0), about(0.16, -0.14)],
        Tool::Arrow => [about(-0.2, 0.16), about(0.0, 0.0)],
        Tool::Loop | Tool::Dim => [about(-0.14, -0.1), about(0.14, 0.1)],
        Tool::Measure => [about(-0.15, 0.0), about(0.15, 0.0)],
        Tool::Text | Tool::Select => [about(0.0, 0.0), about(0.0, 0.0)],
    }
}

/// Moves a mark, or one of its places, by points of the screen. Nothing where the view does not show it.
pub fn nudged(mark: &Mark, placing: &dyn Placing, place: Option<usize>, by: [f32; 2]) -> Option<Mark> {
    let places = mark.what.places();
    let index = place.unwrap_or(0);
    let from = *places.get(index)?;
    let at = placing.place(&mark.space, from)?;
    let to = placing.anchor(&mark.space, [at[0] + by[0], at[1] + by[1]])?;
    let mut moved = mark.clone();
    match place {
        Some(index) => moved.what.move_place(index, to),
        None => moved.what.shift([to[0] - from[0], to[1] - from[1]]),
    }
    Some(moved)
}

/// The same mark measured in another space. Nothing where the view does not show both.
pub fn measured_in(mark: &Mark, placing: &dyn Placing, space: Space) -> Option<Mark> {
    let carry = |at: Anchored| placing.anchor(&space, placing.place(&mark.space, at)?);
    let mut what = mark.what.clone();
    match &mut what {
        What::Callout { at, label, .. } => (*at, *label) = (carry(*at)?, carry(*label)?),
        What::Arrow { from, to } | What::Measure { from, to } => (*from, *to) = (carry(*from)?, carry(*to)?),
        What::Text { at, .. } => *at = carry(*at)?,
        What::Loop { middle, half } | What::Dim { middle, half } => {
            let centre = carry(*middle)?;
            let edges = [carry([middle[0] + half[0], middle[1]])?, carry([middle[0], middle[1] + half[1]])?];
            *half = edges.map(|e| (e[0] - centre[0]).hypot(e[1] - centre[1]));
            *middle = centre;
        }
    }
    Some(Mark { space, what, ..mark.clone() })
}

fn put_new(step: &mut Step, screen: &mut HandoutScreen, mark: Mark) -> Said {
    step.marks.push(mark);
    let index = step.marks.len() - 1;
    (screen.mark, screen.tool, screen.focus_mark) = (Some(index), Tool::Select, true);
    Said::once(format!("add {}", names::in_sentence(step, index)))
}

pub fn change(step: &mut Step, screen: &mut HandoutScreen, command: HandoutCommand) -> Option<Said> {
    let chosen = screen.mark.filter(|&m| m < step.marks.len());
    match command {
        HandoutCommand::Select(mark) => {
            screen.mark = mark.filter(|&m| m < step.marks.len());
            None
        }
        HandoutCommand::Add(mark) => Some(put_new(step, screen, mark)),
        HandoutCommand::AddInMiddle(tool) => {
            let placing = screen.picture.placing()?;
            let space = space(&step.view, placing, screen.stays_on);
            let what = from_points(tool, &space, placing, middle_points(tool, placing.rect()), step.next_number())?;
            let mark = Mark { space, what, style: screen.style, reveal: 0 };
            Some(put_new(step, screen, mark))
        }
        HandoutCommand::Mark { index, mark, doing, goes_on } => {
            let place = step.marks.get_mut(index)?;
            *place = *mark;
            screen.style = place.style;
            Some(Said { words: format!("{doing} {}", names::in_sentence(step, index)), goes_on })
        }
        HandoutCommand::Nudge { place, by } => {
            let moved = nudged(&step.marks[chosen?], screen.picture.placing()?, place, by)?;
            step.marks[chosen?] = moved;
            Some(Said { words: format!("move {}", names::in_sentence(step, chosen?)), goes_on: true })
        }
        HandoutCommand::StaysOn(stays_on) => {
            screen.stays_on = stays_on;
            let placing = screen.picture.placing()?;
            let mark = measured_in(&step.marks[chosen?], placing, space(&step.view, placing, stays_on))?;
            step.marks[chosen?] = mark;
            Some(Said::once(format!("change what {} stays on", names::in_sentence(step, chosen?))))
        }
        HandoutCommand::DuplicateMark => {
            let mark = &step.marks[chosen?];
            let placed = screen.picture.placing().and_then(|p| nudged(mark, p, None, COPY_POINTS));
            let mut copy = placed.unwrap_or_else(|| mark.clone());
            if let What::Callout { number, .. } = &mut copy.what {
                *number = step.next_number();
            }
            Some(put_new(step, screen, copy))
        }
        HandoutCommand::DeleteMark => {
            let name = names::in_sentence(step, chosen?);
            step.marks.remove(chosen?);
            screen.mark = None;
            Some(Said::once(format!("delete {name}")))
        }
        HandoutCommand::Raise(by) => {
            let to = chosen?.checked_add_signed(by).filter(|&to| to < step.marks.len())?;
            let name = names::in_sentence(step, chosen?);
            step.marks.swap(chosen?, to);
            screen.mark = Some(to);
            Some(Said::once(format!("{} {name}", if by > 0 { "bring forward" } else { "send back" })))
        }
        HandoutCommand::InTurn(in_turn) => {
            for (i, mark) in step.marks.iter_mut().enumerate() {
                mark.reveal = if in_turn { u32::try_from(i + 1).unwrap_or(u32::MAX) } else { 0 };
            }
            let how = if in_turn { "one by one" } else { "at once" };
            Some(Said::once(format!("let the marks of step {} appear {how}", screen.step + 1)))
        }
        _ => None,
    }
}
