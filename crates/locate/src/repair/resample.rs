//! Resampling of a moved picture, block by block, whatever the picture is read from.

use std::ops::Range;

use super::{
    Pose,
    kernel::{self, BEFORE, TAPS},
    simd::{LANES, combine, combine_two, polynomial},
};

/// Movements below this, at the corner of the picture, are none: a hundredth of it would show in no map.
const STILL_PX: f64 = 0.005;
/// Rows resampled at a time, so that their sources stay in the cache.
const ROWS_AT_ONCE: usize = 16;
/// Columns of a turned picture resampled at a time: few source rows are enough for them.
const TURNED_COLUMNS: usize = 128;
/// Columns that share the weights along a row of a turned picture are moved apart by the cosine by at most this.
const SAME_PX: f64 = 0.004;

/// How one frame is resampled.
#[derive(Clone, Copy, Debug)]
pub(super) enum Move {
    /// It stands where it should.
    None,
    /// The same weights everywhere.
    Shift {
        /// Whole pixels.
        columns: isize,
        /// Whole pixels.
        rows: isize,
        /// Weights along a row.
        across: [f32; TAPS],
        /// Weights down a column.
        down: [f32; TAPS],
    },
    /// Weights of its own for every pixel.
    Turn(Turn),
}

/// Working space of a thread.
#[derive(Default)]
pub(super) struct Scratch {
    values: Vec<f32>,
    rows: Vec<f32>,
    places: Vec<f32>,
}

impl Move {
    pub(super) fn new(pose: &Pose, width: usize, height: usize) -> Self {
        let turned_px = pose.rotation_deg.to_radians().abs() * (width as f64).hypot(height as f64) / 2.0;
        if turned_px >= STILL_PX {
            Self::Turn(Turn::new(pose, width, height))
        } else if pose.x_px.hypot(pose.y_px) >= STILL_PX {
            let (columns, across) = split(pose.x_px);
            let (rows, down) = split(pose.y_px);
            Self::Shift { columns, rows, across, down }
        } else {
            Self::None
        }
    }

    /// A rectangle of the steady picture, row after row into `out`. `read` gives runs of pixels of the recorded one, which
    /// is `width` by `height`.
    pub(super) fn rectangle(
        &self,
        (width, height): (usize, usize),
        rows: Range<usize>,
        columns: Range<usize>,
        scratch: &mut Scratch,
        out: &mut [f32],
        read: &dyn Fn(Range<usize>, &mut [f32]),
    ) {
        let stride = columns.len();
        for start in rows.clone().step_by(ROWS_AT_ONCE) {
            let block = start..(start + ROWS_AT_ONCE).min(rows.end);
            let out = &mut out[(block.start - rows.start) * stride..(block.end - rows.start) * stride];
            match self {
                Self::None => {
                    for (y, out) in block.zip(out.chunks_exact_mut(stride)) {
                        read(y * width + columns.start..y * width + columns.end, out);
                    }
                }
                Self::Shift { columns: dx, rows: dy, across, down } => {
                    let source = Source { rows: reach(&block, *dy), columns: reach(&columns, *dx) };
                    source.load(width, height, &mut scratch.values, read);
                    shift(&scratch.values, stride, across, down, &mut scratch.rows, out);
                }
                Self::Turn(turn) => {
                    for from in columns.clone().step_by(TURNED_COLUMNS) {
                        let some = from..(from + TURNED_COLUMNS).min(columns.end);
                        let source = turn.source(&block, &some);
                        source.load(width, height, &mut scratch.values, read);
                        turn.apply(&source, scratch, block.clone(), some, &mut out[from - columns.start..], stride);
                    }
                }
            }
        }
    }
}

/// What taps reach for those output pixels, moved by whole ones.
fn reach(of: &Range<usize>, whole: isize) -> Range<isize> {
    let start = of.start as isize + whole - BEFORE as isize;
    start..start + (of.len() + TAPS - 1) as isize
}

/// A rectangle of the recorded frame.
struct Source {
    rows: Range<isize>,
    columns: Range<isize>,
}

impl Source {
    /// Reads a rectangle that may reach beyond the picture; the border's values are repeated there.
    fn load(&self, width: usize, height: usize, values: &mut Vec<f32>, read: &dyn Fn(Range<usize>, &mut [f32])) {
        let (columns, height) = (width as isize, height as isize);
        let stride = self.columns.len();
        values.resize(self.rows.len() * stride, 0.0);
        let from = self.columns.start.clamp(0, columns - 1);
        let to = self.columns.end.clamp(from + 1, columns);
        // Columns of the block that lie left of the picture; all but one when all of it lies there.
        let left = ((from - self.columns.start).max(0) as usize).min(stride - 1);
        let inside = left..(left + (to - from) as usize).min(stride);
        for (row, out) in self.rows.clone().zip(values.chunks_exact_mut(stride)) {
            let start = row.clamp(0, height - 1) as usize * width + from as usize;
            read(start..start + inside.len(), &mut out[inside.clone()]);
            let (first, last) = (out[inside.start], out[inside.end - 1]);
            out[..inside.start].fill(first);
            out[inside.end..].fill(last);
        }
    }
}

/// Whole pixels and the weights of the rest.
fn split(shift: f64) -> (isize, [f32; TAPS]) {
    let whole = shift.floor();
    (whole as isize, kernel::weights(shift - whole))
}

/// Both passes with the same weights everywhere. `source` is larger than the output by [`TAPS`]` - 1` each way.
fn shift(source: &[f32], width: usize, across: &[f32; TAPS], down: &[f32; TAPS], rows: &mut Vec<f32>, out: &mut [f32]) {
    let stride = width + TAPS - 1;
    rows.resize(2 * stride, 0.0);
    let (first, second) = rows.split_at_mut(stride);
    for (y, out) in out.chunks_mut(2 * width).enumerate() {
        let tap = |j: usize| &source[(2 * y + j) * stride..(2 * y + j + 1) * stride];
        let (upper, lower) = out.split_at_mut(width);
        if lower.is_empty() {
            combine(down, std::array::from_fn(tap), first);
        } else {
            combine_two(down, std::array::from_fn(tap), [first, second]);
        }
        for (row, out) in [(&*first, upper), (&*second, lower)] {
            combine(across, std::array::from_fn(|j| &row[j..j + width]), out);
        }
    }
}

/// Where the pixels of a steady picture lie in a moved one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turn {
    cx: f64,
    cy: f64,
    x: f64,
    y: f64,
    sin: f64,
    cos: f64,
}

impl Turn {
    fn new(pose: &Pose, width: usize, height: usize) -> Self {
        let (sin, cos) = pose.rotation_deg.to_radians().sin_cos();
        Self { cx: (width as f64 - 1.0) / 2.0, cy: (height as f64 - 1.0) / 2.0, x: pose.x_px, y: pose.y_px, sin, cos }
    }

    /// Column of the recorded frame for a pixel of the steady one.
    fn source_column(&self, x: f64, y: f64) -> f64 {
        self.cx + self.x + self.cos * (x - self.cx) - self.sin * (y - self.cy)
    }

    /// Row of the recorded frame for its column `u` and row `y` of the steady one.
    fn source_row(&self, u: f64, y: f64) -> f64 {
        self.cy + self.y + (self.sin * (u - self.cx - self.x) + (y - self.cy)) / self.cos
    }

    /// What a block of the steady picture needs of the recorded one.
    fn source(&self, rows: &Range<usize>, columns: &Range<usize>) -> Source {
        let ends = |at: [f64; 4]| {
            let least = at.iter().copied().fold(f64::INFINITY, f64::min).floor() as isize;
            let most = at.iter().copied().fold(f64::NEG_INFINITY, f64::max).floor() as isize;
            least - BEFORE as isize..most + (TAPS - BEFORE) as isize
        };
        let (top, bottom) = (rows.start as f64, rows.end as f64 - 1.0);
        let (left, right) = (columns.start as f64, columns.end as f64 - 1.0);
        let column = |x, y| self.source_column(x, y);
        let across = ends([column(left, top), column(right, top), column(left, bottom), column(right, bottom)]);
        // A turned block can be narrower than the steady one; the second pass reads as many columns as that one has.
        let across = across.start..across.end.max(across.start + (columns.len() + TAPS - 1) as isize);
        let (left, right) = (across.start as f64, across.end as f64 - 1.0);
        let row = |u, y| self.source_row(u, y);
        let down = ends([row(left, top), row(right, top), row(left, bottom), row(right, bottom)]);
        Source { rows: down, columns: across }
    }

    /// Two passes: down the columns, then along the rows (Catmull and Smith, SIGGRAPH (1980) 279). `out` starts at the
    /// first pixel of the block, its rows lie `stride` apart.
    fn apply(
        &self,
        source: &Source,
        scratch: &mut Scratch,
        rows: Range<usize>,
        columns: Range<usize>,
        out: &mut [f32],
        stride: usize,
    ) {
        let Scratch { values, rows: row, places } = scratch;
        let width = source.columns.len();
        // Whole vectors are read and written past the ends.
        values.resize(source.rows.len() * width + LANES, 0.0);
        row.resize(width + LANES, 0.0);
        places.resize(width + LANES, 0.0);
        let polynomials = kernel::polynomials();
        let slope = self.sin / self.cos;
        let lowest = (source.rows.len() - TAPS) as isize;
        let same = ((SAME_PX / (1.0 - self.cos).max(1e-12)).min(TURNED_COLUMNS as f64) as usize).max(1);
        for (i, y) in rows.enumerate() {
            let first = self.source_row(source.columns.start as f64, y as f64) - source.rows.start as f64;
            let mut from = 0;
            while from < width {
                let at = first + slope * from as f64;
                let whole = at.floor();
                // Up to where the next row of the source begins.
                let room = if slope > 0.0 { (whole + 1.0 - at) / slope } else { (at - whole) / -slope };
                let to = from + (room.min((width - from) as f64).floor() as usize + 1).min(width - from);
                // Columns that only the far corners of the block need may look one row beyond it.
                let top = (whole as isize - BEFORE as isize).clamp(0, lowest) as usize;
                let n = (to - from).next_multiple_of(LANES);
                let start = (at - whole - 0.5) as f32;
                let places = &mut places[..n.min(width + LANES - from)];
                places.iter_mut().enumerate().for_each(|(k, u)| *u = start + slope as f32 * k as f32);
                let tap = |j: usize| &values[(top + j) * width + from..];
                let taps = [tap(0), tap(1), tap(2), tap(3), tap(4), tap(5)];
                polynomial(polynomials, places, taps, &mut row[from..from + places.len()]);
                from = to;
            }
            let out = &mut out[i * stride..i * stride + columns.len()];
            for (part, start) in out.chunks_mut(same).zip(columns.clone().step_by(same)) {
                let half = (part.len() as f64 - 1.0) / 2.0;
                let at = self.source_column(start as f64 + half, y as f64) - half - source.columns.start as f64;
                let whole = at.floor();
                let left =
                    (whole as isize - BEFORE as isize).clamp(0, (width + 1 - TAPS - part.len()) as isize) as usize;
                let tap = |j: usize| &row[left + j..left + j + part.len()];
                combine(&kernel::fitted(at - whole), [tap(0), tap(1), tap(2), tap(3), tap(4), tap(5)], part);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A block of two columns and more, turned by up to two degrees at any place: the second pass finds its columns.
    #[test]
    fn turned_blocks_are_wide_enough_for_all_taps() {
        for (turn, from) in (-20..=20).flat_map(|turn| (0..150).map(move |from| (turn, from))) {
            let pose = Pose { x_px: 0.37, y_px: -0.21, rotation_deg: f64::from(turn) * 0.1 };
            let turned = Turn::new(&pose, 160, 120);
            for columns in [from..from + 2, from..from + 9] {
                let source = turned.source(&(40..56), &columns);
                assert!(source.columns.len() + 1 >= TAPS + columns.len(), "{turn}, {columns:?}: {:?}", source.columns);
            }
        }
    }
}
