//! SVG drawings (W3C SVG 1.1 and 2): the largest closed shape becomes the outline. The crate `usvg` resolves shapes,
//! transforms, styles and lengths; the unit is read off the root element here.

use std::path::Path;

use usvg::{
    Group, Node, Options, Tree,
    tiny_skia_path::{PathSegment, Point},
};

use super::{
    Design, MOST_ITEMS,
    contours::{self, Line},
    text::text,
    units::{LengthUnit, UnitGuess},
};
use crate::case::BadInput;

/// CSS: 96 px are an inch (CSS Values and Units 3, section 6.2).
const MM_PER_PX: f64 = 25.4 / 96.0;

/// A curve becomes so many chords: at the size of a board far finer than a picture resolves.
const CHORDS: usize = 48;

/// Reads an outline.
///
/// # Errors
/// No SVG, or nothing that encloses an area.
pub fn read(file: &Path, bytes: &[u8], unit: Option<LengthUnit>) -> anyhow::Result<Design> {
    let text = text(file, bytes)?;
    // Neither files nor addresses named in the drawing are opened.
    let options = Options {
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..Options::default()
    };
    let tree = Tree::from_str(&text, &options)
        .map_err(|e| BadInput::at(file, "", e.to_string(), "save the drawing again as plain SVG"))?;
    let mut design = Design::default();
    let scale = scale(&text, unit, &mut design);
    let mut pieces = Vec::new();
    let mut points = 0;
    collect(tree.root(), &mut pieces, &mut points);
    if points > MOST_ITEMS * 10 {
        return Err(BadInput::at(file, "", "more lines than an outline has", "save the outline alone"));
    }
    for piece in &mut pieces {
        for p in piece {
            // y points down in SVG.
            *p = [p[0] * scale, -p[1] * scale];
        }
    }
    contours::outline(&mut design, pieces);
    if design.outline.is_none() {
        return Err(BadInput::at(file, "", "no closed shape in it", "draw the outline as one closed line"));
    }
    Ok(design)
}

/// Millimetres in one CSS pixel of the resolved drawing.
fn scale(text: &str, stated: Option<LengthUnit>, design: &mut Design) -> f64 {
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..roxmltree::ParsingOptions::default() };
    let document = roxmltree::Document::parse_with_options(text, options).ok();
    let width = document.as_ref().and_then(|d| d.root_element().attribute("width")).unwrap_or("").trim().to_owned();
    let absolute = ["mm", "cm", "in", "pt", "pc", "Q"].iter().any(|u| width.ends_with(u));
    match stated {
        // The user's unit counts the numbers as they are written.
        Some(unit) if !absolute => unit.mm(),
        Some(unit) => MM_PER_PX * unit.mm() / written_mm(&width),
        None if absolute => MM_PER_PX,
        None => {
            let guess = UnitGuess {
                unit: LengthUnit::Millimetre,
                reason: format!("the drawing's width '{width}' has no unit of length"),
                stated: false,
            };
            design.notes.extend(guess.note());
            1.0
        }
    }
}

/// Millimetres of the unit that a length is written in.
fn written_mm(length: &str) -> f64 {
    [("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("pt", 25.4 / 72.0), ("pc", 25.4 / 6.0), ("Q", 0.25)]
        .into_iter()
        .find(|(unit, _)| length.ends_with(unit))
        .map_or(1.0, |(_, mm)| mm)
}

fn collect(group: &Group, pieces: &mut Vec<Line>, points: &mut usize) {
    for node in group.children() {
        match node {
            Node::Group(inner) => collect(inner, pieces, points),
            Node::Path(path) if path.is_visible() => {
                let transform = path.abs_transform();
                let map = |p: Point| {
                    let (x, y) = (f64::from(p.x), f64::from(p.y));
                    let [sx, ky, kx, sy, tx, ty] =
                        [transform.sx, transform.ky, transform.kx, transform.sy, transform.tx, transform.ty]
                            .map(f64::from);
                    [sx * x + kx * y + tx, ky * x + sy * y + ty]
                };
                let mut line: Line = Vec::new();
                for segment in path.data().segments() {
                    if *points > MOST_ITEMS * 10 {
                        return;
                    }
                    let before = line.len();
                    match segment {
                        PathSegment::MoveTo(p) => {
                            pieces.push(std::mem::replace(&mut line, vec![map(p)]));
                            *points += 1;
                            continue;
                        }
                        PathSegment::LineTo(p) => line.push(map(p)),
                        PathSegment::QuadTo(a, b) => {
                            let Some(&start) = line.last() else { continue };
                            let (a, b) = (map(a), map(b));
                            line.extend(bezier([start, between(start, a, 2.0 / 3.0), between(b, a, 2.0 / 3.0), b]));
                        }
                        PathSegment::CubicTo(a, b, c) => {
                            let Some(&start) = line.last() else { continue };
                            line.extend(bezier([start, map(a), map(b), map(c)]));
                        }
                        PathSegment::Close => {
                            if let Some(&first) = line.first() {
                                line.push(first);
                                pieces.push(std::mem::replace(&mut line, vec![first]));
                            }
                            continue;
                        }
                    }
                    *points += line.len() - before;
                }
                pieces.push(line);
            }
            _ => {}
        }
    }
}

fn between(a: [f64; 2], b: [f64; 2], t: f64) -> [f64; 2] {
    [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
}

fn bezier(p: [[f64; 2]; 4]) -> impl Iterator<Item = [f64; 2]> {
    (1..=CHORDS).map(move |i| {
        let t = i as f64 / CHORDS as f64;
        let s = 1.0 - t;
        let w = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
        [0, 1].map(|k| (0..4).map(|j| w[j] * p[j][k]).sum())
    })
}
