//! The middles of the footprints that the current can reach: a few dozen tests instead of thousands of pixels.
//!
//! Where the parts are is known before the recording is looked at. A place that is tested for being there needs less to be
//! believed than the best of all places (Bonferroni over the tests that are made).

use nalgebra::Point2;
use statrs::function::erf::{erfc, erfc_inv};

use super::{
    Peak, Spread,
    null::MaximumLaw,
    scale_space::{self, LEVELS},
    search::Filtered,
};
use crate::{covariance, maps::Plane, model::Member};

/// A footprint in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartPlace {
    /// Its middle.
    pub centre_px: Point2<f64>,
    /// From its middle to a corner.
    pub reach_px: f64,
}

/// Scales that a part's heat is looked for at: the lens blurs a small part to that at least, and heat that spreads about it reaches
/// that far; larger parts by their own size.
const SCALES_PX: (f64, f64) = (1.5, 5.0);
/// The footprint that counts as large: its scale is this share of its reach.
const SCALE_SHARE: f64 = 0.7;
/// A part's heat tops within this many scales of the footprint.
const NEAR_SCALES: f64 = 1.5;
/// Tests per part at least: a few parts leave few maxima to count them by.
const LEAST_TESTS: f64 = 8.0;

/// Fewer decoys than this tell nothing.
const LEAST_DECOYS: usize = 8;
/// Where decoys and null are compared.
const DECOY_QUANTILES: [f64; 2] = [0.5, 0.8];

/// The largest scores at one part in one draw: octave, level, and the score of the draw and of its negative.
pub(super) type Draw = Vec<(usize, usize, [f64; 2])>;

/// Scales that suit a part.
fn scales<'a>(part: &'a PartPlace, filtered: &Filtered) -> impl Iterator<Item = (usize, usize)> + 'a {
    let most_px = SCALES_PX.1.max(1.5 * SCALE_SHARE * part.reach_px);
    filtered
        .scales()
        .into_iter()
        .filter(move |&(octave, level)| (SCALES_PX.0..=most_px).contains(&scale_space::scale_px(octave, level)))
}

/// The filtered coefficients right at the middle of a part, between the grid's pixels, with the noise of a pixel.
fn at_middle(filtered: &Filtered, part: &PartPlace, octave: usize, level: usize) -> Vec<f32> {
    let planes = filtered.planes(octave, level);
    let (width, height) = (planes[0].width, planes[0].height);
    let step = f64::from(1_u32 << octave);
    let axis = |v: f64, n: usize| {
        let at = (v / step).clamp(0.0, n as f64 - 1.0);
        let low = (at.floor() as usize).min(n.saturating_sub(2));
        (low, (low + 1).min(n - 1), at - low as f64)
    };
    let ((x0, x1, fx), (y0, y1, fy)) = (axis(part.centre_px.x, width), axis(part.centre_px.y, height));
    let (wx, wy) = ([1.0 - fx, fx], [1.0 - fy, fy]);
    // Means of neighbours are less noisy than pixels: by how alike white noise is in them after the filter, Gaussians of variances s^2
    // and 4 s^2 subtracted.
    let variance = (scale_space::scale_px(octave, level) / step).powi(2);
    let alike = |d2: f64| {
        let gaussian = |v: f64| (-0.5 * d2 / v).exp() / v;
        gaussian(2.0 * variance) - 2.0 * gaussian(5.0 * variance) + gaussian(8.0 * variance)
    };
    let sum_of = |dx: usize, dy: usize| {
        let pairs = |w: [f64; 2], d: usize| if d == 0 { w[0] * w[0] + w[1] * w[1] } else { 2.0 * w[0] * w[1] };
        pairs(wx, dx) * pairs(wy, dy) * alike((dx * dx + dy * dy) as f64) / alike(0.0)
    };
    let kept = (sum_of(0, 0) + sum_of(0, 1) + sum_of(1, 0) + sum_of(1, 1)).max(f64::MIN_POSITIVE).sqrt();
    let corners = [(x0, y0, wx[0] * wy[0]), (x1, y0, wx[1] * wy[0]), (x0, y1, wx[0] * wy[1]), (x1, y1, wx[1] * wy[1])];
    let value = |plane: &&Plane| corners.iter().map(|(x, y, w)| (w / kept) as f32 * plane.at(*x, *y)).sum();
    planes.iter().map(value).collect()
}

fn score(weights: &[f32], values: &[f32]) -> f64 {
    f64::from(weights.iter().zip(values).map(|(w, v)| w * v).sum::<f32>())
}

/// Scores of a draw at the parts, in units of the unfiltered noise.
pub(super) fn draw(parts: &[PartPlace], filtered: &Filtered, directions: &[Vec<f32>]) -> Vec<Draw> {
    let at_scale = |part: &PartPlace, (octave, level): (usize, usize)| {
        let values = at_middle(filtered, part, octave, level);
        let scores = directions.iter().map(|direction| score(direction, &values));
        let (least, most) = scores.fold((f64::MAX, f64::MIN), |(least, most), z| (least.min(z), most.max(z)));
        (octave, level, [most, -least])
    };
    parts.iter().map(|part| scales(part, filtered).map(|scale| at_scale(part, scale)).collect()).collect()
}

/// Gives peaks at parts the probability of a score as high at the middle of any part, where that is smaller. `decoys` are footprints
/// that the current cannot reach: what scores beyond the null there is no heat of the injection, and the parts are held to it.
/// `share` is what the budget of errors leaves for it, as a factor on the probability.
pub(super) fn judge(
    peaks: &mut [Peak],
    (parts, decoys): (&[PartPlace], &[PartPlace]),
    draws: &[Vec<Draw>],
    (filtered, spread, noise): (&Filtered, &Spread, &Spread),
    members: &[Member],
    share: f64,
) {
    if parts.is_empty() {
        return;
    }
    let null = maxima(draws, noise);
    let law = PartLaw::fit(&null, parts.len());
    let highest_of_all = MaximumLaw::fit(&over_parts(draws, noise), law.tests * law.parts);
    let own_scatter = scatter_by_part(draws, noise);
    let weights: Vec<[Vec<Vec<f32>>; LEVELS]> = spread
        .iter()
        .map(|levels| levels.each_ref().map(|c| covariance::score_weights(c, members.iter().map(|m| &m.coordinates))))
        .collect();
    let highest = |part: &PartPlace| {
        let at_scale = |(octave, level): (usize, usize)| {
            let values = at_middle(filtered, part, octave, level);
            weights[octave][level].iter().map(|w| score(w, &values)).fold(f64::MIN, f64::max)
        };
        scales(part, filtered).map(at_scale).fold(f64::MIN, f64::max)
    };
    let excess = excess(&decoys.iter().map(highest).collect::<Vec<_>>(), &null);
    for (part, scatter) in parts.iter().zip(own_scatter) {
        let z = highest(part) / excess.max(scatter);
        // The null's own tail where something passes over a few places, the Gaussian one where there is nothing but noise.
        let p_value = (share * law.p_value(z).max(highest_of_all.p_value(z))).min(1.0);
        let near = peaks.iter_mut().filter(|peak| {
            let (at_px, scale_px) = peak.strongest_px;
            (at_px - part.centre_px).norm() <= part.reach_px + NEAR_SCALES * scale_px
        });
        if let Some(peak) = near.max_by(|a, b| a.z.total_cmp(&b.z)) {
            peak.p_value = peak.p_value.min(p_value);
        }
    }
}

/// By what factor scores at decoys exceed those of the null, 1 at least. Neighbours of a fault warm with it, so the topmost are not
/// asked.
fn excess(decoys: &[f64], null: &[f64]) -> f64 {
    if decoys.len() < LEAST_DECOYS {
        return 1.0;
    }
    let ratio = |share: f64| quantile(decoys, share) / quantile(null, share).max(f64::MIN_POSITIVE);
    DECOY_QUANTILES.map(ratio).into_iter().fold(1.0, f64::max)
}

/// The value that is nearest to this place in order; 0 of none.
fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get((sorted.len().saturating_sub(1) as f64 * share).round() as usize).copied().unwrap_or(0.0)
}

/// The largest standardised score of a part in one draw, for the draw and for its negative.
fn standardised(part: &Draw, noise: &Spread) -> [f64; 2] {
    let scores =
        |sign: usize| part.iter().map(move |(octave, level, z)| z[sign] / noise[*octave][*level][(0, 0)].sqrt());
    [0, 1].map(|sign| scores(sign).fold(f64::MIN, f64::max))
}

/// The largest standardised score per part, draw and sign.
fn maxima(draws: &[Vec<Draw>], noise: &Spread) -> Vec<f64> {
    draws.iter().flatten().filter(|part| !part.is_empty()).flat_map(|part| standardised(part, noise)).collect()
}

/// The largest standardised score over all parts, per draw and sign.
fn over_parts(draws: &[Vec<Draw>], noise: &Spread) -> Vec<f64> {
    let of = |draw: &Vec<Draw>| {
        draw.iter().map(|part| standardised(part, noise)).fold([f64::MIN; 2], |a, b| [a[0].max(b[0]), a[1].max(b[1])])
    };
    draws.iter().flat_map(of).filter(|z| *z > f64::MIN).collect()
}

/// By what factor the null scores higher at each part than at most parts: something may move there.
fn scatter_by_part(draws: &[Vec<Draw>], noise: &Spread) -> Vec<f64> {
    let parts = draws.first().map_or(0, Vec::len);
    let of = |part: usize| {
        let scores: Vec<f64> = draws.iter().flat_map(|draw| standardised(&draw[part], noise)).collect();
        (scores.iter().map(|z| z * z).sum::<f64>() / scores.len().max(1) as f64).sqrt()
    };
    let scatter: Vec<f64> = (0..parts).map(of).collect();
    let usual = quantile(&scatter, 0.5).max(f64::MIN_POSITIVE);
    scatter.iter().map(|own| (own / usual).max(1.0)).collect()
}

/// Distribution of the largest score at the middle of any of some parts where nothing warms.
///
/// The scores are sums over pixels and frames, so Gaussian. How many independent tests the scales, pixels and candidates of a part
/// amount to is read off the null's median. Responses form a line of one dimension, and such a continuum of tests amounts to more the
/// higher the level, in proportion to it (expected Euler characteristic of a Gaussian field, first order: Worsley et al., Hum. Brain
/// Mapp. 4 (1996) 58). On white noise 3.1 % of looks fall below 0.05 and 0.28 % below 0.005 (the test below).
#[derive(Clone, Copy, Debug, PartialEq)]
struct PartLaw {
    median: f64,
    tests: f64,
    parts: f64,
}

impl PartLaw {
    fn fit(maxima: &[f64], parts: usize) -> Self {
        let median = quantile(maxima, 0.5);
        let found = -std::f64::consts::LN_2 / (-upper(median)).ln_1p();
        let tests = found.max(LEAST_TESTS);
        // That many tests have this median, no lower one.
        let tail = -(-std::f64::consts::LN_2 / tests).exp_m1();
        Self { median: median.max(std::f64::consts::SQRT_2 * erfc_inv(2.0 * tail)), tests, parts: parts as f64 }
    }

    fn p_value(&self, z: f64) -> f64 {
        let tests = self.parts * self.tests * (z / self.median).max(1.0);
        -(tests * (-upper(z)).ln_1p()).exp_m1()
    }
}

/// Probability that a standard Gaussian value exceeds `z`.
fn upper(z: f64) -> f64 {
    erfc(z / std::f64::consts::SQRT_2) / 2.0
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;
    use nalgebra::DMatrix;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;
    use crate::{
        model::{Drive, ResponseModel},
        peaks::{noise_spread_of, unit_directions},
    };

    const SIZE: (usize, usize) = (96, 72);
    const VECTORS: usize = 5;

    fn parts() -> Vec<PartPlace> {
        let at = |i: usize| Point2::new(14.3 + 13.7 * (i % 6) as f64, 13.1 + 15.2 * (i / 6) as f64);
        (0..24).map(|i| PartPlace { centre_px: at(i), reach_px: 1.0 + (i % 4) as f64 }).collect()
    }

    /// Of pulses of two seconds, filmed at 12 Hz.
    fn directions() -> Vec<Vec<f32>> {
        let mut timeline = Timeline::steady(280, 12.0);
        for (i, on) in timeline.injecting.iter_mut().enumerate().skip(60) {
            *on = i % 24 < 11;
        }
        let model = ResponseModel::new(Drive::from_timeline(&timeline, 0.0), &[]);
        assert!(model.drive.pulses().is_some() && model.vectors.ncols() == VECTORS);
        unit_directions(&model)
    }

    fn noise_planes(random: &mut ChaCha8Rng) -> Filtered {
        let plane = |random: &mut ChaCha8Rng| {
            Plane::new(SIZE.0, (0..SIZE.0 * SIZE.1).map(|_| StandardNormal.sample(random)).collect::<Vec<f32>>())
        };
        let planes: Vec<Plane> = (0..VECTORS).map(|_| plane(random)).collect();
        Filtered::new(&planes, scale_space::octaves(SIZE.0, SIZE.1))
    }

    #[test]
    fn decoys_raise_the_bar_only_when_most_of_them_score_high() {
        let null: Vec<f64> = (0..200).map(|i| 1.0 + f64::from(i) * 0.01).collect();
        let like_null: Vec<f64> = null.iter().step_by(10).copied().collect();
        assert!((excess(&like_null, &null) - 1.0).abs() < 0.05);
        let twice: Vec<f64> = like_null.iter().map(|z| 2.0 * z).collect();
        assert!((excess(&twice, &null) - 2.0).abs() < 0.1, "{}", excess(&twice, &null));
        // Neighbours of the fault warm with it: a tenth of the decoys tell nothing.
        let mut two_warm = like_null.clone();
        two_warm[18] = 50.0;
        two_warm[19] = 80.0;
        assert!(excess(&two_warm, &null) < 1.05);
        assert_eq!(excess(&twice[..LEAST_DECOYS - 1], &null), 1.0);
    }

    #[test]
    fn a_part_over_which_something_moves_is_known_by_its_own_null() {
        let noise: Spread = vec![[(); LEVELS].map(|()| DMatrix::identity(1, 1))];
        let part = |size: f64| vec![(0, 0, [size, size])];
        let draws = vec![vec![part(2.0), part(2.0), part(6.0), part(2.0), part(1.0)]; 6];
        assert_eq!(scatter_by_part(&draws, &noise), [1.0, 1.0, 3.0, 1.0, 1.0]);
        assert_eq!(over_parts(&draws, &noise), [6.0; 12]);
    }

    /// White noise judged by laws that six draws gave: about as many small probabilities as there should be, no more.
    #[test]
    fn probabilities_at_parts_are_honest() {
        let (parts, directions) = (parts(), directions());
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let (mut one_in_20, mut one_in_200) = (0, 0);
        let (laws, looks) = (12, 60);
        for _ in 0..laws {
            let null: Vec<Filtered> = (0..6).map(|_| noise_planes(&mut random)).collect();
            let draws: Vec<Vec<Draw>> = null.iter().map(|f| draw(&parts, f, &directions)).collect();
            let noise = noise_spread_of(&null);
            let law = PartLaw::fit(&maxima(&draws, &noise), parts.len());
            for _ in 0..looks {
                let look = [draw(&parts, &noise_planes(&mut random), &directions)];
                let scores = maxima(&look, &noise);
                // Both signs, which are two looks.
                for sign in 0..2 {
                    let z = scores.iter().skip(sign).step_by(2).copied().fold(f64::MIN, f64::max);
                    one_in_20 += usize::from(law.p_value(z) < 0.05);
                    one_in_200 += usize::from(law.p_value(z) < 0.005);
                }
            }
        }
        let count = f64::from(2 * laws * looks);
        let shares = (one_in_20 as f64 / count, one_in_200 as f64 / count);
        println!("{shares:?}");
        // Over 1440 looks 0.05 scatters by 0.006 and 0.005 by 0.002; three times that.
        assert!((0.02..0.05 + 0.018).contains(&shares.0) && shares.1 < 0.005 + 0.006, "{shares:?}");
    }
}
