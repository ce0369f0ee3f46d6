//! The drawing of a face; parts of a rail are set off by weight and a cross, not by colour.

use joulemark_locate::board::{Board, Face, Footprint, Part};

use super::{
    Area, Missing, Rendered, Sources, ViewPlacing, area, furniture,
    placing::{Flat, Kind},
};
use crate::{
    lesson::View,
    report::{
        clip,
        drawing::{Anchor, Ink, Shape},
    },
};

/// Room for two lines below.
pub const MARGINS: area::Margins = [0.2, 0.2, 0.2, 3.2];
/// Millimetres around the board.
const AROUND: f64 = 0.03;
/// Within a part, names are at least this share of ordinary words.
const LEAST_NAME: f32 = 0.5;
/// Beside a part, they are this share.
const BESIDE: f32 = 0.6;

pub fn render(
    view: &View,
    name: &str,
    rail: Option<&str>,
    sources: &Sources<'_>,
    area: &Area,
) -> Result<Rendered, Missing> {
    let face = drawn(sources.board, name)?;
    let (rect, flat) = place(view, extent_mm(face), area);
    let mut shapes = vec![Shape::Fill { rect, ink: area.inks.ground, opacity: 1.0 }];
    lines(&mut shapes, sources.board, face, rail, &flat, area, rect, Pens { ink: area.inks.words, halo: None });
    furniture::scale_bar(&mut shapes, area, rect, 1.0 / flat.scale[0]);
    let on = rail.map_or_else(String::new, |rail| format!(", parts on rail {rail} crossed"));
    let said = format!("Drawing of face {name}{on}");
    furniture::caption(&mut shapes, area, rect, &said);
    let placing = ViewPlacing::new(area, rect, Kind::Face(name.to_owned()), flat);
    let alt = format!("{said}; {} parts", face.parts.len());
    Ok(Rendered { picture: None, shapes, placing, alt, time_words: None, ends: area.ends(rect, MARGINS) })
}

/// A face that has something on it.
pub fn drawn<'a>(board: &'a Board, name: &str) -> Result<&'a Face, Missing> {
    let face = board.face(name).ok_or_else(|| Missing(format!("Face '{name}' is not on this board.")))?;
    if face.outline.len() < 3 && face.parts.is_empty() {
        return Err(Missing(format!("Nothing is drawn on face '{name}' yet.")));
    }
    Ok(face)
}

/// Where the millimetres of a view go.
pub fn place(view: &View, whole_mm: [f64; 4], area: &Area) -> ([f32; 4], Flat) {
    let room = area.within(MARGINS);
    let seen = area::seen(whole_mm, view.zoom, room);
    let rect = area::fitted(room, seen[2] - seen[0], seen[3] - seen[1]);
    (rect, Flat::onto(seen, rect))
}

/// Left, top, right, bottom of what is drawn, with some room around.
pub fn extent_mm(face: &Face) -> [f64; 4] {
    let parts = face.parts.iter().flat_map(|p| Footprint::from(p).corners_mm()).map(|c| [c.x, c.y]);
    let mut extent = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for [x, y] in face.outline.iter().copied().chain(parts) {
        extent = [extent[0].min(x), extent[1].min(y), extent[2].max(x), extent[3].max(y)];
    }
    let around = AROUND * (extent[2] - extent[0]).max(extent[3] - extent[1]).max(1.0);
    [extent[0] - around, extent[1] - around, extent[2] + around, extent[3] + around]
}

/// How lines are drawn.
#[derive(Clone, Copy, Debug)]
pub struct Pens {
    pub ink: Ink,
    /// Around every line, where the ground is a picture.
    pub halo: Option<Ink>,
}

/// Outline, holes and parts, cut to a rectangle.
#[expect(clippy::too_many_arguments, reason = "what is drawn, where, and how")]
pub fn lines(
    shapes: &mut Vec<Shape>,
    board: &Board,
    face: &Face,
    rail: Option<&str>,
    flat: &Flat,
    area: &Area,
    rect: [f32; 4],
    pens: Pens,
) {
    let joined = rail.map(|r| board.joined_rails(r)).unwrap_or_default();
    let unit = area.words_size;
    let mut put = |points: Vec<[f32; 2]>, closed: bool, width: f32, ink: Ink| {
        let dash = None;
        if let Some(ink) = pens.halo {
            let (points, width) = (points.clone(), width + 0.1 * unit);
            let halo = Shape::Line { points, closed, width, ink, opacity: 0.6, dash };
            shapes.extend(clip::shape(halo, rect));
        }
        shapes.extend(clip::shape(Shape::Line { points, closed, width, ink, opacity: 1.0, dash }, rect));
    };
    if face.outline.len() > 2 {
        put(face.outline.iter().map(|c| flat.at(*c)).collect(), true, 0.16 * unit, pens.ink);
    }
    for hole in &face.holes {
        put(ring(hole.x_mm, hole.y_mm, hole.diameter_mm / 2.0, flat), true, 0.07 * unit, pens.ink);
    }
    let weak = if pens.halo.is_some() { pens.ink } else { area.inks.weak };
    for part in &face.parts {
        let corners: Vec<[f32; 2]> = Footprint::from(part).corners_mm().iter().map(|c| flat.at([c.x, c.y])).collect();
        let direct = rail.is_some_and(|r| part.rails.iter().any(|p| p == r));
        let through = joined.iter().any(|j| part.rails.contains(&j.rail));
        if direct {
            put(vec![corners[0], corners[2]], false, 0.05 * unit, pens.ink);
            put(vec![corners[1], corners[3]], false, 0.05 * unit, pens.ink);
        }
        // A heavy line around a part of a few points would fill it.
        let [_, _, wide, high] = extent(part, flat);
        let most = (0.14 * wide.min(high)).max(0.05 * unit);
        let (width, ink) = match (direct, through) {
            (true, _) => (0.18 * unit, pens.ink),
            (false, true) => (0.12 * unit, pens.ink),
            (false, false) => (0.06 * unit, weak),
        };
        put(corners, true, width.min(most), ink);
    }
    names(shapes, face, flat, area, rect, pens);
}

fn ring(x_mm: f64, y_mm: f64, radius_mm: f64, flat: &Flat) -> Vec<[f32; 2]> {
    const SIDES: usize = 32;
    let corner = |i: usize| {
        let (sin, cos) = (std::f64::consts::TAU * i as f64 / SIDES as f64).sin_cos();
        flat.at([x_mm + radius_mm * cos, y_mm + radius_mm * sin])
    };
    (0..SIDES).map(corner).collect()
}

/// Names of parts: within the part where they fit, else beside it where nothing else is, else not at all.
fn names(shapes: &mut Vec<Shape>, face: &Face, flat: &Flat, area: &Area, rect: [f32; 4], pens: Pens) {
    let extents: Vec<[f32; 4]> = face.parts.iter().map(|p| extent(p, flat)).collect();
    let mut taken: Vec<[f32; 4]> = Vec::new();
    for (part, &[left, top, width, height]) in face.parts.iter().zip(&extents) {
        let per_size = area.fonts.face(false).width(&part.designator, 1.0).max(0.1);
        let within = area.small().min(0.8 * width / per_size).min(0.78 * height);
        let [x, y] = [left + width / 2.0, top + height / 2.0];
        let (at, size) = if within >= LEAST_NAME * area.words_size {
            ([x, y], within)
        } else {
            let size = BESIDE * area.words_size;
            let (half_wide, half_high) = (per_size * size / 2.0 + 0.1 * size, 0.5 * size);
            let (aside, over) = (width / 2.0 + half_wide + 0.15 * size, height / 2.0 + half_high + 0.1 * size);
            let places = [[x + aside, y], [x - aside, y], [x, y + over], [x, y - over]];
            let around = |[x, y]: [f32; 2]| [x - half_wide, y - half_high, 2.0 * half_wide, 2.0 * half_high];
            // A part that holds both, a shield say, is not hidden by the name.
            let hides = |place: [f32; 4], other: &[f32; 4]| {
                overlap(place, *other) && !(holds(*other, place) && holds(*other, [left, top, width, height]))
            };
            let free = |place: &[f32; 2]| {
                let place = around(*place);
                holds(rect, place) && !extents.iter().chain(&taken).any(|other| hides(place, other))
            };
            let Some(place) = places.into_iter().find(free) else { continue };
            taken.push(around(place));
            (place, size)
        };
        shapes.extend(
            name(&part.designator, at, size, per_size, area, pens).into_iter().flat_map(|s| clip::shape(s, rect)),
        );
    }
}

/// A name on a plate, so that a cross does not run through it.
fn name(text: &str, [x, y]: [f32; 2], size: f32, per_size: f32, area: &Area, pens: Pens) -> [Shape; 2] {
    let (wide, high) = (per_size * size + 0.2 * size, size);
    let ground = pens.halo.unwrap_or(area.inks.ground);
    let opacity = if pens.halo.is_some() { 0.75 } else { 1.0 };
    let (at, anchor) = ([x, y + 0.36 * size], Anchor::Middle);
    [
        Shape::Fill { rect: [x - wide / 2.0, y - high / 2.0, wide, high], ink: ground, opacity },
        Shape::Words { text: text.to_owned(), at, size, bold: false, anchor, ink: pens.ink },
    ]
}

/// The upright rectangle around a part.
fn extent(part: &Part, flat: &Flat) -> [f32; 4] {
    let corners = Footprint::from(part).corners_mm().map(|c| flat.at([c.x, c.y]));
    let end = |axis: usize, pick: fn(f32, f32) -> f32| corners.iter().map(|c| c[axis]).reduce(pick).unwrap_or(0.0);
    let [x, y] = [end(0, f32::min), end(1, f32::min)];
    [x, y, end(0, f32::max) - x, end(1, f32::max) - y]
}

fn overlap(a: [f32; 4], b: [f32; 4]) -> bool {
    a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3]
}

fn holds(outer: [f32; 4], inner: [f32; 4]) -> bool {
    inner[0] >= outer[0]
        && inner[1] >= outer[1]
        && inner[0] + inner[2] <= outer[0] + outer[2]
        && inner[1] + inner[3] <= outer[1] + outer[3]
}
