//! DXF drawings: lines, arcs, circles, ellipses and polylines of one layer into the outline. The crate `dxf` reads the
//! file; the header's `$INSUNITS` states the unit.

use std::{collections::BTreeMap, path::Path};

use dxf::{Drawing, entities::EntityType, enums::Units};

use super::{
    Design, MOST_ITEMS,
    contours::{self, Line, arc, circle},
    design::bounds,
    units::{LengthUnit, UnitGuess},
};
use crate::case::BadInput;

/// Words that name the layer of the outline.
const OUTLINE_WORDS: [&str; 7] = ["outline", "edge", "profile", "contour", "border", "board", "cut"];

/// Reads an outline. Without a stated layer, the one whose name says outline, edge or the like; otherwise all.
///
/// # Errors
/// Damage, a layer that is not there, or nothing that encloses an area.
pub fn read(file: &Path, bytes: &[u8], unit: Option<LengthUnit>, layer: Option<&str>) -> anyhow::Result<Design> {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(BadInput::at(file, "", "the file is empty", "give the file that was written, not an empty one"));
    }
    let drawing = Drawing::load(&mut &bytes[..])
        .map_err(|e| BadInput::at(file, "", format!("damaged: {e}"), "save the drawing again as DXF"))?;
    let mut design = Design::default();
    let unit_mm = unit.map(LengthUnit::mm).or(stated(drawing.header.default_drawing_units));
    let (mut pieces, skipped) = take_layer(file, layers(file, &drawing, unit_mm.unwrap_or(1.0))?, layer, &mut design)?;
    if unit_mm.is_none() {
        let span = bounds(pieces.iter().flatten().copied()).map_or(0.0, |[l, b, r, t]| (r - l).max(t - b));
        let guess = UnitGuess::by_span(span);
        if guess.unit != LengthUnit::Millimetre {
            // Arcs are cut into chords in millimetres, so once more.
            design = Design::default();
            pieces = take_layer(file, layers(file, &drawing, guess.unit.mm())?, layer, &mut design)?.0;
        }
        design.notes.extend(guess.note());
    }
    if skipped > 0 {
        design.notes.push(format!("{skipped} splines, blocks or solids were left out"));
    }
    contours::outline(&mut design, pieces);
    if design.outline.is_none() {
        return Err(BadInput::at(file, "", "its lines enclose no area", "choose the layer that holds the outline"));
    }
    Ok(design)
}

type Layers = BTreeMap<String, Vec<Line>>;

/// Lines of every layer in millimetres, and how many entities were left out.
fn layers(file: &Path, drawing: &Drawing, mm: f64) -> anyhow::Result<(Layers, usize)> {
    let mut layers = Layers::new();
    let (mut skipped, mut points) = (0, 0);
    let at = |x: f64, y: f64| [x * mm, y * mm];
    for entity in drawing.entities() {
        let line = match &entity.specific {
            EntityType::Line(l) => vec![at(l.p1.x, l.p1.y), at(l.p2.x, l.p2.y)],
            EntityType::Circle(c) => circle(at(c.center.x, c.center.y), c.radius * mm),
            EntityType::Arc(a) => {
                let (start, sweep) = (a.start_angle.to_radians(), (a.end_angle - a.start_angle).rem_euclid(360.0));
                let (centre, radius) = (at(a.center.x, a.center.y), a.radius * mm);
                let from = [centre[0] + radius * start.cos(), centre[1] + radius * start.sin()];
                let mut line = vec![from];
                line.extend(arc(from, centre, sweep.to_radians()));
                line
            }
            EntityType::Ellipse(e) => ellipse(e).into_iter().map(|[x, y]| at(x, y)).collect(),
            EntityType::LwPolyline(p) => {
                let corners: Vec<_> = p.vertices.iter().map(|v| (at(v.x, v.y), v.bulge)).collect();
                bulged(&corners, p.is_closed())
            }
            EntityType::Polyline(p) => {
                let corners: Vec<_> = p.vertices().map(|v| (at(v.location.x, v.location.y), v.bulge)).collect();
                bulged(&corners, p.is_closed())
            }
            EntityType::Spline(_) | EntityType::Insert(_) | EntityType::Solid(_) | EntityType::Face3D(_) => {
                skipped += 1;
                continue;
            }
            _ => continue,
        };
        points += line.len();
        if points > MOST_ITEMS * 10 {
            return Err(BadInput::at(file, "", "more lines than an outline has", "save the outline alone"));
        }
        layers.entry(entity.common.layer.clone()).or_default().push(line);
    }
    Ok((layers, skipped))
}

/// The lines of the stated layer, of the one named like an outline, or of all.
fn take_layer(
    file: &Path,
    (mut layers, skipped): (Layers, usize),
    stated: Option<&str>,
    design: &mut Design,
) -> anyhow::Result<(Vec<Line>, usize)> {
    let known = layers.keys().cloned().collect::<Vec<_>>().join(", ");
    if let Some(name) = stated {
        let lines = layers.remove(name).ok_or_else(|| {
            BadInput::at(file, "", format!("layer '{name}' holds no lines"), format!("its layers are {known}"))
        })?;
        return Ok((lines, skipped));
    }
    let named = layers.keys().find(|n| {
        let n = n.to_lowercase();
        OUTLINE_WORDS.iter().any(|w| n.contains(w))
    });
    let lines = match named.cloned() {
        Some(name) => {
            if layers.len() > 1 {
                design.notes.push(format!("layer '{name}' taken, of {known}"));
            }
            layers.remove(&name).unwrap_or_default()
        }
        None => layers.into_values().flatten().collect(),
    };
    Ok((lines, skipped))
}

/// Millimetres of `$INSUNITS`; none for "unitless" and what no board is drawn in.
fn stated(units: Units) -> Option<f64> {
    match units {
        Units::Inches => Some(25.4),
        Units::Feet => Some(304.8),
        Units::Millimeters => Some(1.0),
        Units::Centimeters => Some(10.0),
        Units::Meters => Some(1000.0),
        Units::Mils => Some(0.0254),
        Units::Microinches => Some(2.54e-5),
        Units::Microns => Some(1e-3),
        Units::Decimeters => Some(100.0),
        _ => None,
    }
}

/// A polyline whose corners carry bulges: the tangent of a quarter of the arc's angle to the next corner, positive
/// anticlockwise (DXF reference, group code 42).
fn bulged(corners: &[([f64; 2], f64)], closed: bool) -> Line {
    let n = corners.len();
    let mut line: Line = corners.first().map(|c| c.0).into_iter().collect();
    let last = if closed { n } else { n.saturating_sub(1) };
    for i in 0..last {
        let ((a, bulge), (b, _)) = (corners[i], corners[(i + 1) % n]);
        if bulge == 0.0 || !bulge.is_finite() || a == b {
            line.push(b);
            continue;
        }
        // The centre lies off the chord's middle by half the chord times (1 - b²) / 2b, to its left.
        let offset = 0.5 * (1.0 - bulge * bulge) / (2.0 * bulge);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let centre = [0.5 * (a[0] + b[0]) - offset * dy, 0.5 * (a[1] + b[1]) + offset * dx];
        let before = line.len();
        line.extend(arc(a, centre, 4.0 * bulge.atan()));
        if line.len() > before
            && let Some(end) = line.last_mut()
        {
            *end = b;
        }
    }
    line
}

fn ellipse(e: &dxf::entities::Ellipse) -> Line {
    /// Chords of a whole ellipse.
    const STEPS: usize = 180;
    let (mx, my) = (e.major_axis.x, e.major_axis.y);
    let mut sweep = e.end_parameter - e.start_parameter;
    if sweep <= 0.0 {
        sweep += std::f64::consts::TAU;
    }
    (0..=STEPS)
        .map(|i| {
            let t = e.start_parameter + sweep * i as f64 / STEPS as f64;
            let (s, c) = t.sin_cos();
            [e.center.x + c * mx - s * e.minor_axis_ratio * my, e.center.y + c * my + s * e.minor_axis_ratio * mx]
        })
        .collect()
}
