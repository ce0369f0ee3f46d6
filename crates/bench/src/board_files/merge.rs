//! A design into a board. The rule, said in words afterwards: what the file knows about a part of the same designator
//! replaces what was drawn; what it does not know (size, kind, limits, emissivity, series) stays as drawn; parts that
//! only the drawing has stay.

use std::collections::{HashMap, HashSet};

use joulemark_locate::board::{Board, Face, Hole, Part, PartKind, Rail};

use super::{
    Design, Side,
    place::{Frame, MARGIN_MM},
};

/// How a design goes into a board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MergeOptions {
    /// Face that takes the parts of the top.
    pub top: String,
    /// Face that takes the parts of the bottom.
    pub bottom: String,
    /// Take only nets whose names are those of supplies as rails.
    pub supplies_only: bool,
}

impl Default for MergeOptions {
    fn default() -> Self {
        Self { top: "top".into(), bottom: "bottom".into(), supplies_only: true }
    }
}

/// A board with a design in it, and what was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Merged {
    /// The board; it passes its own check.
    pub board: Board,
    /// What was done, one sentence each.
    pub words: Vec<String>,
}

/// Puts a design into a board.
///
/// # Errors
/// One sentence when the design holds nothing to place, or the board would not pass its check.
pub fn merge(board: &Board, design: &Design, options: &MergeOptions) -> Result<Merged, String> {
    let mut words = Vec::new();
    let frame = frame(board, design, options, &mut words).ok_or("the file holds neither parts nor an outline")?;
    let mut board = board.clone();
    let rails = take_rails(&mut board, design, options, &mut words);
    let mut tally = Tally::default();
    for part in &design.parts {
        let mut placed = frame.part(part);
        placed.rails.retain(|r| rails.contains(r));
        let name = face_name(options, part.side);
        place(&mut board, name, placed, part.size_mm.is_some(), !part.nets.is_empty(), &mut tally);
    }
    outlines(&mut board, design, &frame, options, &mut words);
    tally.say(&board, design, &mut words);
    board.check().map_err(|e| e.to_string())?;
    Ok(Merged { board, words })
}

fn face_name(options: &MergeOptions, side: Side) -> &str {
    match side {
        Side::Top => &options.top,
        Side::Bottom => &options.bottom,
    }
}

/// By the parts that board and design both have; otherwise the design's own frame.
fn frame(board: &Board, design: &Design, options: &MergeOptions, words: &mut Vec<String>) -> Option<Frame> {
    let own = Frame::of(design)?;
    let drawn: HashMap<&str, (&str, &Part)> = board
        .faces
        .iter()
        .flat_map(|f| f.parts.iter().map(move |p| (p.designator.as_str(), (f.name.as_str(), p))))
        .collect();
    let (mut dx, mut dy) = ([Vec::new(), Vec::new()], Vec::new());
    for part in &design.parts {
        if let Some((face, drawn)) = drawn.get(part.designator.as_str())
            && *face == face_name(options, part.side)
        {
            let [x, y] = own.face_from_design(part.side, [part.x_mm, part.y_mm]);
            dx[usize::from(part.side == Side::Bottom)].push(drawn.x_mm - x);
            dy.push(drawn.y_mm - y);
        }
    }
    // One common part may be drawn anywhere; two that agree are a frame.
    if dy.len() < 2 {
        return Some(own);
    }
    let spread = |values: &[f64]| {
        let middle = median(values);
        median(&values.iter().map(|v| (v - middle).abs()).collect::<Vec<_>>())
    };
    let apart = dx.iter().filter(|d| d.len() > 1).map(|d| spread(d)).chain([spread(&dy)]).fold(0.0, f64::max);
    let [top, bottom] = &dx;
    let (left, right) = match (top.is_empty(), bottom.is_empty()) {
        (false, true) => (own.left_mm - median(top), own.right_mm - median(top)),
        (true, false) => (own.left_mm + median(bottom), own.right_mm + median(bottom)),
        _ => (own.left_mm - median(top), own.right_mm + median(bottom)),
    };
    words.push(format!(
        "placed by {} parts that drawing and file both have; half of them agree within {apart:.2} mm",
        dy.len()
    ));
    Some(Frame { left_mm: left, right_mm: right, top_mm: own.top_mm + median(&dy) })
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => 0.0,
        n if n % 2 == 1 => sorted[n / 2],
        n => 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]),
    }
}

/// Adds the design's nets as rails and returns the names of all rails that parts may sit on.
fn take_rails(board: &mut Board, design: &Design, options: &MergeOptions, words: &mut Vec<String>) -> HashSet<String> {
    let mut known: HashSet<String> = board.rails.iter().map(|r| r.name.clone()).collect();
    let (mut added, mut left) = (0, 0);
    for net in &design.nets {
        if net.name.trim().is_empty() || known.contains(&net.name) {
            continue;
        }
        if options.supplies_only && !net.looks_like_supply() {
            left += 1;
            continue;
        }
        known.insert(net.name.clone());
        board.rails.push(Rail { name: net.name.clone(), nominal_volts: None });
        added += 1;
    }
    if added > 0 {
        words.push(format!("{added} nets added as rails, without nominal volts: fill in those you work on"));
    }
    if left > 0 {
        words.push(format!("{left} nets left out, whose names are not those of supplies"));
    }
    known
}

#[derive(Default)]
struct Tally {
    added: usize,
    moved_face: Vec<String>,
    updated: Vec<String>,
    unsized_new: usize,
}

fn place(board: &mut Board, face: &str, mut placed: Part, sized: bool, netted: bool, tally: &mut Tally) {
    let at = board
        .faces
        .iter()
        .enumerate()
        .find_map(|(f, face)| face.parts.iter().position(|p| p.designator == placed.designator).map(|p| (f, p)));
    let Some((f, p)) = at else {
        tally.added += 1;
        tally.unsized_new += usize::from(!sized);
        face_mut(board, face).parts.push(placed);
        return;
    };
    let drawn = board.faces[f].parts[p].clone();
    if !sized {
        (placed.width_mm, placed.height_mm) = (drawn.width_mm, drawn.height_mm);
    }
    if drawn.kind != PartKind::Other {
        placed.kind = drawn.kind;
    }
    if !netted {
        placed.rails = drawn.rails.clone();
    }
    (placed.max_volts, placed.emissivity, placed.series) = (drawn.max_volts, drawn.emissivity, drawn.series);
    if board.faces[f].name == face {
        if placed != drawn {
            tally.updated.push(placed.designator.clone());
        }
        board.faces[f].parts[p] = placed;
    } else {
        tally.moved_face.push(placed.designator.clone());
        board.faces[f].parts.remove(p);
        face_mut(board, face).parts.push(placed);
    }
}

fn face_mut<'a>(board: &'a mut Board, name: &str) -> &'a mut Face {
    let at = match board.faces.iter().position(|f| f.name == name) {
        Some(at) => at,
        None => {
            board.faces.push(Face { name: name.to_owned(), ..Face::default() });
            board.faces.len() - 1
        }
    };
    &mut board.faces[at]
}

/// Outlines from the design; faces that still lack one get a rectangle around their parts.
fn outlines(board: &mut Board, design: &Design, frame: &Frame, options: &MergeOptions, words: &mut Vec<String>) {
    if let Some(outline) = &design.outline {
        let _ = face_mut(board, &options.top);
        let mut replaced = Vec::new();
        for side in [Side::Top, Side::Bottom] {
            if let Some(face) = board.faces.iter_mut().find(|f| f.name == face_name(options, side)) {
                let shape = frame.shape(side, outline);
                if !face.outline.is_empty() && face.outline != shape {
                    replaced.push(face.name.clone());
                }
                face.outline = shape;
            }
        }
        if !replaced.is_empty() {
            words.push(format!("the outline of {} replaced", replaced.join(" and ")));
        }
        holes(board, design, frame, options, words);
    }
    let mut drawn = Vec::new();
    for face in board.faces.iter_mut().filter(|f| f.outline.is_empty()) {
        let half = |p: &Part| 0.5 * p.width_mm.hypot(p.height_mm);
        let corners = face.parts.iter().flat_map(|p| {
            let h = half(p);
            [[p.x_mm - h, p.y_mm - h], [p.x_mm + h, p.y_mm + h]]
        });
        if let Some([l, t, r, b]) = super::design::bounds(corners) {
            let (l, t, r, b) = (l - MARGIN_MM, t - MARGIN_MM, r + MARGIN_MM, b + MARGIN_MM);
            face.outline = vec![[l, t], [r, t], [r, b], [l, b]];
            drawn.push(face.name.clone());
        }
    }
    if !drawn.is_empty() {
        words.push(format!("the outline of {} is a rectangle around its parts; correct it", drawn.join(" and ")));
    }
    let (top, bottom) = (options.top.clone(), options.bottom.clone());
    if let Some(bottom) = board.face(&bottom).cloned()
        && let Some(face) = board.faces.iter_mut().find(|f| f.name == top && f.through.is_none())
    {
        face.through = Some(frame.through(&bottom));
    }
}

/// Cut-outs as holes of both faces. A hole that was drawn where the file has one is replaced.
fn holes(board: &mut Board, design: &Design, frame: &Frame, options: &MergeOptions, words: &mut Vec<String>) {
    let mut odd = 0;
    for side in [Side::Top, Side::Bottom] {
        let Some(face) = board.faces.iter_mut().find(|f| f.name == face_name(options, side)) else {
            continue;
        };
        odd = 0;
        for shape in &design.cutouts {
            let (hole, round) = round_hole(&frame.shape(side, shape));
            odd += usize::from(!round);
            let here = |h: &Hole| (h.x_mm - hole.x_mm).hypot(h.y_mm - hole.y_mm) < 0.5 * hole.diameter_mm;
            face.holes.retain(|h| !here(h));
            face.holes.push(hole);
        }
    }
    if !design.cutouts.is_empty() {
        words.push(format!("{} cut-outs taken as holes", design.cutouts.len()));
    }
    if odd > 0 {
        words.push(format!("{odd} of them are not round; each is drawn as a circle of the same area"));
    }
}

/// The circle of a shape's area about its centre of area, and whether the shape is nearly that circle.
fn round_hole(shape: &[[f64; 2]]) -> (Hole, bool) {
    let pairs = || shape.iter().zip(shape.iter().cycle().skip(1));
    // Relative to the first corner, so that far from zero nothing cancels.
    let [x0, y0] = shape.first().copied().unwrap_or_default();
    let (mut twice, mut x, mut y) = (0.0, 0.0, 0.0);
    for (a, b) in pairs() {
        let (ax, ay, bx, by) = (a[0] - x0, a[1] - y0, b[0] - x0, b[1] - y0);
        let cross = ax * by - bx * ay;
        twice += cross;
        x += (ax + bx) * cross;
        y += (ay + by) * cross;
    }
    let (x_mm, y_mm) = if twice == 0.0 { (x0, y0) } else { (x0 + x / (3.0 * twice), y0 + y / (3.0 * twice)) };
    let diameter_mm = (2.0 * (0.5 * twice.abs() / std::f64::consts::PI).sqrt()).max(1e-4);
    let near = |p: &[f64; 2]| {
        let r = (p[0] - x_mm).hypot(p[1] - y_mm);
        // A polygon of 12 corners stands 2.3 % off its circle of equal area.
        (r - 0.5 * diameter_mm).abs() < 0.05 * diameter_mm
    };
    let tidy = |v: f64| (v * 1e4).round() / 1e4 + 0.0;
    let hole = Hole { x_mm: tidy(x_mm), y_mm: tidy(y_mm), diameter_mm: tidy(diameter_mm).max(1e-4) };
    (hole, shape.len() > 7 && shape.iter().all(near))
}

impl Tally {
    fn say(self, board: &Board, design: &Design, words: &mut Vec<String>) {
        if self.added > 0 {
            words.push(format!("{} parts added", self.added));
        }
        if self.unsized_new > 0 {
            words.push(format!(
                "{} of them drawn 1 mm square, since no file tells their size; correct those that matter",
                self.unsized_new
            ));
        }
        for (parts, what) in
            [(&self.updated, "updated where they were drawn otherwise"), (&self.moved_face, "moved to the other face")]
        {
            if !parts.is_empty() {
                words.push(format!("{} parts {what}: {}", parts.len(), some(parts)));
            }
        }
        if !design.parts.is_empty() {
            let listed: HashSet<&str> = design.parts.iter().map(|p| p.designator.as_str()).collect();
            let parts = board.faces.iter().flat_map(|f| &f.parts);
            let kept: Vec<String> =
                parts.filter(|p| !listed.contains(p.designator.as_str())).map(|p| p.designator.clone()).collect();
            if !kept.is_empty() {
                words.push(format!(
                    "{} parts kept as drawn, which the file does not list: {}",
                    kept.len(),
                    some(&kept)
                ));
            }
        }
    }
}

/// A few names, and how many more.
fn some(names: &[String]) -> String {
    const SHOWN: usize = 6;
    let mut text = names.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN {
        text += &format!(" and {} more", names.len() - SHOWN);
    }
    text
}
