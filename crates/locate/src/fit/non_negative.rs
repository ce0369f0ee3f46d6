//! Least squares with unknowns that cannot be negative, from the normal equations.
//!
//! Lawson & Hanson, Solving Least Squares Problems (1974), chapter 23, in the form of Bro & de Jong, J. Chemometrics 11
//! (1997) 393, which needs the normal equations alone: these stay small while the data grow, and blocks of data can be left
//! out by subtraction. The crate `nnls` wants the tall matrix, and panics where rounding makes a step infeasible.

use nalgebra::{DMatrix, DVector};

/// A gradient below this share of what a column could explain counts as zero.
const TOLERANCE: f64 = 1e-10;
/// Added to the unit diagonal, so that equal columns do not break the factorisation.
const RIDGE: f64 = 1e-12;

/// Minimises `x' G x / 2 - c' x` over `x >= 0`, which is `|A x - b|^2` for `G = A' A` (`gram`, n x n, symmetric, not
/// negative) and `c = A' b` (`moment`, n). A constant taken off entries of `c` is a penalty on the entries of `x`.
///
/// Columns without length get zero.
///
/// # Panics
/// When the sizes do not match.
pub fn non_negative(gram: &DMatrix<f64>, moment: &DVector<f64>) -> DVector<f64> {
    let n = moment.len();
    assert_eq!(gram.shape(), (n, n), "normal equations of one size");
    // Columns of unit length make one tolerance fit all.
    let length = gram.diagonal().map(|v| v.max(0.0).sqrt());
    let scale = |i: usize| if length[i] > 0.0 { 1.0 / length[i] } else { 0.0 };
    let g = DMatrix::from_fn(n, n, |i, j| gram[(i, j)] * scale(i) * scale(j));
    let c = DVector::from_fn(n, |i, _| moment[i] * scale(i));
    let tolerance = TOLERANCE * c.amax().max(f64::MIN_POSITIVE);
    let mut x: DVector<f64> = DVector::zeros(n);
    let mut passive: Vec<usize> = Vec::new();
    // A column that just left with a step of zero must not come straight back.
    let mut barred = vec![false; n];
    for _ in 0..3 * n + 10 {
        let gradient = &c - &g * &x;
        let best = (0..n)
            .filter(|i| !passive.contains(i) && !barred[*i] && gradient[*i] > tolerance)
            .max_by(|&a, &b| gradient[a].total_cmp(&gradient[b]));
        let Some(entering) = best else { break };
        passive.push(entering);
        let before = x.clone();
        while let Some(wanted) = solve_passive(&g, &c, &passive) {
            if wanted.iter().all(|v| *v > 0.0) {
                x.fill(0.0);
                for (&i, v) in passive.iter().zip(wanted.iter()) {
                    x[i] = *v;
                }
                break;
            }
            // As far as possible towards the wanted solution; what reaches zero leaves.
            let step = passive
                .iter()
                .zip(wanted.iter())
                .filter(|(_, v)| **v <= 0.0)
                .map(|(&i, v)| x[i] / (x[i] - v).max(f64::MIN_POSITIVE))
                .fold(1.0, f64::min);
            for (&i, v) in passive.iter().zip(wanted.iter()) {
                x[i] += step * (v - x[i]);
            }
            let leaving: Vec<usize> = passive
                .iter()
                .zip(wanted.iter())
                .filter(|(i, v)| **v <= 0.0 && x[**i] <= 1e-14 * x.amax())
                .map(|(i, _)| *i)
                .collect();
            if leaving.is_empty() {
                break;
            }
            for i in &leaving {
                x[*i] = 0.0;
            }
            passive.retain(|i| !leaving.contains(i));
        }
        barred[entering] = x == before;
        if !barred[entering] {
            barred.fill(false);
        }
    }
    DVector::from_fn(n, |i, _| x[i] * scale(i))
}

/// The unconstrained solution over the passive columns.
fn solve_passive(g: &DMatrix<f64>, c: &DVector<f64>, passive: &[usize]) -> Option<DVector<f64>> {
    let n = passive.len();
    if n == 0 {
        return None;
    }
    let small = DMatrix::from_fn(n, n, |i, j| g[(passive[i], passive[j])] + if i == j { RIDGE } else { 0.0 });
    let right = DVector::from_fn(n, |i, _| c[passive[i]]);
    small.cholesky().map(|factor| factor.solve(&right))
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

    use super::*;

    fn normal_equations(a: &DMatrix<f64>, b: &DVector<f64>) -> (DMatrix<f64>, DVector<f64>) {
        (a.tr_mul(a), a.tr_mul(b))
    }

    /// Lawson & Hanson's conditions (theorem 23.4 there, due to Kuhn and Tucker) hold at the solution and nowhere else:
    /// x >= 0, gradient <= 0 where x is 0, and = 0 where x is above 0. To 1e-8 of the moments: rounding of the normal equations.
    #[test]
    fn random_problems_meet_the_kuhn_tucker_conditions() {
        let mut random = ChaCha8Rng::seed_from_u64(7);
        for (rows, columns) in [(20, 5), (40, 25), (12, 20)] {
            let a = DMatrix::from_fn(rows, columns, |_, _| random.random_range(-0.3..1.0));
            let b = DVector::from_fn(rows, |_, _| random.random_range(-1.0..1.0));
            let (g, c) = normal_equations(&a, &b);
            let x = non_negative(&g, &c);
            let gradient = &c - &g * &x;
            for i in 0..columns {
                assert!(x[i] >= 0.0);
                assert!(gradient[i] <= 1e-8 * c.amax(), "{rows} x {columns}: gradient {}", gradient[i]);
                if x[i] > 0.0 {
                    assert!(gradient[i].abs() <= 1e-8 * c.amax());
                }
            }
            assert!(x.iter().any(|v| *v == 0.0) && x.iter().any(|v| *v > 0.0), "both kinds occur");
        }
    }

    #[test]
    fn a_solution_without_negative_entries_is_that_of_plain_least_squares() {
        let a = DMatrix::from_row_slice(3, 2, &[1.0, 0.5, 0.0, 1.0, 1.0, 1.0]);
        let truth = DVector::from_column_slice(&[2.0, 3.0]);
        let (g, c) = normal_equations(&a, &(&a * &truth));
        // Rounding of a well-conditioned 2 x 2 system, and the ridge of 1e-12.
        assert!((non_negative(&g, &c) - truth).norm() < 1e-9);
    }

    #[test]
    fn equal_and_empty_columns_do_no_harm() {
        let a = DMatrix::from_row_slice(2, 3, &[1.0, 1.0, 0.0, 2.0, 2.0, 0.0]);
        let (g, c) = normal_equations(&a, &DVector::from_column_slice(&[1.0, 2.0]));
        let x = non_negative(&g, &c);
        assert!((x[0] + x[1] - 1.0).abs() < 1e-6 && x[2] == 0.0, "{x}");
    }
}
