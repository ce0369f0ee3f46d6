//! Heat flow: plates on a grid, bodies on top, explicit time steps that keep energy to the last bit.

use nalgebra::Point2;

use super::{Grid, Plate, Setup, Side, SourceAt};
use crate::{board::Face, plate::ThinPlate};

/// Copper at 300 K, Incropera & DeWitt table A.1: W/(m K) and J/(m3 K).
const COPPER_W_PER_MK: f64 = 401.0;
const COPPER_J_PER_M3K: f64 = 8933.0 * 385.0;
/// Steps resolve the course of sources to this, or to a hundredth of the time between frames where that is longer.
const FINE_STEP_S: f64 = 0.02;

/// One plate on the grid, ready for stepping. Temperatures are rises over ambient.
struct Layer {
    /// W/K between a cell and its left neighbour; `columns + 1` per row, zero at both ends.
    along_x: Vec<f64>,
    /// W/K between a cell and its upper neighbour; `rows + 1` rows, zero at both ends.
    along_y: Vec<f64>,
    /// K/J of a cell.
    inverse_capacity: Vec<f64>,
    /// W/K from one cell to the air.
    loss: f64,
    /// Rise with one cell of rim all around (whose conductance is zero).
    rise_k: Vec<f64>,
    next_k: Vec<f64>,
}

/// A body with the cells under it.
struct Coupled {
    layer: usize,
    /// Row-major cell index and W/K.
    to_cells: Vec<(usize, f64)>,
    to_air: f64,
    inverse_capacity: f64,
    rise_k: f64,
}

/// A body or a cell of the front plate: where power goes in, or what a probe touches.
#[derive(Clone, Copy)]
enum Inlet {
    Body(usize),
    Cell(usize),
}

/// A probe tip with its contact.
struct Probe {
    at: Inlet,
    contact: f64,
    inverse_capacity: f64,
    touch_s: f64,
    rise_k: f64,
}

/// The rises at the frame times.
#[derive(Clone, Debug)]
pub struct History {
    /// The grid.
    pub grid: Grid,
    /// One state per frame, kelvin over ambient: the front plate's cells in row-major order, then the plate behind where
    /// there is one, then the bodies in their order, then the probes in theirs.
    pub states: Vec<Vec<f32>>,
    /// Index of the first body in a state.
    pub first_body: usize,
    /// J/K of each entry of a state.
    pub capacities_j_per_k: Vec<f64>,
    /// W/K from each entry of a state to the air.
    pub losses_w_per_k: Vec<f64>,
}

/// Runs the heat equation from the first frame time to the last.
///
/// # Panics
/// When the setup contradicts itself: no outline, a source on a body that does not exist, a body off the board.
pub fn run(setup: &Setup) -> History {
    let grid = Grid::new(&setup.plate);
    let mut layers = vec![front_layer(&setup.plate, &grid)];
    let mut between = 0.0;
    let cell_m2 = (grid.cell_mm * 1e-3).powi(2);
    if let Some(behind) = &setup.plate.behind {
        layers.push(Layer::new(&setup.plate, &grid, &behind.base, &[]));
        between = behind.between_w_per_m2k * cell_m2;
    }
    for patch in &setup.disturbances.warm_patches {
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let d = grid.centre_mm(column, row) - Point2::from(patch.centre_mm);
                layers[0].rise_k[rim_index(&grid, row * grid.columns + column)] +=
                    patch.rise_k * (-0.5 * d.norm_squared() / patch.sigma_mm.powi(2)).exp();
            }
        }
    }
    let mut bodies: Vec<Coupled> = setup
        .bodies
        .iter()
        .map(|body| {
            let cover = grid.cover(&body.footprint);
            let total: f64 = cover.iter().map(|c| c.1).sum();
            assert!(total > 0.0, "{} lies off the board", body.designator);
            let layer = if body.side == Side::Back { layers.len() - 1 } else { 0 };
            let to_cells: Vec<_> =
                cover.into_iter().map(|(cell, share)| (cell, body.to_plate_w_per_k * share / total)).collect();
            // A body starts at the temperature of the plate under it.
            let weighted: f64 =
                to_cells.iter().map(|&(cell, g)| g * layers[layer].rise_k[rim_index(&grid, cell)]).sum();
            let rise_k = if body.to_plate_w_per_k > 0.0 { weighted / body.to_plate_w_per_k } else { 0.0 };
            Coupled {
                layer,
                to_cells,
                to_air: body.to_air_w_per_k,
                inverse_capacity: 1.0 / body.capacity_j_per_k,
                rise_k,
            }
        })
        .collect();
    let inlet = |at: SourceAt| match at {
        SourceAt::Body(i) => {
            assert!(i < setup.bodies.len(), "a source or probe on body {i}, which does not exist");
            Inlet::Body(i)
        }
        SourceAt::Point(p) => Inlet::Cell(grid.cell_at(Point2::from(p))),
    };
    let inlets: Vec<Inlet> = setup.sources.iter().map(|source| inlet(source.at)).collect();
    let mut probes: Vec<Probe> = setup
        .disturbances
        .probes
        .iter()
        .map(|probe| Probe {
            at: inlet(probe.at),
            contact: probe.contact_w_per_k,
            inverse_capacity: 1.0 / probe.capacity_j_per_k,
            touch_s: probe.touch_s,
            rise_k: probe.rise_k,
        })
        .collect();
    let stable_s = stable_step_s(&grid, &layers, between, &bodies, &probes);

    let times = &setup.timeline.time_s;
    let mut states = Vec::with_capacity(times.len());
    for (frame, &time_s) in times.iter().enumerate() {
        if frame > 0 {
            let from_s = times[frame - 1];
            let longest_s = stable_s.min(FINE_STEP_S.max(0.01 * (time_s - from_s)));
            let steps = ((time_s - from_s) / longest_s).ceil().max(1.0);
            let step_s = (time_s - from_s) / steps;
            for i in 0..steps as usize {
                let start_s = from_s + i as f64 * step_s;
                // Half of a step's energy before it and half after centres it in time.
                inject(&grid, setup, &inlets, start_s, step_s, &mut layers, &mut bodies);
                step(&grid, &mut layers, between, &mut bodies, step_s);
                touch(&grid, &mut layers, &mut bodies, &mut probes, start_s, step_s);
                inject(&grid, setup, &inlets, start_s, step_s, &mut layers, &mut bodies);
            }
        }
        states.push(snapshot(&grid, &layers, &bodies, &probes));
    }
    let first_body = layers.len() * grid.cells();
    let capacities_j_per_k = layers
        .iter()
        .flat_map(|l| &l.inverse_capacity)
        .chain(bodies.iter().map(|b| &b.inverse_capacity))
        .chain(probes.iter().map(|p| &p.inverse_capacity))
        .map(|inverse| 1.0 / inverse)
        .collect();
    let losses_w_per_k = layers
        .iter()
        .flat_map(|l| std::iter::repeat_n(l.loss, grid.cells()))
        .chain(bodies.iter().map(|b| b.to_air))
        .chain(probes.iter().map(|_| 0.0))
        .collect();
    History { grid, states, first_body, capacities_j_per_k, losses_w_per_k }
}

fn rim_index(grid: &Grid, cell: usize) -> usize {
    (cell / grid.columns + 1) * (grid.columns + 2) + cell % grid.columns + 1
}

fn front_layer(plate: &Plate, grid: &Grid) -> Layer {
    let mut extra = vec![0.0; grid.cells()];
    for copper in &plate.copper {
        for (cell, share) in grid.cover(&copper.area) {
            extra[cell] += share * copper.coverage * copper.thickness_um * 1e-6;
        }
    }
    Layer::new(plate, grid, &plate.base, &extra)
}

impl Layer {
    /// `copper_m` is the thickness of copper per cell, or empty.
    fn new(plate: &Plate, grid: &Grid, base: &ThinPlate, copper_m: &[f64]) -> Self {
        let cell_m2 = (grid.cell_mm * 1e-3).powi(2);
        let face = Face { outline: plate.outline.clone(), ..Face::default() };
        let cells = grid.cells();
        let copper = |cell: usize| copper_m.get(cell).copied().unwrap_or(0.0);
        let sheet: Vec<f64> = (0..cells)
            .map(|cell| {
                let centre = grid.centre_mm(cell % grid.columns, cell / grid.columns);
                if face.outline_contains(centre) { base.sheet_w_per_k + COPPER_W_PER_MK * copper(cell) } else { 0.0 }
            })
            .collect();
        // Two half cells in series: the harmonic mean; square cells make W/K of the sheet value as it stands.
        let joined = |a: f64, b: f64| if a > 0.0 && b > 0.0 { 2.0 * a * b / (a + b) } else { 0.0 };
        let mut along_x = vec![0.0; grid.rows * (grid.columns + 1)];
        let mut along_y = vec![0.0; (grid.rows + 1) * grid.columns];
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let cell = row * grid.columns + column;
                if column > 0 {
                    along_x[row * (grid.columns + 1) + column] = joined(sheet[cell - 1], sheet[cell]);
                }
                if row > 0 {
                    along_y[cell] = joined(sheet[cell - grid.columns], sheet[cell]);
                }
            }
        }
        let inverse_capacity = (0..cells)
            .map(|cell| 1.0 / ((base.areal_capacity_j_per_m2k + COPPER_J_PER_M3K * copper(cell)) * cell_m2))
            .collect();
        let with_rim = (grid.columns + 2) * (grid.rows + 2);
        Self {
            along_x,
            along_y,
            inverse_capacity,
            loss: base.loss_w_per_m2k * cell_m2,
            rise_k: vec![0.0; with_rim],
            next_k: vec![0.0; with_rim],
        }
    }
}

/// The longest step for which explicit Euler is stable and never overshoots: below one over the largest rate at which an
/// entry loses heat (all eigenvalues lie within twice that rate, by Gershgorin's theorem). A tenth is kept in hand.
fn stable_step_s(grid: &Grid, layers: &[Layer], between: f64, bodies: &[Coupled], probes: &[Probe]) -> f64 {
    let mut fastest = 0.0_f64;
    for (index, layer) in layers.iter().enumerate() {
        let mut conductance = vec![layer.loss + between; grid.cells()];
        for (cell, sum) in conductance.iter_mut().enumerate() {
            let x = cell / grid.columns * (grid.columns + 1) + cell % grid.columns;
            *sum += layer.along_x[x] + layer.along_x[x + 1] + layer.along_y[cell] + layer.along_y[cell + grid.columns];
        }
        for body in bodies.iter().filter(|b| b.layer == index) {
            for &(cell, g) in &body.to_cells {
                conductance[cell] += g;
            }
        }
        for probe in probes.iter().filter(|_| index == 0) {
            if let Inlet::Cell(cell) = probe.at {
                conductance[cell] += probe.contact;
            }
        }
        for (g, inverse) in conductance.iter().zip(&layer.inverse_capacity) {
            fastest = fastest.max(g * inverse);
        }
    }
    for (index, body) in bodies.iter().enumerate() {
        let g: f64 = body.to_cells.iter().map(|c| c.1).sum();
        let touching = probes.iter().filter(|p| matches!(p.at, Inlet::Body(b) if b == index));
        let probed: f64 = touching.map(|p| p.contact).sum();
        fastest = fastest.max((g + probed + body.to_air) * body.inverse_capacity);
    }
    for probe in probes {
        fastest = fastest.max(probe.contact * probe.inverse_capacity);
    }
    0.9 / fastest
}

/// Adds half of the energy that the sources give within a step.
fn inject(
    grid: &Grid,
    setup: &Setup,
    inlets: &[Inlet],
    start_s: f64,
    step_s: f64,
    layers: &mut [Layer],
    bodies: &mut [Coupled],
) {
    for (source, inlet) in setup.sources.iter().zip(inlets) {
        let joules = 0.5 * source.watts * source.drive.mean(start_s, start_s + step_s) * step_s;
        match *inlet {
            Inlet::Body(b) => bodies[b].rise_k += joules * bodies[b].inverse_capacity,
            Inlet::Cell(c) => layers[0].rise_k[rim_index(grid, c)] += joules * layers[0].inverse_capacity[c],
        }
    }
}

/// One step of explicit Euler.
fn step(grid: &Grid, layers: &mut [Layer], between: f64, bodies: &mut [Coupled], step_s: f64) {
    for layer in layers.iter_mut() {
        diffuse(grid, layer, step_s);
    }
    if let [front, back] = layers {
        for cell in 0..grid.cells() {
            let i = rim_index(grid, cell);
            let joules = between * step_s * (front.rise_k[i] - back.rise_k[i]);
            front.next_k[i] -= joules * front.inverse_capacity[cell];
            back.next_k[i] += joules * back.inverse_capacity[cell];
        }
    }
    for body in bodies.iter_mut() {
        let layer = &mut layers[body.layer];
        let mut given_w = body.to_air * body.rise_k;
        for &(cell, g) in &body.to_cells {
            let i = rim_index(grid, cell);
            let watts = g * (body.rise_k - layer.rise_k[i]);
            layer.next_k[i] += step_s * watts * layer.inverse_capacity[cell];
            given_w += watts;
        }
        body.rise_k -= step_s * given_w * body.inverse_capacity;
    }
    for layer in layers.iter_mut() {
        std::mem::swap(&mut layer.rise_k, &mut layer.next_k);
    }
}

/// Conduction within one plate and its loss, from `rise_k` into `next_k`.
fn diffuse(grid: &Grid, layer: &mut Layer, step_s: f64) {
    let (n, stride) = (grid.columns, grid.columns + 2);
    for row in 0..grid.rows {
        let at = (row + 1) * stride;
        // Slices of one length let the compiler drop bounds checks and vectorise the loop.
        let here = &layer.rise_k[at..at + stride];
        let above = &layer.rise_k[at - stride + 1..][..n];
        let below = &layer.rise_k[at + stride + 1..][..n];
        let (left, middle, right) = (&here[..n], &here[1..][..n], &here[2..][..n]);
        let gx = &layer.along_x[row * (n + 1)..][..n + 1];
        let (gl, gr) = (&gx[..n], &gx[1..][..n]);
        let (ga, gb) = (&layer.along_y[row * n..][..n], &layer.along_y[(row + 1) * n..][..n]);
        let inverse = &layer.inverse_capacity[row * n..][..n];
        let next = &mut layer.next_k[at + 1..][..n];
        for x in 0..n {
            let t = middle[x];
            let watts =
                gl[x] * (left[x] - t) + gr[x] * (right[x] - t) + ga[x] * (above[x] - t) + gb[x] * (below[x] - t)
                    - layer.loss * t;
            next[x] = t + step_s * inverse[x] * watts;
        }
    }
}

/// One step's exchange between probes and what they touch.
fn touch(grid: &Grid, layers: &mut [Layer], bodies: &mut [Coupled], probes: &mut [Probe], start_s: f64, step_s: f64) {
    for probe in probes.iter_mut().filter(|p| start_s >= p.touch_s) {
        let (touched_k, inverse) = match probe.at {
            Inlet::Body(b) => (&mut bodies[b].rise_k, bodies[b].inverse_capacity),
            Inlet::Cell(c) => (&mut layers[0].rise_k[rim_index(grid, c)], layers[0].inverse_capacity[c]),
        };
        let joules = probe.contact * step_s * (probe.rise_k - *touched_k);
        *touched_k += joules * inverse;
        probe.rise_k -= joules * probe.inverse_capacity;
    }
}

fn snapshot(grid: &Grid, layers: &[Layer], bodies: &[Coupled], probes: &[Probe]) -> Vec<f32> {
    let mut state = Vec::with_capacity(layers.len() * grid.cells() + bodies.len() + probes.len());
    for layer in layers {
        for row in 0..grid.rows {
            let at = rim_index(grid, row * grid.columns);
            state.extend(layer.rise_k[at..at + grid.columns].iter().map(|&v| v as f32));
        }
    }
    state.extend(bodies.iter().map(|b| b.rise_k as f32));
    state.extend(probes.iter().map(|p| p.rise_k as f32));
    state
}
