//! The inner loops of resampling, with the widest vectors that the processor has (`pulp` looks at run time).

use pulp::{Arch, Simd, WithSimd};

use super::kernel::{DEGREE, TAPS};

/// Lanes of the widest vectors: [`polynomial`] works in whole vectors, and rows are padded by this.
pub(super) const LANES: usize = 16;

/// `out[i] = sum of w[j] taps[j][i]`.
///
/// # Panics
/// When a tap is shorter than `out`.
pub(super) fn combine(w: &[f32; TAPS], taps: [&[f32]; TAPS], out: &mut [f32]) {
    Arch::new().dispatch(Combine { w, taps, out });
}

struct Combine<'a> {
    w: &'a [f32; TAPS],
    taps: [&'a [f32]; TAPS],
    out: &'a mut [f32],
}

impl WithSimd for Combine<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { w, taps, out } = self;
        let n = out.len();
        let (wide, tail) = S::as_mut_simd_f32s(out);
        let heads = taps.map(|tap| &S::as_simd_f32s(&tap[..n]).0[..wide.len()]);
        let weights = w.map(|w| simd.splat_f32s(w));
        for (i, out) in wide.iter_mut().enumerate() {
            *out = weigh(simd, &weights, |j| heads[j][i]);
        }
        let from = n - tail.len();
        for (j, out) in tail.iter_mut().enumerate() {
            *out = (0..TAPS).map(|k| w[k] * taps[k][from + j]).sum();
        }
    }
}

/// The same for two rows of output, the second of which takes its taps one row further down: what they share is loaded once.
///
/// # Panics
/// When a tap or the second row of `out` is shorter than the first.
pub(super) fn combine_two(w: &[f32; TAPS], taps: [&[f32]; TAPS + 1], out: [&mut [f32]; 2]) {
    Arch::new().dispatch(CombineTwo { w, taps, out });
}

struct CombineTwo<'a> {
    w: &'a [f32; TAPS],
    taps: [&'a [f32]; TAPS + 1],
    out: [&'a mut [f32]; 2],
}

impl WithSimd for CombineTwo<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { w, taps, out: [first, second] } = self;
        let n = first.len();
        let second = &mut second[..n];
        let (wide, tail) = S::as_mut_simd_f32s(first);
        let (wide_second, tail_second) = S::as_mut_simd_f32s(second);
        let heads = taps.map(|tap| &S::as_simd_f32s(&tap[..n]).0[..wide.len()]);
        let weights = w.map(|w| simd.splat_f32s(w));
        for (i, (first, second)) in wide.iter_mut().zip(wide_second).enumerate() {
            // Both before anything is written, so that nothing has to be loaded again.
            let (upper, lower) = (weigh(simd, &weights, |j| heads[j][i]), weigh(simd, &weights, |j| heads[j + 1][i]));
            (*first, *second) = (upper, lower);
        }
        let from = n - tail.len();
        for (j, (first, second)) in tail.iter_mut().zip(tail_second).enumerate() {
            let sum = |row: usize| (0..TAPS).map(|k| w[k] * taps[row + k][from + j]).sum();
            (*first, *second) = (sum(0), sum(1));
        }
    }
}

/// The weighted sum in two halves that need not wait for one another.
#[inline(always)]
fn weigh<S: Simd>(simd: S, weights: &[S::f32s; TAPS], tap: impl Fn(usize) -> S::f32s) -> S::f32s {
    let even = simd.mul_add_e_f32s(weights[2], tap(2), simd.mul_f32s(weights[0], tap(0)));
    let odd = simd.mul_add_e_f32s(weights[3], tap(3), simd.mul_f32s(weights[1], tap(1)));
    let even = simd.mul_add_e_f32s(weights[4], tap(4), even);
    let odd = simd.mul_add_e_f32s(weights[5], tap(5), odd);
    simd.add_f32s(even, odd)
}

/// `out[i] = sum of w_j(u[i]) taps[j][i]` with weights that are polynomials: `w_j(u) = sum of c[k][j] u^k`, summed by powers
/// (Farrow, IEEE ISCAS (1988) 2641). Only whole vectors of `out` are written: lengths are multiples of [`LANES`].
///
/// # Panics
/// When a tap or `u` is shorter than `out`.
pub(super) fn polynomial(c: &[[f32; TAPS]; DEGREE + 1], u: &[f32], taps: [&[f32]; TAPS], out: &mut [f32]) {
    Arch::new().dispatch(Polynomial { c, u, taps, out });
}

struct Polynomial<'a> {
    c: &'a [[f32; TAPS]; DEGREE + 1],
    u: &'a [f32],
    taps: [&'a [f32]; TAPS],
    out: &'a mut [f32],
}

impl WithSimd for Polynomial<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { c, u, taps, out } = self;
        let n = out.len();
        let wide = S::as_mut_simd_f32s(out).0;
        let u = &S::as_simd_f32s(&u[..n]).0[..wide.len()];
        let heads = taps.map(|tap| &S::as_simd_f32s(&tap[..n]).0[..wide.len()]);
        for (i, out) in wide.iter_mut().enumerate() {
            let tap: [S::f32s; TAPS] = std::array::from_fn(|j| heads[j][i]);
            let mut sum = simd.splat_f32s(0.0);
            for row in c.iter().rev() {
                let mut part = simd.mul_f32s(simd.splat_f32s(row[0]), tap[0]);
                for j in 1..TAPS {
                    part = simd.mul_add_e_f32s(simd.splat_f32s(row[j]), tap[j], part);
                }
                sum = simd.mul_add_e_f32s(sum, u[i], part);
            }
            *out = sum;
        }
    }
}
