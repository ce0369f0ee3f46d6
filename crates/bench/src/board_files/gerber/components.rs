//! Parts of an X3 component layer (specification, section 6): a flash marks the centre, an outline the body, flashes
//! the pins.

use std::collections::HashMap;

use gerber_parser::gerber_types::{ApertureFunction, ComponentOutline};

use super::plot::Plot;
use crate::board_files::{
    Design, DesignPart, Net,
    design::{bounds, is_ground},
    part_kind,
};

#[derive(Default)]
struct Found {
    centre: Option<[f64; 2]>,
    rotation_deg: Option<f64>,
    /// The best outline so far: its rank (0 is the body) and its corners.
    outline: Option<(usize, Vec<[f64; 2]>)>,
    pins: Vec<[f64; 2]>,
    nets: Vec<String>,
}

pub(super) fn add(design: &mut Design, plot: &Plot) {
    let mut order = Vec::new();
    let mut found: HashMap<&str, Found> = HashMap::new();
    for flash in &plot.flashes {
        let name = flash.object.pin_of.as_ref().or(flash.object.part.as_ref());
        let Some(name) = name.filter(|n| !n.trim().is_empty()) else { continue };
        let part = found.entry(name).or_insert_with(|| {
            order.push(name.as_str());
            Found::default()
        });
        match &flash.function {
            Some(ApertureFunction::ComponentMain) => {
                part.centre = Some(flash.at);
                part.rotation_deg = flash.object.rotation_deg;
            }
            Some(ApertureFunction::ComponentPin) => part.pins.push(flash.at),
            _ => continue,
        }
        for net in &flash.object.nets {
            if !is_ground(net) && !part.nets.contains(net) {
                part.nets.push(net.clone());
            }
        }
    }
    for shape in &plot.shapes {
        let (Some(name), Some(ApertureFunction::ComponentOutline(kind))) = (&shape.object.part, &shape.function) else {
            continue;
        };
        let rank = match kind {
            ComponentOutline::Body => 0,
            ComponentOutline::Lead2Lead => 1,
            ComponentOutline::Footprint => 2,
            ComponentOutline::Courtyard => 3,
        };
        let Some(part) = found.get_mut(name.as_str()) else { continue };
        match &mut part.outline {
            // An outline may come in several lines.
            Some((known, corners)) if *known == rank => corners.extend(&shape.line),
            Some((known, _)) if *known < rank => {}
            _ => part.outline = Some((rank, shape.line.clone())),
        }
    }
    let mut unsized_parts = 0;
    let mut pins: HashMap<String, usize> = HashMap::new();
    for name in order {
        let Some(part) = found.remove(name) else { continue };
        let rotation_deg = part.rotation_deg.filter(|r| r.is_finite()).unwrap_or(0.0);
        let (sin, cos) = rotation_deg.to_radians().sin_cos();
        let own = |p: [f64; 2]| [p[0] * cos + p[1] * sin, -p[0] * sin + p[1] * cos];
        let points = part.outline.as_ref().map_or(&part.pins, |(_, corners)| corners);
        let extent = bounds(points.iter().map(|p| own(*p)));
        let size = extent.map(|[l, b, r, t]| [r - l, t - b]).filter(|[w, h]| *w > 0.0 && *h > 0.0);
        // The flash may mark another point than the middle of the body; the body is what is warm.
        let middle = extent.filter(|_| size.is_some()).map(|[l, b, r, t]| {
            let (u, v) = (0.5 * (l + r), 0.5 * (b + t));
            [u * cos - v * sin, u * sin + v * cos]
        });
        let Some([x_mm, y_mm]) = middle.or(part.centre) else { continue };
        unsized_parts += usize::from(size.is_none());
        for net in &part.nets {
            *pins.entry(net.clone()).or_default() += 1;
        }
        design.parts.push(DesignPart {
            designator: name.to_owned(),
            side: plot.side(),
            x_mm,
            y_mm,
            size_mm: size,
            rotation_deg,
            kind: part_kind(name),
            nets: part.nets,
        });
    }
    design.nets = pins.into_iter().map(|(name, pins)| Net { name, pins }).collect();
    design.nets.sort_by(|a, b| a.name.cmp(&b.name));
    if unsized_parts > 0 {
        design.notes.push(format!("the layer does not tell the size of {unsized_parts} parts"));
    }
}
