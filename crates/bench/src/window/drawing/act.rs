//! Turns what is asked for into edits of the board and into state of the bench. Touches no board itself.

use joulemark_locate::board::{Board, Face, Mirror, Part, PartKind, Photo, Rail, Through};

use super::{
    BoardEdit, Draw, Drawing, KINDS, Tool, numbering, parts, photo,
    snap::{tidy, to_grid},
    view::DrawingView,
};

/// Distance of pasted copies from what was copied.
const ASIDE_MM: f64 = 1.0;
/// Room between a part and its duplicate.
const GAP_MM: f64 = 0.4;
/// More copies at once are a slip of the hand.
const MOST_COPIES: usize = 400;
/// Margin of an outline drawn around parts.
const MARGIN_MM: f64 = 2.0;

/// A new part of the kind and rail in hand. Coils, ferrites and fuses join their rails at DC.
pub fn new_part(board: &Board, drawing: &Drawing, centre_mm: [f64; 2], size_mm: [f64; 2]) -> Part {
    let designator = numbering::free(board, drawing.kind, 1).pop().unwrap_or_default();
    Part {
        designator,
        kind: drawing.kind,
        x_mm: tidy(centre_mm[0]),
        y_mm: tidy(centre_mm[1]),
        width_mm: tidy(size_mm[0]),
        height_mm: tidy(size_mm[1]),
        rails: drawing.rail.iter().cloned().collect(),
        series: joins(drawing.kind),
        ..Part::default()
    }
}

fn joins(kind: PartKind) -> bool {
    matches!(kind, PartKind::Inductor | PartKind::Ferrite | PartKind::Fuse)
}

/// Puts parts at the end of the face shown and selects them.
pub fn add(drawing: &mut Drawing, face: &Face, new: Vec<Part>) -> BoardEdit {
    drawing.selected = new.iter().map(|p| p.designator.clone()).collect();
    let at = face.parts.len();
    let parts = new.into_iter().enumerate().map(|(i, p)| (at + i, p)).collect();
    BoardEdit::AddParts { face: face.name.clone(), parts }
}

/// Copies under free designators.
fn named(board: &Board, mut new: Vec<Part>) -> Vec<Part> {
    for kind in KINDS {
        let mut free = numbering::free(board, kind, new.iter().filter(|p| p.kind == kind).count()).into_iter();
        for part in new.iter_mut().filter(|p| p.kind == kind) {
            part.designator = free.next().unwrap_or_default();
        }
    }
    new
}

/// Replaces the selected parts by changed ones in the same order.
pub fn change(old: &[&Part], new: Vec<Part>) -> Option<BoardEdit> {
    let changed: Vec<(String, Part)> =
        old.iter().zip(new).filter(|(o, n)| **o != n).map(|(o, n)| (o.designator.clone(), n)).collect();
    (!changed.is_empty()).then_some(BoardEdit::ChangeParts(changed))
}

/// What a request changes about the board; the bench's own state changes right away.
pub fn act(board: &Board, drawing: &mut Drawing, draw: Draw) -> Option<BoardEdit> {
    drawing.settle(board);
    let chosen = drawing.chosen(board);
    match draw {
        Draw::Open
        | Draw::Close
        | Draw::Import
        | Draw::ExportSvg
        | Draw::ExportJson
        | Draw::ToShelf
        | Draw::FromShelf => None,
        Draw::Tool(tool) => {
            if tool != drawing.tool {
                drawing.points.clear();
            }
            (drawing.tool, drawing.gesture) = (tool, None);
            None
        }
        Draw::Kind(kind) => {
            drawing.kind = kind;
            None
        }
        Draw::NextKind => {
            let at = KINDS.iter().position(|k| *k == drawing.kind).map_or(0, |i| (i + 1) % KINDS.len());
            drawing.kind = KINDS[at];
            None
        }
        Draw::Rail(rail) => {
            drawing.rail = rail;
            None
        }
        Draw::NextRail => {
            let at = drawing.rail.as_ref().and_then(|r| board.rails.iter().position(|x| x.name == *r));
            drawing.rail = board.rails.get(at.map_or(0, |i| i + 1)).map(|r| r.name.clone());
            None
        }
        Draw::NameRail => {
            drawing.typed.focus = true;
            None
        }
        Draw::NewRail(name) => new_rail(board, drawing, name.trim()),
        Draw::Face(name) => {
            show_face(drawing, name);
            None
        }
        Draw::NextFace => {
            let at = board.faces.iter().position(|f| f.name == drawing.face).map_or(0, |i| i + 1);
            if let Some(face) = board.faces.get(at % board.faces.len().max(1)) {
                show_face(drawing, face.name.clone());
            }
            None
        }
        Draw::AddFace => add_face(board, drawing),
        Draw::Ghost => {
            drawing.ghost = !drawing.ghost;
            None
        }
        Draw::Rotate(degrees) => change(&chosen, parts::rotate(&chosen, degrees)),
        Draw::Mirror { left_right } => change(&chosen, parts::mirror(&chosen, left_right)),
        Draw::Align(along) => change(&chosen, parts::align(&chosen, along)),
        Draw::Delete => {
            let names: Vec<String> = chosen.iter().map(|p| p.designator.clone()).collect();
            drawing.selected.clear();
            (!names.is_empty()).then_some(BoardEdit::RemoveParts(names))
        }
        Draw::Copy => {
            if !chosen.is_empty() {
                drawing.clipboard = chosen.into_iter().cloned().collect();
            }
            None
        }
        Draw::Paste => {
            let face = drawing.face(board)?;
            let copies: Vec<Part> = drawing.clipboard.iter().map(|p| parts::shifted(p, ASIDE_MM, ASIDE_MM)).collect();
            // The next paste goes on from here instead of covering this one.
            drawing.clipboard.clone_from(&copies);
            (!copies.is_empty()).then(|| add(drawing, face, named(board, copies)))
        }
        Draw::Array { columns, rows, dx_mm, dy_mm } => array(board, drawing, &chosen, [columns, rows], [dx_mm, dy_mm]),
        Draw::Nudge(right, down) => {
            let step = if drawing.grid_mm > 0.0 { drawing.grid_mm } else { 0.1 };
            change(&chosen, chosen.iter().map(|p| parts::shifted(p, right * step, down * step)).collect())
        }
        Draw::Select { parts, add } => {
            if !add {
                drawing.selected.clear();
            }
            for part in parts {
                if !(add && drawing.selected.remove(&part)) {
                    drawing.selected.insert(part);
                }
            }
            None
        }
        Draw::SelectAll => {
            drawing.selected = drawing.face(board)?.parts.iter().map(|p| p.designator.clone()).collect();
            drawing.tool = Tool::Select;
            None
        }
        Draw::Find(text) => {
            find(board, drawing, &text);
            None
        }
        Draw::Finish => finish(board, drawing),
        Draw::Renumber => renumber(board, drawing, &chosen),
        Draw::OutlineAround => outline_around(board, drawing),
        Draw::Fit => {
            drawing.view = None;
            None
        }
        Draw::Zoom(factor) => {
            let canvas = drawing.canvas?;
            let mut view = drawing.view.unwrap_or_else(|| DrawingView::fit(drawing.face(board), canvas.size()));
            view.zoom(factor, canvas.center(), canvas);
            drawing.view = Some(view);
            None
        }
    }
}

fn show_face(drawing: &mut Drawing, name: String) {
    if name != drawing.face {
        (drawing.face, drawing.view) = (name, None);
        drawing.points.clear();
        drawing.selected.clear();
    }
}

fn new_rail(board: &Board, drawing: &mut Drawing, name: &str) -> Option<BoardEdit> {
    if name.is_empty() {
        return None;
    }
    drawing.rail = Some(name.to_owned());
    if board.rail(name).is_some() {
        return None;
    }
    let mut rails = board.rails.clone();
    rails.push(Rail { name: name.to_owned(), nominal_volts: None });
    Some(BoardEdit::Rails(rails))
}

/// The first further face is the other side of this one: same outline, mirrored left to right about the middle.
fn add_face(board: &Board, drawing: &mut Drawing) -> Option<BoardEdit> {
    let name = ["top", "bottom"]
        .into_iter()
        .map(str::to_owned)
        .chain((2..).map(|n| format!("face {n}")))
        .find(|name| board.face(name).is_none())?;
    let mut new = Face { name: name.clone(), ..Face::default() };
    let mut edits = Vec::new();
    if let Some(face) = drawing.face(board) {
        let (low, high) =
            face.outline.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), c| (l.min(c[0]), h.max(c[0])));
        let dx_mm = if low <= high { tidy(low + high) } else { 0.0 };
        let through = |face: &str| Through { face: face.to_owned(), mirror: Mirror::X, dx_mm, dy_mm: 0.0 };
        new.outline = face.outline.iter().rev().map(|c| [tidy(dx_mm - c[0]), c[1]]).collect();
        new.through = Some(through(&face.name));
        if face.through.is_none() {
            edits.push(BoardEdit::Through { face: face.name.clone(), through: Some(through(&name)) });
        }
    }
    edits.insert(0, BoardEdit::AddFace { index: board.faces.len(), face: Box::new(new) });
    show_face(drawing, name.clone());
    Some(BoardEdit::Several { words: format!("add face {name}"), edits })
}

fn array(
    board: &Board,
    drawing: &mut Drawing,
    chosen: &[&Part],
    [columns, rows]: [usize; 2],
    step_mm: [f64; 2],
) -> Option<BoardEdit> {
    let (low, high) = parts::bounds_of(chosen)?;
    let count = columns.checked_mul(rows)?.checked_sub(1)?.checked_mul(chosen.len())?;
    if count == 0 || count > MOST_COPIES {
        return None;
    }
    // Without a distance, copies stand side by side.
    let step = [0, 1].map(|i: usize| if step_mm[i] == 0.0 { high[i] - low[i] + GAP_MM } else { step_mm[i] });
    let mut copies = Vec::with_capacity(count);
    for row in 0..rows {
        for column in 0..columns {
            if (row, column) != (0, 0) {
                copies.extend(chosen.iter().map(|p| parts::shifted(p, step[0] * column as f64, step[1] * row as f64)));
            }
        }
    }
    let face = drawing.face(board)?;
    Some(add(drawing, face, named(board, copies)))
}

/// Selects what was looked for and brings it into view, on whichever face it is.
fn find(board: &Board, drawing: &mut Drawing, text: &str) {
    let text = text.trim().to_lowercase();
    let hit = |p: &Part| {
        !text.is_empty()
            && (p.designator.to_lowercase().contains(&text) || p.rails.iter().any(|r| r.to_lowercase() == text))
    };
    let exact = |p: &Part| p.designator.to_lowercase() == text;
    let here = board.faces.iter().filter(|f| f.name == drawing.face);
    let Some(face) = here.chain(&board.faces).find(|f| f.parts.iter().any(hit)) else {
        drawing.selected.clear();
        return;
    };
    show_face(drawing, face.name.clone());
    let only = face.parts.iter().any(exact);
    let found: Vec<&Part> = face.parts.iter().filter(|p| if only { exact(p) } else { hit(p) }).collect();
    drawing.selected = found.iter().map(|p| p.designator.clone()).collect();
    drawing.tool = Tool::Select;
    if let (Some((low, high)), Some(view)) = (parts::bounds_of(&found), &mut drawing.view) {
        view.centre_mm = [0, 1].map(|i| (low[i] + high[i]) / 2.0);
    }
}

fn finish(board: &Board, drawing: &mut Drawing) -> Option<BoardEdit> {
    let face = drawing.face(board)?;
    match drawing.tool {
        Tool::Outline if drawing.points.len() >= 3 => {
            let outline = std::mem::take(&mut drawing.points);
            drawing.tool = Tool::Part;
            Some(BoardEdit::Outline { face: face.name.clone(), outline })
        }
        Tool::Square => square_up(face, drawing),
        _ => None,
    }
}

/// The photo with its clicked corners and typed lengths. Where no outline is drawn yet, the rectangle becomes one.
fn square_up(face: &Face, drawing: &mut Drawing) -> Option<BoardEdit> {
    let corners: [[f64; 2]; 4] = drawing.points.clone().try_into().ok()?;
    let length = |i: usize| drawing.lengths[i].trim().replace(',', ".").parse::<f64>().ok().filter(|v| *v > 0.0);
    let (width_mm, height_mm) = (length(0)?, length(1)?);
    let file = face.photo.as_ref()?.file.clone();
    let squared = Photo { file, corners_px: photo::in_order(corners), width_mm, height_mm };
    photo::squaring(&squared).ok()?;
    drawing.points.clear();
    (drawing.tool, drawing.view) = (Tool::Part, None);
    let name = face.name.clone();
    let placed = BoardEdit::Photo { face: name.clone(), photo: Some(squared) };
    if !face.outline.is_empty() {
        return Some(placed);
    }
    let outline = vec![[0.0, 0.0], [width_mm, 0.0], [width_mm, height_mm], [0.0, height_mm]];
    let edits = vec![placed, BoardEdit::Outline { face: name, outline }];
    Some(BoardEdit::Several { words: "square the photo up".to_owned(), edits })
}

fn renumber(board: &Board, drawing: &mut Drawing, chosen: &[&Part]) -> Option<BoardEdit> {
    let face = drawing.face(board)?;
    let mut order: Vec<usize> =
        (0..face.parts.len()).filter(|&i| drawing.selected.contains(&face.parts[i].designator)).collect();
    // Rows of about two millimetres, read like text.
    let place = |i: usize| ((face.parts[i].y_mm / 2.0).round(), face.parts[i].x_mm);
    order.sort_by(|&a, &b| place(a).0.total_cmp(&place(b).0).then(place(a).1.total_cmp(&place(b).1)));
    // Numbers of the selected parts themselves are free to be given again.
    let mut rest = board.clone();
    for face in &mut rest.faces {
        face.parts.retain(|p| !drawing.selected.contains(&p.designator));
    }
    let new = named(&rest, order.iter().map(|&i| face.parts[i].clone()).collect());
    if chosen.is_empty() || order.iter().zip(&new).all(|(&i, n)| face.parts[i].designator == n.designator) {
        return None;
    }
    drawing.selected = new.iter().map(|p| p.designator.clone()).collect();
    let names = order.iter().map(|&i| face.parts[i].designator.clone()).collect();
    let parts: Vec<(usize, Part)> = {
        let mut placed: Vec<(usize, Part)> = order.into_iter().zip(new).collect();
        placed.sort_by_key(|(i, _)| *i);
        placed
    };
    // Out and in again, since names may be exchanged among the parts.
    let edits = vec![BoardEdit::RemoveParts(names), BoardEdit::AddParts { face: face.name.clone(), parts }];
    Some(BoardEdit::Several { words: "number parts anew".to_owned(), edits })
}

fn outline_around(board: &Board, drawing: &mut Drawing) -> Option<BoardEdit> {
    let face = drawing.face(board)?;
    let all: Vec<&Part> = face.parts.iter().collect();
    let photo = face.photo.as_ref().map(|p| ([0.0, 0.0], [p.width_mm, p.height_mm]));
    let (low, high) = photo.or_else(|| {
        let (low, high) = parts::bounds_of(&all)?;
        Some((low.map(|v| to_grid(v - MARGIN_MM, 0.5)), high.map(|v| to_grid(v + MARGIN_MM, 0.5))))
    })?;
    let outline = vec![low, [high[0], low[1]], high, [low[0], high[1]]];
    Some(BoardEdit::Outline { face: face.name.clone(), outline })
}

#[cfg(test)]
mod tests;
