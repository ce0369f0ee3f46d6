//! The grid that a plate is cut into.

use nalgebra::Point2;

use super::Plate;
use crate::board::Footprint;

/// Points per axis by which a cell's share of a footprint is counted.
const COVER_POINTS: usize = 8;

/// The grid over the board's bounding box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Cells along x.
    pub columns: usize,
    /// Cells along y.
    pub rows: usize,
    /// Edge of a cell, millimetres.
    pub cell_mm: f64,
    /// Upper left corner of the first cell, millimetres.
    pub origin_mm: [f64; 2],
}

impl Grid {
    pub(super) fn new(plate: &Plate) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for corner in &plate.outline {
            for axis in 0..2 {
                low[axis] = low[axis].min(corner[axis]);
                high[axis] = high[axis].max(corner[axis]);
            }
        }
        let cells = |axis: usize| (((high[axis] - low[axis]) / plate.cell_mm - 1e-9).ceil() as usize).max(1);
        Self { columns: cells(0), rows: cells(1), cell_mm: plate.cell_mm, origin_mm: low }
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.columns * self.rows
    }

    /// Centre of a cell, millimetres.
    pub fn centre_mm(&self, column: usize, row: usize) -> Point2<f64> {
        Point2::new(
            self.origin_mm[0] + (column as f64 + 0.5) * self.cell_mm,
            self.origin_mm[1] + (row as f64 + 0.5) * self.cell_mm,
        )
    }

    /// Cell coordinates of a point: whole numbers at cell centres.
    pub(super) fn cell_coordinates(&self, point_mm: Point2<f64>) -> (f64, f64) {
        ((point_mm.x - self.origin_mm[0]) / self.cell_mm - 0.5, (point_mm.y - self.origin_mm[1]) / self.cell_mm - 0.5)
    }

    /// Row-major index of the cell nearest to a point.
    pub(super) fn cell_at(&self, point_mm: Point2<f64>) -> usize {
        let (x, y) = self.cell_coordinates(point_mm);
        let column = x.round().clamp(0.0, (self.columns - 1) as f64) as usize;
        let row = y.round().clamp(0.0, (self.rows - 1) as f64) as usize;
        row * self.columns + column
    }

    /// The share of each cell that lies under a footprint, for cells with any: (row-major index, share).
    pub(super) fn cover(&self, area: &Footprint) -> Vec<(usize, f64)> {
        let corners = area.corners_mm().map(|p| self.cell_coordinates(p));
        let span = |values: [f64; 4], cells: usize| {
            let low = values.into_iter().fold(f64::INFINITY, f64::min);
            let high = values.into_iter().fold(f64::NEG_INFINITY, f64::max);
            let last = cells as f64 - 1.0;
            ((low - 0.5).round().clamp(0.0, last) as usize)..=((high + 0.5).round().clamp(0.0, last) as usize)
        };
        let columns = span(corners.map(|c| c.0), self.columns);
        let mut found = Vec::new();
        for row in span(corners.map(|c| c.1), self.rows) {
            for column in columns.clone() {
                let centre = self.centre_mm(column, row);
                let offset = |i: usize| ((i as f64 + 0.5) / COVER_POINTS as f64 - 0.5) * self.cell_mm;
                let inside = (0..COVER_POINTS * COVER_POINTS)
                    .filter(|i| {
                        let (i, j) = (i % COVER_POINTS, i / COVER_POINTS);
                        area.contains(Point2::new(centre.x + offset(i), centre.y + offset(j)))
                    })
                    .count();
                if inside > 0 {
                    let share = inside as f64 / (COVER_POINTS * COVER_POINTS) as f64;
                    found.push((row * self.columns + column, share));
                }
            }
        }
        found
    }
}
