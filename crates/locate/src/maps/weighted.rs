//! The one loop that everything on maps comes down to: weighted sums of rows. It runs with the widest vectors that the
//! processor has (`pulp` looks at run time; AVX2 with fused multiply-add where there is one).

use pulp::{Arch, Simd, WithSimd};

/// Rows that are summed in one pass: their addresses stay in the first-level cache.
const AT_ONCE: usize = 16;
/// Sums that [`weighted_sums`] makes at once.
pub const SUMS: usize = 5;

/// `out = sum of weights[j] * row(j)`, or that added to what `out` holds.
///
/// # Panics
/// When a row is shorter than `out`.
pub fn weighted_sum<'a>(out: &mut [f32], row: impl Fn(usize) -> &'a [f32], weights: &[f32], add: bool) {
    sums::<1, 8>([out], row, weights.as_chunks().0, add);
}

/// Adds several weighted sums of the same rows, which are loaded once for all of them. Each row has one weight per sum.
///
/// # Panics
/// When a row is shorter than the sums, or these differ in length.
pub fn weighted_sums<'a>(outs: [&mut [f32]; SUMS], row: impl Fn(usize) -> &'a [f32], weights: &[[f32; SUMS]]) {
    sums::<SUMS, 2>(outs, row, weights, true);
}

/// `K` sums, `N` vectors of each at a time: eight to ten sums in flight hide the latency of the multiply-adds, more would not
/// fit the sixteen registers of AVX2.
fn sums<'a, const K: usize, const N: usize>(
    mut outs: [&mut [f32]; K],
    row: impl Fn(usize) -> &'a [f32],
    weights: &[[f32; K]],
    add: bool,
) {
    let length = outs[0].len();
    assert!(outs.iter().all(|out| out.len() == length), "equal lengths");
    if weights.is_empty() && !add {
        outs.iter_mut().for_each(|out| out.fill(0.0));
    }
    for (pass, weights) in weights.chunks(AT_ONCE).enumerate() {
        let mut rows: [&[f32]; AT_ONCE] = [&[]; AT_ONCE];
        for (j, slot) in rows.iter_mut().enumerate().take(weights.len()) {
            *slot = &row(pass * AT_ONCE + j)[..length];
        }
        let outs = outs.each_mut().map(|out| &mut **out);
        Arch::new().dispatch(Sums::<K, N> { outs, rows: &rows[..weights.len()], weights, add: add || pass > 0 });
    }
}

/// A row in blocks of `N` vectors, and the vectors that are left.
type Row<'a, V, const N: usize> = (&'a [[V; N]], &'a [V]);

struct Sums<'a, const K: usize, const N: usize> {
    outs: [&'a mut [f32]; K],
    rows: &'a [&'a [f32]],
    weights: &'a [[f32; K]],
    add: bool,
}

impl<const K: usize, const N: usize> WithSimd for Sums<'_, K, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { outs, rows, weights, add } = self;
        let mut wide: [Row<'_, S::f32s, N>; AT_ONCE] = [(&[], &[]); AT_ONCE];
        for (wide, row) in wide.iter_mut().zip(rows) {
            *wide = S::as_simd_f32s(row).0.as_chunks();
        }
        let wide = &wide[..rows.len()];
        let mut outs = outs.map(|out| {
            let (vectors, tail) = S::as_mut_simd_f32s(out);
            let (blocks, singles) = vectors.as_chunks_mut::<N>();
            (blocks, singles, tail)
        });
        for i in 0..outs[0].0.len() {
            let mut sums = [[simd.splat_f32s(0.0); N]; K];
            if add {
                for (sum, out) in sums.iter_mut().zip(&outs) {
                    *sum = out.0[i];
                }
            }
            for ((blocks, _), weights) in wide.iter().zip(weights) {
                let block = blocks[i];
                for (sum, &weight) in sums.iter_mut().zip(weights) {
                    let weight = simd.splat_f32s(weight);
                    for (s, b) in sum.iter_mut().zip(block) {
                        *s = simd.mul_add_e_f32s(weight, b, *s);
                    }
                }
            }
            for (out, sum) in outs.iter_mut().zip(sums) {
                out.0[i] = sum;
            }
        }
        // What is left at the end of the rows.
        for (k, (_, singles, tail)) in outs.iter_mut().enumerate() {
            for (i, out) in singles.iter_mut().enumerate() {
                let mut sum = if add { *out } else { simd.splat_f32s(0.0) };
                for ((_, singles), weights) in wide.iter().zip(weights) {
                    sum = simd.mul_add_e_f32s(simd.splat_f32s(weights[k]), singles[i], sum);
                }
                *out = sum;
            }
            let from = rows[0].len() - tail.len();
            for (j, out) in tail.iter_mut().enumerate() {
                let start = if add { *out } else { 0.0 };
                *out = rows.iter().zip(weights).fold(start, |sum, (row, weights)| sum + weights[k] * row[from + j]);
            }
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
            let weight = |j: usize, k: usize| (j as f32 - 30.0 + k as f32) / 16.0;
            // Small integers over 16: exact in f32 in any order.
            let plain = |i: usize, k: usize| rows.iter().enumerate().map(|(j, row)| weight(j, k) * row[i]).sum::<f32>();
            let first: Vec<f32> = (0..70).map(|j| weight(j, 0)).collect();
            for add in [false, true] {
                let mut out = vec![2.0_f32; length];
                weighted_sum(&mut out, |j| &rows[j], &first, add);
                let wanted: Vec<f32> = (0..length).map(|i| plain(i, 0) + if add { 2.0 } else { 0.0 }).collect();
                assert_eq!(out, wanted, "length {length}");
            }
            let weights: Vec<[f32; SUMS]> = (0..70).map(|j| std::array::from_fn(|k| weight(j, k))).collect();
            let mut outs: [Vec<f32>; SUMS] = std::array::from_fn(|_| vec![2.0_f32; length]);
            weighted_sums(outs.each_mut().map(Vec::as_mut_slice), |j| &rows[j], &weights);
            for (k, out) in outs.iter().enumerate() {
                let wanted: Vec<f32> = (0..length).map(|i| plain(i, k) + 2.0).collect();
                assert_eq!(*out, wanted, "length {length}");
            }
        }
    }
}
