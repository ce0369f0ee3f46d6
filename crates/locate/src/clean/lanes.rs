//! Sums over two rows that the compiler can turn into vector instructions.

/// Partial sums side by side: as many as keep wide vectors busy.
const LANES: usize = 16;

/// Sum of a function over pairs. The order of the additions is fixed, so the sum has the same last digit everywhere.
#[inline(always)]
pub(super) fn sum_in_lanes(a: &[f32], b: &[f32], f: impl Fn(f32, f32) -> f32) -> f32 {
    let mut lanes = [0.0_f32; LANES];
    let (a, b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest: f32 = a.remainder().iter().zip(b.remainder()).map(|(x, y)| f(*x, *y)).sum();
    for (a, b) in a.zip(b) {
        for ((lane, x), y) in lanes.iter_mut().zip(a).zip(b) {
            *lane += f(*x, *y);
        }
    }
    lanes.iter().sum::<f32>() + rest
}
