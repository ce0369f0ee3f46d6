//! Many weighted sums of the same rows at once: the product of a few hundred frames with some sixty time vectors, which is most
//! of what reading a recording costs.

use pulp::{Arch, Simd, WithSimd};

/// Sums in flight, of [`WIDE`] vectors each: eight, as many as a fused multiply-add takes cycles times the two that start in each. They
/// stay in registers together with the row and its weight.
pub const SUMS: usize = 4;
const WIDE: usize = 2;
/// Rows have room for whole panels, this many values at most.
const PANEL: usize = 32;
/// Rows lie this much further apart: at a power of two they would all fall on the same few lines of the first-level cache.
const APART: usize = 16;

/// Per group of [`SUMS`] sums, their weights for each row.
pub type Weights = Vec<Vec<[f32; SUMS]>>;

/// Rows of equal length side by side in one piece of memory.
#[derive(Debug, Default)]
pub struct Rows {
    values: Vec<f32>,
    stride: usize,
    width: usize,
}

impl Rows {
    /// Makes room for `count` rows of `width`. What they hold is left over from before, and to be overwritten.
    pub fn shape(&mut self, count: usize, width: usize) {
        self.width = width;
        self.stride = width.next_multiple_of(PANEL) + APART;
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
    #[cfg(test)]
    pub fn row_mut(&mut self, j: usize) -> &mut [f32] {
        &mut self.values[j * self.stride..j * self.stride + self.width]
    }

    /// One row to be written and the one before it; `before` the first.
    ///
    /// # Panics
    /// When there is no such row.
    pub fn row_and_last<'a>(&'a mut self, j: usize, before: &'a [f32]) -> (&'a [f32], &'a mut [f32]) {
        let (done, rest) = self.values.split_at_mut(j * self.stride);
        let last = if j == 0 { before } else { &done[(j - 1) * self.stride..(j - 1) * self.stride + self.width] };
        (last, &mut rest[..self.width])
    }

    /// Each `step`-th row from row `first` on, from the place `from` on.
    ///
    /// # Panics
    /// When there is no such row.
    pub fn each(&self, first: usize, step: usize, from: usize) -> View<'_> {
        View { values: &self.values[first * self.stride + from..], apart: step * self.stride }
    }

    /// The rows from row `first` on, to be written.
    ///
    /// # Panics
    /// When there is no such row.
    pub fn rest_mut(&mut self, first: usize) -> ViewMut<'_> {
        ViewMut { values: &mut self.values[first * self.stride..], apart: self.stride }
    }
}

/// Rows that are evenly apart, from some place on.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    values: &'a [f32],
    apart: usize,
}

/// Neighbouring rows that are written.
#[derive(Debug)]
pub struct ViewMut<'a> {
    values: &'a mut [f32],
    apart: usize,
}

/// What weighted sums are added to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// Nothing: what was in the sums is overwritten.
    Zero,
    /// What is in the sums.
    Sums,
}

/// Sums to be made. Each group of weights makes [`SUMS`] rows, and has as many weights for each row that counts.
#[derive(Debug)]
pub struct Wanted<'a> {
    /// The weights.
    pub groups: &'a Weights,
    /// Where the sums start.
    pub start: Start,
    /// The sums.
    pub sums: ViewMut<'a>,
}

/// Weighted sums of the first `width` values of the first of `rows`. Values after the last one, up to a whole panel, are written too.
///
/// # Panics
/// When there are fewer rows or sums than the weights ask for.
pub fn weighted_sums<const N: usize>(rows: View<'_>, width: usize, wanted: [Wanted<'_>; N]) {
    let needed = |rows: usize, apart: usize| rows.saturating_sub(1) * apart + width.next_multiple_of(PANEL);
    for Wanted { groups, sums, .. } in &wanted {
        assert!(sums.values.len() >= needed(groups.len() * SUMS, sums.apart), "a row for each sum");
        assert!(groups.iter().all(|g| rows.values.len() >= needed(g.len(), rows.apart)), "a row for each weight");
    }
    Arch::new().dispatch(WeightedSums { rows, width, wanted });
}

struct WeightedSums<'a, const N: usize> {
    rows: View<'a>,
    width: usize,
    wanted: [Wanted<'a>; N],
}

impl<const N: usize> WithSimd for WeightedSums<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { rows, width, mut wanted } = self;
        let panel = WIDE * S::F32_LANES;
        // The panel stays in the first-level cache while all groups take it, their weights one after the other.
        for x in (0..width).step_by(panel) {
            for Wanted { groups, start, sums } in &mut wanted {
                let mut from = x;
                for group in *groups {
                    let mut totals = [[simd.splat_f32s(0.0); WIDE]; SUMS];
                    if *start == Start::Sums {
                        for (k, totals) in totals.iter_mut().enumerate() {
                            let at = from + k * sums.apart;
                            totals.copy_from_slice(S::as_simd_f32s(&sums.values[at..at + panel]).0);
                        }
                    }
                    // Counted by hand: an iterator over the rows would divide for each panel to know how many there are.
                    let mut at = x;
                    for weights in group {
                        let values = S::as_simd_f32s(&rows.values[at..at + panel]).0;
                        at += rows.apart;
                        for (totals, &weight) in totals.iter_mut().zip(weights) {
                            let weight = simd.splat_f32s(weight);
                            for (total, &value) in totals.iter_mut().zip(values) {
                                *total = simd.mul_add_e_f32s(weight, value, *total);
                            }
                        }
                    }
                    for totals in totals {
                        S::as_mut_simd_f32s(&mut sums.values[from..from + panel]).0.copy_from_slice(&totals);
                        from += sums.apart;
                    }
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
            rows.shape(count, width);
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
            let weights: Weights = (0..groups).map(of_group).collect();
            for (start, first) in [(Start::Sums, 2.0), (Start::Zero, 0.0)] {
                let mut sums = Rows::default();
                sums.shape(1 + groups * SUMS, width);
                for k in 0..=groups * SUMS {
                    sums.row_mut(k).fill(2.0);
                }
                let wanted = Wanted { groups: &weights, start, sums: sums.rest_mut(1) };
                weighted_sums(rows.each(0, 1, 0), width, [wanted]);
                assert!(sums.row(0).iter().all(|v| *v == 2.0), "rows before the first one stay");
                for k in 0..groups * SUMS {
                    for (i, value) in sums.row(1 + k).iter().enumerate() {
                        let wanted = first + (0..count - 1).map(|j| weight(j, k) * rows.row(j)[i]).sum::<f32>();
                        assert_eq!(*value, wanted, "width {width}, sum {k}, place {i}");
                    }
                }
            }
        }
    }

    #[test]
    fn every_third_row_from_some_place_on() {
        let (count, width, from) = (11, 100, 64);
        let mut rows = Rows::default();
        rows.shape(count, width);
        for j in 0..count {
            for (i, value) in rows.row_mut(j).iter_mut().enumerate() {
                *value = (1000 * j + i) as f32;
            }
        }
        let mut sums = Rows::default();
        sums.shape(SUMS, width - from);
        let weights = vec![vec![[1.0; SUMS], [2.0; SUMS], [0.0; SUMS], [-1.0; SUMS]]];
        let wanted = Wanted { groups: &weights, start: Start::Zero, sums: sums.rest_mut(0) };
        weighted_sums(rows.each(1, 3, from), width - from, [wanted]);
        for (i, value) in sums.row(SUMS - 1).iter().enumerate() {
            let at = |j: usize| rows.row(j)[from + i];
            assert_eq!(*value, at(1) + 2.0 * at(4) - at(10));
        }
    }
}
