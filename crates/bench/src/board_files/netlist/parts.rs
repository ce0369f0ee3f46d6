//! Parts from their pads: the box around the pads, along the axis on which the pads lie.

use std::collections::HashMap;

use super::{Scale, record::Feature};
use crate::board_files::{Design, DesignPart, Side, design::is_ground, part_kind};

/// Adds one part for every designator.
pub(super) fn add(design: &mut Design, features: &[Feature], scale: Scale) {
    let mut order: Vec<&str> = Vec::new();
    let mut pads: HashMap<&str, Vec<&Feature>> = HashMap::new();
    for feature in features {
        if let Some(part) = feature.part.as_deref() {
            pads.entry(part)
                .or_insert_with(|| {
                    order.push(part);
                    Vec::new()
                })
                .push(feature);
        }
    }
    let mut through_only = 0;
    for designator in order {
        let pads = &pads[designator];
        let surface = pads.iter().find(|p| !p.through && p.access != 0);
        through_only += usize::from(surface.is_none());
        let side = if surface.is_some_and(|p| p.access > 1) { Side::Bottom } else { Side::Top };
        let (angle, [x, y], [width, height]) = boxed(pads, scale);
        let mut nets: Vec<String> = Vec::new();
        for net in pads.iter().filter_map(|p| p.net.as_ref()).filter(|n| !is_ground(n)) {
            if !nets.contains(net) {
                nets.push(net.clone());
            }
        }
        design.parts.push(DesignPart {
            designator: designator.to_owned(),
            side,
            x_mm: x * scale.mm,
            y_mm: y * scale.mm,
            size_mm: (width > 0.0 && height > 0.0).then_some([width * scale.mm, height * scale.mm]),
            rotation_deg: angle.to_degrees(),
            kind: part_kind(designator),
            nets,
        });
    }
    if !design.parts.is_empty() {
        design.notes.push("each part's rectangle is the box around its pads".into());
    }
    if through_only > 0 {
        design.notes.push(format!(
            "the netlist does not tell the side of {through_only} parts with through-holes only; they are taken to be on top"
        ));
    }
}

/// Angle, centre and size of the box around pads, in the file's unit.
fn boxed(pads: &[&Feature], scale: Scale) -> (f64, [f64; 2], [f64; 2]) {
    let turn = |p: &Feature| if scale.radians { p.rotation } else { p.rotation.to_radians() };
    // Along the line through two pads; along the pads' own turn where all share it.
    let angle = match pads {
        [a, b] if a.x != b.x || a.y != b.y => (b.y - a.y).atan2(b.x - a.x),
        [first, rest @ ..] if rest.iter().all(|p| turn(p) == turn(first)) => turn(first),
        _ => 0.0,
    };
    // To within a quarter turn: a rectangle's width and height follow.
    let angle = quarter(angle);
    let (sin, cos) = angle.sin_cos();
    let mut box_ = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for pad in pads {
        let (u, v) = (pad.x * cos + pad.y * sin, -pad.x * sin + pad.y * cos);
        let (s, c) = (turn(pad) - angle).sin_cos();
        let half_u = 0.5 * (pad.width * c.abs() + pad.height * s.abs());
        let half_v = 0.5 * (pad.width * s.abs() + pad.height * c.abs());
        box_ = [box_[0].min(u - half_u), box_[1].min(v - half_v), box_[2].max(u + half_u), box_[3].max(v + half_v)];
    }
    let (u, v) = (0.5 * (box_[0] + box_[2]), 0.5 * (box_[1] + box_[3]));
    (angle, [u * cos - v * sin, u * sin + v * cos], [box_[2] - box_[0], box_[3] - box_[1]])
}

/// The angle of the same axes within -45 to 45 degrees; whole quarters become exactly zero.
fn quarter(angle: f64) -> f64 {
    let quarter = std::f64::consts::FRAC_PI_2;
    let rest = angle - (angle / quarter).round() * quarter;
    if rest.abs() < 1e-9 { 0.0 } else { rest }
}
