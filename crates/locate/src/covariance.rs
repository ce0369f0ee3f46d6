//! How the coefficients of places where nothing special happens scatter over the board: the covariance that a place must
//! stand out of.
//!
//! With it a candidate response `c` is scored as `c' C^-1 u / sqrt(c' C^-1 c)` (adaptive matched filter: Robey et al.,
//! IEEE Trans. Aerosp. Electron. Syst. 28 (1992) 208). Drift, blotches and texture that are common in this picture widen
//! `C` along their own time courses and cost nothing along others.

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Share of a clean sample that trimming keeps: what lies outside is taken for something special.
const KEPT: f64 = 0.975;
/// Trimming rounds; the set of kept places is stable after three or four.
const ROUNDS: usize = 5;

/// Robust second moments about zero of coefficient vectors (rows of `sample` are vectors, columns are places), never
/// below `noise_variance` in any direction. Zero, not the mean: a drift of the whole picture is not a rise.
pub fn robust(sample: &DMatrix<f64>, noise_variance: f64) -> DMatrix<f64> {
    let size = sample.nrows();
    let mut covariance = DMatrix::from_diagonal(&DVector::from_fn(size, |i, _| {
        median_square(sample.row(i).iter().copied()).max(noise_variance)
    }));
    let limit = ChiSquared::new(size as f64).map_or(f64::INFINITY, |law| law.inverse_cdf(KEPT));
    // A trimmed Gaussian sample underestimates its covariance by this known factor (Croux & Haesbroeck, J. Multivar.
    // Anal. 71 (1999) 161).
    let factor = ChiSquared::new(size as f64 + 2.0).map_or(1.0, |law| KEPT / law.cdf(limit));
    for _ in 0..ROUNDS {
        let Some(inverse) = covariance.clone().cholesky().map(|c| c.inverse()) else { break };
        let mut sum = DMatrix::zeros(size, size);
        let mut count = 0.0;
        for place in sample.as_slice().chunks_exact(size) {
            if squared_distance(&inverse, place) <= limit {
                add_square(&mut sum, place);
                count += 1.0;
            }
        }
        // With most places special there is nothing to learn; the spread of the medians stands.
        if count < 4.0 * size as f64 {
            break;
        }
        covariance = floored(&(sum * (factor / count)), noise_variance);
    }
    covariance
}

/// `p' M p`, written out: this runs for every place and round, and a product of small matrices allocates.
fn squared_distance(m: &DMatrix<f64>, p: &[f64]) -> f64 {
    m.as_slice()
        .chunks_exact(p.len())
        .zip(p)
        .map(|(column, y)| y * column.iter().zip(p).map(|(a, x)| a * x).sum::<f64>())
        .sum()
}

/// Adds `p p'`.
fn add_square(m: &mut DMatrix<f64>, p: &[f64]) {
    for (column, y) in m.as_mut_slice().chunks_exact_mut(p.len()).zip(p) {
        for (sum, x) in column.iter_mut().zip(p) {
            *sum += x * y;
        }
    }
}

/// Weights that turn coefficients into a unit-variance score, per candidate: `C^-1 c / sqrt(c' C^-1 c)`.
pub fn score_weights<'a>(
    covariance: &DMatrix<f64>,
    candidates: impl Iterator<Item = &'a DVector<f64>>,
) -> Vec<Vec<f32>> {
    let factor = covariance.clone().cholesky();
    candidates
        .map(|c| {
            let w = factor.as_ref().map_or_else(|| c.clone(), |l| l.solve(c));
            let scale = 1.0 / c.dot(&w).sqrt().max(f64::MIN_POSITIVE);
            w.iter().map(|v| (v * scale) as f32).collect()
        })
        .collect()
}

/// Raises every eigenvalue to at least `least`.
fn floored(covariance: &DMatrix<f64>, least: f64) -> DMatrix<f64> {
    let eigen = covariance.clone().symmetric_eigen();
    let values = eigen.eigenvalues.map(|v| v.max(least));
    &eigen.eigenvectors * DMatrix::from_diagonal(&values) * eigen.eigenvectors.transpose()
}

/// Median of squares over that of a standard Gaussian, 0.4549.
fn median_square(values: impl Iterator<Item = f64>) -> f64 {
    let mut squares: Vec<f64> = values.map(|v| v * v).collect();
    if squares.is_empty() {
        return 0.0;
    }
    let middle = squares.len() / 2;
    *squares.select_nth_unstable_by(middle, f64::total_cmp).1 / 0.454_936
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    #[test]
    fn a_contaminated_sample_still_gives_the_covariance_of_the_rest() {
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let mut sample = DMatrix::from_fn(2, 4000, |_, _| -> f64 { StandardNormal.sample(&mut random) });
        for (i, mut place) in sample.column_iter_mut().enumerate() {
            // Correlated noise: variance 2 and 5, covariance 2.
            let (a, b) = (place[0], place[1]);
            place[0] = a + b;
            place[1] = 2.0 * b - a * 0.0 + a;
            if i % 20 == 0 {
                place[0] += 60.0;
            }
        }
        let covariance = robust(&sample, 1e-3);
        let wanted = DMatrix::from_row_slice(2, 2, &[2.0, 3.0, 3.0, 5.0]);
        // 4000 places give each entry to about 3 %.
        assert!((&covariance - &wanted).norm() / wanted.norm() < 0.1, "{covariance}");
    }

    #[test]
    fn quiet_samples_stop_at_the_noise() {
        let covariance = robust(&DMatrix::zeros(3, 100), 0.5);
        assert!((covariance - DMatrix::identity(3, 3) * 0.5).norm() < 1e-12);
    }
}
