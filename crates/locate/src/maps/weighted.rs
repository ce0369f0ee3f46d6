//! The one loop that everything on maps comes down to: a weighted sum of rows. It runs with the widest vectors that the
//! processor has (`pulp` looks at run time; AVX2 with fused multiply-add where there is one).

use pulp::{Arch, Simd, WithSimd};

/// Rows that are summed in one pass: their addresses and weights stay in registers or the first-level cache.
const AT_ONCE: usize = 64;

/// `out = sum of weights[j] * rows[j]`, or that added to what `out` holds.
///
/// # Panics
/// When a row is shorter than `out`, or there are not as many weights as rows.
pub fn weighted_sum(out: &mut [f32], rows: &[&[f32]], weights: &[f32], add: bool) {
    assert_eq!(rows.len(), weights.len(), "one weight per row");
    assert!(rows.iter().all(|row| row.len() >= out.len()), "rows as long as the sum");
    let arch = Arch::new();
    if rows.is_empty() && !add {
        out.fill(0.0);
    }
    for (i, (rows, weights)) in rows.chunks(AT_ONCE).zip(weights.chunks(AT_ONCE)).enumerate() {
        arch.dispatch(Sum { out, rows, weights, add: add || i > 0 });
    }
}

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
        let length = out.len();
        let (wide, tail) = S::as_mut_simd_f32s(out);
        let lanes = wide.len();
        let mut heads: [&[S::f32s]; AT_ONCE] = [&[]; AT_ONCE];
        for (head, row) in heads.iter_mut().zip(rows) {
            *head = &S::as_simd_f32s(&row[..length]).0[..lanes];
        }
        let heads = &heads[..rows.len()];
        // Four registers at a time hide the latency of the multiply-adds.
        let mut i = 0;
        while i + 4 <= lanes {
            let zero = simd.splat_f32s(0.0);
            let mut sums = if add { [wide[i], wide[i + 1], wide[i + 2], wide[i + 3]] } else { [zero; 4] };
            for (head, &weight) in heads.iter().zip(weights) {
                let w = simd.splat_f32s(weight);
                let part = &head[i..i + 4];
                sums[0] = simd.mul_add_e_f32s(w, part[0], sums[0]);
                sums[1] = simd.mul_add_e_f32s(w, part[1], sums[1]);
                sums[2] = simd.mul_add_e_f32s(w, part[2], sums[2]);
                sums[3] = simd.mul_add_e_f32s(w, part[3], sums[3]);
            }
            wide[i..i + 4].copy_from_slice(&sums);
            i += 4;
        }
        while i < lanes {
            let mut sum = if add { wide[i] } else { simd.splat_f32s(0.0) };
            for (head, &weight) in heads.iter().zip(weights) {
                sum = simd.mul_add_e_f32s(simd.splat_f32s(weight), head[i], sum);
            }
            wide[i] = sum;
            i += 1;
        }
        let from = length - tail.len();
        for (j, value) in tail.iter_mut().enumerate() {
            let mut sum = if add { *value } else { 0.0 };
            for (row, &weight) in rows.iter().zip(weights) {
                sum += weight * row[from + j];
            }
            *value = sum;
        }
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
            let weights: Vec<f32> = (0..70).map(|j| (j as f32 - 30.0) / 16.0).collect();
            let slices: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
            for add in [false, true] {
                let mut out = vec![2.0_f32; length];
                weighted_sum(&mut out, &slices, &weights, add);
                for (i, value) in out.iter().enumerate() {
                    let plain: f32 =
                        rows.iter().zip(&weights).map(|(r, w)| w * r[i]).sum::<f32>() + if add { 2.0 } else { 0.0 };
                    // Small integers over 16: exact in f32 in any order.
                    assert_eq!(*value, plain, "length {length}, {i}");
                }
            }
        }
    }
}
