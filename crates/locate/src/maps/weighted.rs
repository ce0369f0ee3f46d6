//! The one loop that everything on maps comes down to: weighted sums of rows. It runs with the widest vectors that the
//! processor has (`pulp` looks at run time; AVX2 with fused multiply-add where there is one).

use pulp::{Arch, Simd, WithSimd};

/// Rows that are summed in one pass: their addresses stay in the first-level cache.
const AT_ONCE: usize = 16;
/// Vectors of the sum at a time: eight in flight hide the latency of the multiply-adds.
const WIDE: usize = 8;

/// `out = sum of weights[j] * row(j)`, or that added to what `out` holds.
///
/// # Panics
/// When a row is shorter than `out`.
pub fn weighted_sum<'a>(out: &mut [f32], row: impl Fn(usize) -> &'a [f32], weights: &[f32], add: bool) {
    if weights.is_empty() && !add {
        out.fill(0.0);
    }
    for (pass, weights) in weights.chunks(AT_ONCE).enumerate() {
        let mut rows: [&[f32]; AT_ONCE] = [&[]; AT_ONCE];
        for (j, slot) in rows.iter_mut().enumerate().take(weights.len()) {
            *slot = &row(pass * AT_ONCE + j)[..out.len()];
        }
        Arch::new().dispatch(Sum { out: &mut *out, rows: &rows[..weights.len()], weights, add: add || pass > 0 });
    }
}

/// A row in blocks of vectors, and the vectors that are left.
type Row<'a, V> = (&'a [[V; WIDE]], &'a [V]);

struct Sum<'a> {
    out: &'a mut [f32],
    rows: &'a [&'a [f32]],
    weights: &'a [f32],
    add: bool,
}

impl WithSimd for Sum<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { out, rows, weights, add } = self;
        let mut wide: [Row<'_, S::f32s>; AT_ONCE] = [(&[], &[]); AT_ONCE];
        for (wide, row) in wide.iter_mut().zip(rows) {
            *wide = S::as_simd_f32s(row).0.as_chunks();
        }
        let wide = &wide[..rows.len()];
        let from = out.len() / S::F32_LANES * S::F32_LANES;
        let (vectors, tail) = S::as_mut_simd_f32s(out);
        let (blocks, singles) = vectors.as_chunks_mut::<WIDE>();
        for (i, out) in blocks.iter_mut().enumerate() {
            let mut sums = if add { *out } else { [simd.splat_f32s(0.0); WIDE] };
            for ((blocks, _), &weight) in wide.iter().zip(weights) {
                let weight = simd.splat_f32s(weight);
                for (sum, value) in sums.iter_mut().zip(blocks[i]) {
                    *sum = simd.mul_add_e_f32s(weight, value, *sum);
                }
            }
            *out = sums;
        }
        // What is left at the end of the rows.
        for (i, out) in singles.iter_mut().enumerate() {
            let mut sum = if add { *out } else { simd.splat_f32s(0.0) };
            for ((_, singles), &weight) in wide.iter().zip(weights) {
                sum = simd.mul_add_e_f32s(simd.splat_f32s(weight), singles[i], sum);
            }
            *out = sum;
        }
        for (j, out) in tail.iter_mut().enumerate() {
            let start = if add { *out } else { 0.0 };
            *out = rows.iter().zip(weights).fold(start, |sum, (row, weight)| sum + weight * row[from + j]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_plain_sum_at_any_length() {
        for length in [0, 1, 7, 8, 31, 32, 33, 100, 136] {
            let rows: Vec<Vec<f32>> =
                (0..70).map(|j| (0..length).map(|i| ((i * 7 + j * 13) % 17) as f32 - 8.0).collect()).collect();
            // Small integers over 16: exact in f32 in any order.
            let weights: Vec<f32> = (0..70).map(|j| (j as f32 - 30.0) / 16.0).collect();
            let plain = |i: usize| rows.iter().zip(&weights).map(|(row, weight)| weight * row[i]).sum::<f32>();
            for add in [false, true] {
                let mut out = vec![2.0_f32; length];
                weighted_sum(&mut out, |j| &rows[j], &weights, add);
                let wanted: Vec<f32> = (0..length).map(|i| plain(i) + if add { 2.0 } else { 0.0 }).collect();
                assert_eq!(out, wanted, "length {length}");
            }
        }
    }
}
