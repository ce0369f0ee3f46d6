//! Gaussian smoothing of single planes, borders mirrored about the outer pixel edge (SciPy's `reflect`).

use super::weighted::weighted_sum;

/// Kernel half-width in standard deviations, as SciPy's default.
const TRUNCATE: f64 = 4.0;

/// A plane of values, row-major.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plane {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Values.
    pub values: Vec<f32>,
}

impl Plane {
    /// A plane from its values.
    ///
    /// # Panics
    /// When the number of values is not a multiple of `width`.
    pub fn new(width: usize, values: Vec<f32>) -> Self {
        assert_eq!(values.len() % width, 0, "whole rows");
        Self { width, height: values.len() / width, values }
    }

    /// Value at a column and row.
    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.values[y * self.width + x]
    }

    /// Smoothed with a Gaussian of standard deviation `sigma_px`; sampled weights, normalised.
    pub fn smoothed(&self, sigma_px: f64) -> Self {
        let mut out = Self::default();
        self.smooth_into(sigma_px, &mut out);
        out
    }

    /// The same into a plane that is there already, of any size: fresh memory would cost more than the filter.
    pub fn smooth_into(&self, sigma_px: f64, out: &mut Self) {
        out.resize(self.width, self.height);
        let mut smoother = Smoother::new(sigma_px, self.width, self.height);
        for row in self.values.chunks_exact(self.width) {
            smoother.push(row);
            while let Some(y) = smoother.ready() {
                smoother.take(out.row_mut(y));
            }
        }
    }

    /// One row.
    pub fn row(&self, y: usize) -> &[f32] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    /// One row to be written.
    pub fn row_mut(&mut self, y: usize) -> &mut [f32] {
        &mut self.values[y * self.width..(y + 1) * self.width]
    }

    /// Gives the plane another size. What it holds then is left over, and to be overwritten.
    pub fn resize(&mut self, width: usize, height: usize) {
        (self.width, self.height) = (width, height);
        self.values.resize(width * height, 0.0);
    }

    /// Smoothed with a Gaussian along rows only.
    pub fn smoothed_along_rows(&self, sigma_px: f64) -> Self {
        let kernel = kernel(sigma_px);
        let mut padded = vec![0.0_f32; self.width + 2 * (kernel.len() / 2)];
        let mut out = vec![0.0_f32; self.values.len()];
        for (y, result) in out.chunks_exact_mut(self.width).enumerate() {
            filter_row(self.row(y), &kernel, &mut padded, result);
        }
        Self::new(self.width, out)
    }

    /// Mean over squares of `2 radius + 1` pixels, twice: a neighbourhood without corners at a cost that does not grow with
    /// it. What lies outside counts as zero.
    pub fn boxed_twice(&self, radius_px: usize) -> Self {
        let mut plane = self.clone();
        for _ in 0..2 {
            plane = plane.box_rows(radius_px).box_columns(radius_px);
        }
        plane
    }

    fn box_rows(&self, radius: usize) -> Self {
        let mut out = vec![0.0_f32; self.values.len()];
        // A running sum waits for its last addition: four rows side by side fill that time.
        let whole = self.height / 4 * 4 * self.width;
        let (four, rest) = out.split_at_mut(whole);
        let ins = self.values.chunks_exact(4 * self.width);
        for (row, result) in ins.zip(four.chunks_exact_mut(4 * self.width)) {
            box_rows_of::<4>(row, result, radius);
        }
        for (row, result) in self.values[whole..].chunks_exact(self.width).zip(rest.chunks_exact_mut(self.width)) {
            box_rows_of::<1>(row, result, radius);
        }
        Self::new(self.width, out)
    }

    fn box_columns(&self, radius: usize) -> Self {
        let scale = 1.0 / (2 * radius + 1) as f32;
        let row = |y: usize| &self.values[y * self.width..(y + 1) * self.width];
        let mut sums = vec![0.0_f32; self.width];
        for y in 0..radius.min(self.height) {
            sums.iter_mut().zip(row(y)).for_each(|(s, v)| *s += v);
        }
        let mut out = Vec::with_capacity(self.values.len());
        for y in 0..self.height {
            if y + radius < self.height {
                sums.iter_mut().zip(row(y + radius)).for_each(|(s, v)| *s += v);
            }
            if y > radius {
                sums.iter_mut().zip(row(y - radius - 1)).for_each(|(s, v)| *s -= v);
            }
            out.extend(sums.iter().map(|s| s * scale));
        }
        Self::new(self.width, out)
    }
}

/// Smooths a plane row by row as its rows come: only those that the next result needs are kept, so that filters can follow one another
/// while the rows are in the cache.
#[derive(Debug)]
pub struct Smoother {
    kernel: Vec<f32>,
    width: usize,
    height: usize,
    /// The last rows, filtered along themselves.
    ring: Vec<f32>,
    kept: usize,
    /// Room for a row and the kernel's radius on both sides.
    padded: Vec<f32>,
    pushed: usize,
    taken: usize,
}

impl Smoother {
    /// For a plane of a size, with a Gaussian of standard deviation `sigma_px`.
    pub fn new(sigma_px: f64, width: usize, height: usize) -> Self {
        let kernel = kernel(sigma_px);
        let kept = kernel.len().min(height);
        let (ring, padded) = (vec![0.0; kept * width], vec![0.0; width + 2 * (kernel.len() / 2)]);
        Self { kernel, width, height, ring, kept, padded, pushed: 0, taken: 0 }
    }

    /// The next row of the plane. All that is [`Self::ready`] must have been taken before.
    pub fn push(&mut self, row: &[f32]) {
        let slot = self.pushed % self.kept * self.width;
        filter_row(row, &self.kernel, &mut self.padded, &mut self.ring[slot..slot + self.width]);
        self.pushed += 1;
    }

    /// The next row of the result, when all that it needs has come.
    pub fn ready(&self) -> Option<usize> {
        let needed = (self.taken + self.kernel.len() / 2 + 1).min(self.height);
        (self.taken < self.height && self.pushed >= needed).then_some(self.taken)
    }

    /// Writes that row.
    pub fn take(&mut self, out: &mut [f32]) {
        let first = self.taken as isize - (self.kernel.len() / 2) as isize;
        let row = |j: usize| {
            let slot = mirrored(first + j as isize, self.height) % self.kept * self.width;
            &self.ring[slot..slot + self.width]
        };
        weighted_sum(out, row, &self.kernel, false);
        self.taken += 1;
    }
}

/// One row filtered along itself. `padded` has room for the row and the kernel's radius on both sides.
fn filter_row(row: &[f32], kernel: &[f32], padded: &mut [f32], out: &mut [f32]) {
    let (radius, width) = (kernel.len() / 2, row.len());
    padded[radius..radius + width].copy_from_slice(row);
    for i in 1..=radius {
        padded[radius - i] = row[mirrored(-(i as isize), width)];
        padded[radius + width + i - 1] = row[mirrored((width + i - 1) as isize, width)];
    }
    let padded = &*padded;
    weighted_sum(out, |j| &padded[j..j + width], kernel, false);
}

/// Running means of `N` rows that follow each other.
fn box_rows_of<const N: usize>(rows: &[f32], out: &mut [f32], radius: usize) {
    let width = rows.len() / N;
    let scale = 1.0 / (2 * radius + 1) as f32;
    let rows: [&[f32]; N] = std::array::from_fn(|i| &rows[i * width..(i + 1) * width]);
    let mut sums = rows.map(|row| row.iter().take(radius).sum::<f32>());
    for x in 0..width {
        for (i, (sum, row)) in sums.iter_mut().zip(rows).enumerate() {
            if x + radius < width {
                *sum += row[x + radius];
            }
            if x > radius {
                *sum -= row[x - radius - 1];
            }
            out[i * width + x] = *sum * scale;
        }
    }
}

/// Index mirrored about the edges: `-1` is `0`, `n` is `n - 1`, and on for kernels wider than the plane.
fn mirrored(index: isize, length: usize) -> usize {
    let period = 2 * length as isize;
    let folded = index.rem_euclid(period);
    (if folded < length as isize { folded } else { period - 1 - folded }) as usize
}

fn kernel(sigma_px: f64) -> Vec<f32> {
    let radius = (TRUNCATE * sigma_px + 0.5) as i32;
    let weights: Vec<f64> = (-radius..=radius).map(|i| (-0.5 * (f64::from(i) / sigma_px).powi(2)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|w| (w / sum) as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn impulse(size: usize, x: usize, y: usize) -> Plane {
        let mut values = vec![0.0; size * size];
        values[y * size + x] = 1.0;
        Plane::new(size, values)
    }

    /// Values computed with SciPy 1.17.1, `scipy.ndimage.gaussian_filter(im, s, mode='reflect', truncate=4)`.
    #[test]
    fn agrees_with_the_published_scipy_values() {
        let centre = impulse(33, 16, 16).smoothed(2.0).at(16, 16);
        assert!((centre - 0.039_790_135).abs() < 1e-7);
        let corner = impulse(8, 0, 0).smoothed(1.0).at(0, 0);
        assert!((corner - 0.410_771_93).abs() < 1e-6, "{corner}");
        let kernel = kernel(1.0);
        for (got, wanted) in
            kernel[4..].iter().zip([0.398_943_47, 0.241_971_45, 0.053_991_13, 0.004_431_861_6, 0.000_133_830_62])
        {
            assert!((got - wanted).abs() < 1e-7);
        }
    }

    #[test]
    fn boxes_agree_with_plain_sums() {
        let plane = Plane::new(7, (0..35).map(|i| (i * i % 11) as f32).collect());
        let once = plane.box_rows(2).box_columns(2);
        for y in 0..5_usize {
            for x in 0..7_usize {
                let mut sum = 0.0;
                for v in y.saturating_sub(2)..=(y + 2).min(4) {
                    for u in x.saturating_sub(2)..=(x + 2).min(6) {
                        sum += plane.at(u, v);
                    }
                }
                assert!((once.at(x, y) - sum / 25.0).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn kernels_wider_than_the_plane_keep_a_constant() {
        let plane = Plane::new(3, vec![2.5; 6]);
        assert!(plane.smoothed(7.0).values.iter().all(|v| (v - 2.5).abs() < 1e-5));
    }
}
