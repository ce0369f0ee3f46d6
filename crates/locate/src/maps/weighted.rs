//! The one loop that everything on maps comes down to: weighted sums of rows. It runs with the widest vectors that the
//! processor has (`pulp` looks at run time; AVX2 with fused multiply-add where there is one).

use pulp::{Arch, Simd, WithSimd};

/// Rows that are summed in one pass: their addresses stay in the first-level cache.
const AT_ONCE: usize = 16;

/// `out = sum of weights[j] * row(j)`, or that added to what `out` holds.
///
/// # Panics
/// When a row is shorter than `out`.
pub fn weighted_sum<'a>(out: &mut [f32], row: impl Fn(usize) -> &'a [f32], weights: &[f32], add: bool) {
    sums::<1, 8>([out], row, [weights], add);
}

/// Sums that [`weighted_sums`] makes at once.
pub const SUMS: usize = 5;

/// Several weighted sums of the same rows, which are loaded once for all of them.
///
/// # Panics
/// When a row is shorter than the sums, or these or their weights differ in length.
pub fn weighted_sums<'a>(
    outs: [&mut [f32]; SUMS],
    row: impl Fn(usize) -> &'a [f32],
    weights: [&[f32]; SUMS],
    add: bool,
) {
    sums::<SUMS, 2>(outs, row, weights, add);
}

/// `K` sums, `N` vectors of each at a time: eight to ten sums in flight hide the latency of the multiply-adds, more would not
/// fit the sixteen registers of AVX2.
fn sums<'a, const K: usize, const N: usize>(
    mut outs: [&mut [f32]; K],
    row: impl Fn(usize) -> &'a [f32],
    weights: [&[f32]; K],
    add: bool,
) {
    let (length, count) = (outs[0].len(), weights[0].len());
    assert!(outs.iter().all(|out| out.len() == length) && weights.iter().all(|w| w.len() == count), "equal lengths");
    if count == 0 && !add {
        outs.iter_mut().for_each(|out| out.fill(0.0));
    }
    for from in (0..count).step_by(AT_ONCE) {
        let to = count.min(from + AT_ONCE);
        let mut rows: [&[f32]; AT_ONCE] = [&[]; AT_ONCE];
        for (slot, j) in rows.iter_mut().zip(from..to) {
            *slot = &row(j)[..length];
        }
        let outs = outs.each_mut().map(|out| &mut **out);
        let weights = weights.map(|w| &w[from..to]);
        Arch::new().dispatch(Sums::<K, N> { outs, rows: &rows[..to - from], weights, add: add || from > 0 });
    }
}

struct Sums<'a, const K: usize, const N: usize> {
    outs: [&'a mut [f32]; K],
    rows: &'a [&'a [f32]],
    weights: [&'a [f32]; K],
    add: bool,
}

impl<const K: usize, const N: usize> WithSimd for Sums<'_, K, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { outs, rows, weights, add } = self;
        let mut heads: [&[S::f32s]; AT_ONCE] = [&[]; AT_ONCE];
        for (head, row) in heads.iter_mut().zip(rows) {
            *head = S::as_simd_f32s(row).0;
        }
        let heads = &heads[..rows.len()];
        let mut parts = outs.map(S::as_mut_simd_f32s);
        let lanes = parts[0].0.len();
        let whole = lanes - lanes % N;
        for i in (0..whole).step_by(N) {
            vectors::<S, K, N>(simd, &mut parts, heads, weights, add, i);
        }
        for i in whole..lanes {
            vectors::<S, K, 1>(simd, &mut parts, heads, weights, add, i);
        }
        for (part, weights) in parts.iter_mut().zip(weights) {
            let from = rows[0].len() - part.1.len();
            for (j, value) in part.1.iter_mut().enumerate() {
                let sum =
                    rows.iter().zip(weights).fold(if add { *value } else { 0.0 }, |s, (row, w)| s + w * row[from + j]);
                *value = sum;
            }
        }
    }
}

/// `N` vectors from vector `i` on of every sum.
#[inline(always)]
fn vectors<S: Simd, const K: usize, const N: usize>(
    simd: S,
    parts: &mut [(&mut [S::f32s], &mut [f32]); K],
    heads: &[&[S::f32s]],
    weights: [&[f32]; K],
    add: bool,
    i: usize,
) {
    let mut sums = [[simd.splat_f32s(0.0); N]; K];
    if add {
        for (sum, part) in sums.iter_mut().zip(parts.iter()) {
            sum.copy_from_slice(&part.0[i..i + N]);
        }
    }
    for (j, head) in heads.iter().enumerate() {
        let head = &head[i..i + N];
        for (sum, weights) in sums.iter_mut().zip(weights) {
            let w = simd.splat_f32s(weights[j]);
            for (s, h) in sum.iter_mut().zip(head) {
                *s = simd.mul_add_e_f32s(w, *h, *s);
            }
        }
    }
    for (sum, part) in sums.iter().zip(parts) {
        part.0[i..i + N].copy_from_slice(sum);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_plain_sum_at_any_length() {
        for length in [0, 1, 7, 8, 31, 32, 33, 100] {
            let rows: Vec<Vec<f32>> =
                (0..70).map(|j| (0..length).map(|i| ((i * 7 + j * 13) % 17) as f32 - 8.0).collect()).collect();
            let weights: [Vec<f32>; SUMS] =
                std::array::from_fn(|k| (0..70).map(|j| (j as f32 - 30.0 + k as f32) / 16.0).collect());
            for add in [false, true] {
                let mut outs: [Vec<f32>; SUMS] = std::array::from_fn(|_| vec![2.0_f32; length]);
                let slices = outs.each_mut().map(Vec::as_mut_slice);
                weighted_sums(slices, |j| &rows[j], weights.each_ref().map(Vec::as_slice), add);
                let mut one = vec![2.0_f32; length];
                weighted_sum(&mut one, |j| &rows[j], &weights[0], add);
                assert_eq!(one, outs[0]);
                for (out, weights) in outs.iter().zip(&weights) {
                    for (i, value) in out.iter().enumerate() {
                        let plain: f32 =
                            rows.iter().zip(weights).map(|(r, w)| w * r[i]).sum::<f32>() + if add { 2.0 } else { 0.0 };
                        // Small integers over 16: exact in f32 in any order.
                        assert_eq!(*value, plain, "length {length}, {i}");
                    }
                }
            }
        }
    }
}
