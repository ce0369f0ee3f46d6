//! A seeded layout: key parts where the recipe wants them, rows of capacitors beside integrated circuits, the rest
//! scattered, nothing overlapping.

use std::collections::HashMap;

use nalgebra::Point2;
use rand::{RngExt, rngs::ChaCha8Rng};

use super::package::Package;
use crate::board::{Face, Footprint, Part};

/// Between parts, millimetres.
const CLEARANCE_MM: f64 = 0.35;
/// Between parts and the board's edge.
const RIM_MM: f64 = 0.8;
/// Tries before a part is left out.
const TRIES: usize = 400;

/// What a part is on the drawing besides its place.
#[derive(Clone, Copy, Debug)]
pub struct Wiring<'a> {
    /// Rails that it sits on.
    pub rails: &'a [&'a str],
    /// Whether it joins them at DC.
    pub series: bool,
    /// Absolute maximum volts.
    pub max_volts: Option<f64>,
}

/// On these rails, joining nothing.
pub fn on<'a>(rails: &'a [&'a str]) -> Wiring<'a> {
    Wiring { rails, series: false, max_volts: None }
}

/// The side of a part along which a row is laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    Left,
    Right,
    Above,
    Below,
}

/// A face being laid out.
pub struct Layout {
    width_mm: f64,
    height_mm: f64,
    parts: Vec<(Part, Package)>,
    /// Next number per prefix.
    next: HashMap<&'static str, u32>,
    first_number: u32,
    clearance_mm: f64,
    rng: ChaCha8Rng,
}

impl Layout {
    /// An empty face; designators count from `first_number`.
    pub fn new(width_mm: f64, height_mm: f64, first_number: u32, rng: ChaCha8Rng) -> Self {
        Self {
            width_mm,
            height_mm,
            parts: Vec::new(),
            next: HashMap::new(),
            first_number,
            clearance_mm: CLEARANCE_MM,
            rng,
        }
    }

    /// The same with another clearance between parts.
    pub fn with_clearance(self, clearance_mm: f64) -> Self {
        Self { clearance_mm, ..self }
    }

    /// The generator that the layout draws from.
    pub fn rng(&mut self) -> &mut ChaCha8Rng {
        &mut self.rng
    }

    /// The parts so far.
    pub fn parts(&self) -> &[(Part, Package)] {
        &self.parts
    }

    /// Puts a part at a place, when it is free. Returns its index.
    pub fn place(&mut self, package: Package, at: [f64; 2], turned: bool, wiring: Wiring<'_>) -> Option<usize> {
        let t = package.traits();
        // Boards are drawn on a grid of 0.05 mm.
        let snap = |v: f64| (v * 20.0).round() / 20.0;
        let (x, y) = (snap(at[0]), snap(at[1]));
        let half = if turned { [t.height_mm / 2.0, t.width_mm / 2.0] } else { [t.width_mm / 2.0, t.height_mm / 2.0] };
        let inside = x - half[0] >= RIM_MM
            && y - half[1] >= RIM_MM
            && x + half[0] <= self.width_mm - RIM_MM
            && y + half[1] <= self.height_mm - RIM_MM;
        let free = self.parts.iter().all(|(other, _)| {
            let other_half = box_half_mm(other);
            (other.x_mm - x).abs() >= half[0] + other_half[0] + self.clearance_mm - 1e-9
                || (other.y_mm - y).abs() >= half[1] + other_half[1] + self.clearance_mm - 1e-9
        });
        if !inside || !free {
            return None;
        }
        let number = self.next.entry(t.prefix).or_insert(self.first_number);
        let designator = format!("{}{number}", t.prefix);
        *number += 1;
        self.parts.push((
            Part {
                designator,
                kind: t.kind,
                x_mm: x,
                y_mm: y,
                width_mm: t.width_mm,
                height_mm: t.height_mm,
                rotation_deg: if turned { 90.0 } else { 0.0 },
                rails: wiring.rails.iter().map(|r| (*r).to_owned()).collect(),
                max_volts: wiring.max_volts,
                emissivity: (t.emissivity < 0.5).then_some(t.emissivity),
                series: wiring.series,
            },
            package,
        ));
        Some(self.parts.len() - 1)
    }

    /// Puts a part within `loose_mm` of a place, further away when that is taken. A key part: it always finds room on
    /// the sparsely filled boards of the recipes.
    ///
    /// # Panics
    /// When the board is full.
    pub fn key(&mut self, package: Package, near: [f64; 2], loose_mm: f64, turned: bool, wiring: Wiring<'_>) -> usize {
        for attempt in 0..TRIES {
            let reach = loose_mm * (1.0 + attempt as f64 / 20.0);
            let at = [
                near[0] + self.rng.random_range(-1.0..=1.0) * reach,
                near[1] + self.rng.random_range(-1.0..=1.0) * reach,
            ];
            if let Some(index) = self.place(package, at, turned, wiring) {
                return index;
            }
        }
        panic!("no room for a key part near {near:?}")
    }

    /// Lays a row of parts along one edge of a part, standing away from it, and returns those that found room.
    pub fn row(
        &mut self,
        beside: usize,
        edge: Edge,
        package: Package,
        count: usize,
        pitch_mm: f64,
        wiring: Wiring<'_>,
    ) -> Vec<usize> {
        let host = &self.parts[beside].0;
        let (centre, half) = ([host.x_mm, host.y_mm], box_half_mm(host));
        let t = package.traits();
        let gap = 0.6 + t.width_mm / 2.0;
        let along = |i: usize| (i as f64 - (count as f64 - 1.0) / 2.0) * pitch_mm;
        (0..count)
            .filter_map(|i| {
                let (at, turned) = match edge {
                    Edge::Left => ([centre[0] - half[0] - gap, centre[1] + along(i)], false),
                    Edge::Right => ([centre[0] + half[0] + gap, centre[1] + along(i)], false),
                    Edge::Above => ([centre[0] + along(i), centre[1] - half[1] - gap], true),
                    Edge::Below => ([centre[0] + along(i), centre[1] + half[1] + gap], true),
                };
                self.place(package, at, turned, wiring)
            })
            .collect()
    }

    /// Scatters parts over the free area.
    pub fn scatter(&mut self, package: Package, count: usize, wiring: Wiring<'_>) {
        for _ in 0..count {
            for _ in 0..TRIES {
                let at = [self.rng.random_range(0.0..self.width_mm), self.rng.random_range(0.0..self.height_mm)];
                let turned = self.rng.random_bool(0.5);
                if self.place(package, at, turned, wiring).is_some() {
                    break;
                }
            }
        }
    }

    /// Size of the board.
    pub fn size_mm(&self) -> [f64; 2] {
        [self.width_mm, self.height_mm]
    }

    /// The finished face.
    pub fn face(&self, name: &str) -> Face {
        Face {
            name: name.to_owned(),
            outline: self.outline(),
            parts: self.parts.iter().map(|(part, _)| part.clone()).collect(),
            ..Face::default()
        }
    }

    /// Corners of the board.
    pub fn outline(&self) -> Vec<[f64; 2]> {
        let (w, h) = (self.width_mm, self.height_mm);
        vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]
    }

    /// A place that is at least `away_mm` from every part, for marks on the board.
    pub fn free_place(&mut self, away_mm: f64) -> Option<[f64; 2]> {
        (0..TRIES).find_map(|_| {
            let at = [
                self.rng.random_range(RIM_MM + away_mm..self.width_mm - RIM_MM - away_mm),
                self.rng.random_range(RIM_MM + away_mm..self.height_mm - RIM_MM - away_mm),
            ];
            let free =
                self.parts.iter().all(|(part, _)| Footprint::from(part).distance_mm(Point2::from(at)) >= away_mm);
            free.then_some(at)
        })
    }
}

/// Half of the upright box around a part that is turned by 0 or 90 degrees.
fn box_half_mm(part: &Part) -> [f64; 2] {
    if part.rotation_deg == 0.0 {
        [part.width_mm / 2.0, part.height_mm / 2.0]
    } else {
        [part.height_mm / 2.0, part.width_mm / 2.0]
    }
}
