//! Many weighted sums of the same rows at once: the product of a few hundred frames with some sixty time vectors, which is most
//! of what reading a recording costs.

use pulp::{Arch, Simd, WithSimd};

/// Sums in flight, of [`WIDE`] vectors each: twelve registers for them, two for the row and one for the weight are fifteen of
/// the sixteen that AVX2 has.
pub const SUMS: usize = 6;
const WIDE: usize = 2;
/// Rows have room for whole panels, two of these at most, and lie another one apart: at a power of two they would all fall on the same
/// few lines of the first-level cache.
const APART: usize = 16;

/// Rows of equal length side by side in one piece of memory.
#[derive(Debug, Default)]
pub struct Rows {
    values: Vec<f32>,
    stride: usize,
    width: usize,
}

impl Rows {
    /// `count` rows of `width` zeros. What was there is overwritten; its memory is kept.
    pub fn reset(&mut self, count: usize, width: usize) {
        self.width = width;
        self.stride = width.next_multiple_of(2 * APART) + APART;
        self.values.clear();
        self.values.resize(count * self.stride, 0.0);
    }

    /// One row.
    ///
    /// # Panics
    /// When there is no such row.
    pub fn row(&self, j: usize) -> &[f32] {
        &self.values[j * self.stride..j * self.stride + self.width]
    }

    /// One row to be written.
    ///
    /// # Panics
    /// When there is no such row.
    pub fn row_mut(&mut self, j: usize) -> &mut [f32] {
        &mut self.values[j * self.stride..j * self.stride + self.width]
    }
}

/// Adds weighted sums of the first rows of `rows` to `sums`. Each group of weights makes [`SUMS`] rows of `sums`, and has as many
/// weights for each row that counts.
///
/// # Panics
/// When rows and sums differ in width, or there are fewer than the weights ask for.
pub fn add_weighted(rows: &Rows, groups: &[Vec<[f32; SUMS]>], sums: &mut Rows) {
    assert_eq!((rows.stride, rows.width), (sums.stride, sums.width), "equal widths");
    assert!(sums.values.len() >= groups.len() * SUMS * sums.stride, "a row for each sum");
    assert!(groups.iter().all(|g| g.len() * rows.stride <= rows.values.len()), "a row for each weight");
    Arch::new().dispatch(AddWeighted { rows, groups, sums });
}

struct AddWeighted<'a> {
    rows: &'a Rows,
    groups: &'a [Vec<[f32; SUMS]>],
    sums: &'a mut Rows,
}

impl WithSimd for AddWeighted<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { rows, groups, sums } = self;
        let stride = rows.stride;
        let panel = WIDE * S::F32_LANES;
        // The panel stays in the first-level cache while all groups take it, their weights one after the other.
        for x in (0..rows.width).step_by(panel) {
            for (group, sums) in groups.iter().zip(sums.values.chunks_exact_mut(SUMS * stride)) {
                let mut outs = sums.chunks_exact_mut(stride);
                let mut outs: [&mut [S::f32s]; SUMS] = std::array::from_fn(|_| {
                    let row = outs.next().unwrap_or_default();
                    S::as_mut_simd_f32s(&mut row[x..x + panel]).0
                });
                let mut totals: [[S::f32s; WIDE]; SUMS] = std::array::from_fn(|k| std::array::from_fn(|i| outs[k][i]));
                for (row, weights) in rows.values.chunks_exact(stride).zip(group) {
                    let values = S::as_simd_f32s(&row[x..x + panel]).0;
                    let values: [S::f32s; WIDE] = std::array::from_fn(|i| values[i]);
                    for (totals, &weight) in totals.iter_mut().zip(weights) {
                        let weight = simd.splat_f32s(weight);
                        for (total, value) in totals.iter_mut().zip(values) {
                            *total = simd.mul_add_e_f32s(weight, value, *total);
                        }
                    }
                }
                for (out, totals) in outs.iter_mut().zip(totals) {
                    out.copy_from_slice(&totals);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_plain_sum_at_any_width() {
        for width in [1, 7, 16, 31, 33, 100] {
            let (count, groups) = (9, 3);
            let mut rows = Rows::default();
            rows.reset(count, width);
            for j in 0..count {
                for (i, value) in rows.row_mut(j).iter_mut().enumerate() {
                    *value = ((i * 7 + j * 13) % 17) as f32 - 8.0;
                }
            }
            // Small integers over 16: exact in f32 in any order.
            let weight = |j: usize, k: usize| (j as f32 - 4.0 + k as f32) / 16.0;
            // The last row has no weights: it does not count.
            let of_group =
                |g: usize| (0..count - 1).map(|j| std::array::from_fn(|k| weight(j, g * SUMS + k))).collect();
            let weights: Vec<Vec<[f32; SUMS]>> = (0..groups).map(of_group).collect();
            let mut sums = Rows::default();
            sums.reset(groups * SUMS, width);
            for k in 0..groups * SUMS {
                sums.row_mut(k).fill(2.0);
            }
            add_weighted(&rows, &weights, &mut sums);
            for k in 0..groups * SUMS {
                for (i, value) in sums.row(k).iter().enumerate() {
                    let wanted = 2.0 + (0..count - 1).map(|j| weight(j, k) * rows.row(j)[i]).sum::<f32>();
                    assert_eq!(*value, wanted, "width {width}, sum {k}, place {i}");
                }
            }
        }
    }
}
