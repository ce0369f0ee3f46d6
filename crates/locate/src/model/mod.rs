//! One linear model per pixel: background terms and injection fitted together, never a before-mean subtracted first
//! (that would correlate the noise).
//!
//! `y(t) = [level, t, t^2] b + a h(t) + e`, where `h` is the logged injection filtered by the body's response. The level
//! is free. Trends are not: leaving them free would cost three quarters of the sensitivity to a rise of some seconds,
//! and most recordings drift little. They are random effects instead, whose size the recording itself tells (generalised
//! least squares; see [`Spread`](crate::covariance)). All candidate responses ([`bank`]) are compressed by a singular
//! value decomposition to a few vectors next to the trends, so a recording is read once into a handful of coefficient
//! maps and everything after works on maps. Beside these vectors the model carries [`null`] vectors: what the same search
//! would see in this recording if nothing warmed.

mod bank;
mod drive;
mod null;
mod periodic;
mod subspace;

use nalgebra::{DMatrix, DVector};

pub use bank::{Member, Response};
pub use drive::{Drive, Pulses};
pub use null::{Flips, Mix};
pub use periodic::{Train, waves};

use subspace::{normalised, orthonormal_columns, project_off};

/// Largest number of compressed response vectors: five carry more than 99.9 % of a step bank's energy.
const MOST_VECTORS: usize = 6;
/// Share of the bank's energy that the compressed vectors must carry.
const ENERGY_KEPT: f64 = 0.999;
/// Straight and bent trends of a step recording.
const TRENDS: usize = 2;
/// Draws of the recording's own null. Each gives two signs.
const NULL_DRAWS: usize = 6;

/// The compressed model of a take's time axis.
#[derive(Clone, Debug)]
pub struct ResponseModel {
    /// The injected power over time, 1 on average while injecting.
    pub drive: Drive,
    /// Background terms as given to fits, frames x terms, a constant first. Steps: level, t, t^2, scaled to -1..1 over
    /// the take, then a step per jump. Pulses: everything slower than the pulses.
    pub background: DMatrix<f64>,
    /// Candidate responses, with their coordinates in the compressed space.
    pub members: Vec<Member>,
    /// How many of the vectors, from the first, are nuisances of random size: trends and jumps. None for pulses.
    pub nuisances: usize,
    /// Of these, the trends.
    pub trends: usize,
    /// Orthonormal vectors, orthogonal to a constant: the nuisances, then the compressed responses off them. Frames x m.
    pub vectors: DMatrix<f64>,
    /// Unit vector along time over the frames before injection, zero after: what drifts there cannot be heat. Frames.
    pub before_slope: DVector<f64>,
    /// Variance of a straight trend's coefficient over the take per unit variance of `before_slope`'s.
    pub slope_ratio: f64,
    /// Per draw, orthonormal vectors orthogonal to background and signal; frames x m each.
    pub nulls: Vec<DMatrix<f64>>,
    /// How these come about from flipped signs; `None` for pulses.
    pub flips: Option<Flips>,
    /// The frames that pulses fill; `None` for steps.
    pub train: Option<Train>,
}

impl ResponseModel {
    /// Builds the model for a drive with injection in it. `jumps` are the frames from which the whole picture has another
    /// offset.
    pub fn new(drive: Drive, jumps: &[usize]) -> Self {
        match drive.pulses() {
            Some(pulses) => Self::pulsed(drive, pulses, jumps),
            None => Self::stepped(drive, jumps),
        }
    }

    fn stepped(drive: Drive, jumps: &[usize]) -> Self {
        let background = background_terms(&drive.time_s, jumps);
        let basis = orthonormal_columns(&background);
        let level = basis.columns(0, 1).into_owned();
        let nuisances = basis.ncols() - 1;
        let responses = bank::responses(&drive);
        let compressed = compress(&off(&basis, responses.iter().map(|(_, h)| h)), None);
        let columns: Vec<_> =
            basis.columns(1, nuisances).column_iter().chain(compressed.column_iter()).map(|c| c.into_owned()).collect();
        let vectors = DMatrix::from_columns(&columns);
        let end_of = |h: &DVector<f64>| drive.last_injected().map_or(0.0, |i| h[i]);
        let members = members(responses, &level, &vectors, end_of);
        let (nulls, flips) = null::vectors(&level, &vectors, NULL_DRAWS);
        let (before_slope, slope_ratio) = before_slope(&drive);
        let trends = TRENDS;
        Self {
            drive,
            background,
            members,
            nuisances,
            trends,
            vectors,
            before_slope,
            slope_ratio,
            nulls,
            flips: Some(flips),
            train: None,
        }
    }

    fn pulsed(drive: Drive, pulses: Pulses, jumps: &[usize]) -> Self {
        let background = periodic::background(&drive, &pulses, jumps);
        let train = Train::new(&drive, &pulses, jumps);
        let carrier = waves(&drive.time_s[train.rows.clone()], &pulses, 1);
        let carrier = off_each(&train.background, &carrier);
        let amplitude =
            |h: &DVector<f64>| periodic::amplitude(&h.rows_range(train.rows.clone()).into_owned(), &carrier);
        let responses = bank::responses(&drive);
        let vectors = compress(&off(&background, responses.iter().map(|(_, h)| h)), None);
        let members = members(responses, &background, &vectors, amplitude);
        let nulls = periodic::pretended(&drive, &pulses)
            .map(|pretended| {
                let columns = off(&background, periodic::responses(&pretended).iter());
                null::beside(&background, &vectors, &compress(&columns, Some(vectors.ncols()))).0
            })
            .collect();
        let before_slope = DVector::zeros(drive.time_s.len());
        Self {
            drive,
            background,
            members,
            nuisances: 0,
            trends: 0,
            vectors,
            before_slope,
            slope_ratio: 0.0,
            nulls,
            flips: None,
            train: Some(train),
        }
    }

    /// How far a trend of unit coefficient lies, at the last injected frame, above its mean before injection.
    pub fn trend_at_end(&self, trend: usize) -> f64 {
        let (Some(first), Some(last)) = (self.drive.first_injected(), self.drive.last_injected()) else { return 0.0 };
        let column = self.vectors.column(trend);
        column[last] - column.rows(0, first).mean()
    }

    /// The first-order time constant of a candidate, or that of the first-order candidate most like it.
    pub fn time_constant_s(&self, response: Response) -> f64 {
        let own = self.members.iter().find(|m| m.response == response).map(|m| &m.coordinates);
        match (response, own) {
            (Response::FirstOrder { tau_s }, _) => tau_s,
            (Response::Plate { reach_s }, None) => reach_s,
            (Response::Plate { .. }, Some(own)) => self
                .members
                .iter()
                .filter_map(|m| match m.response {
                    Response::FirstOrder { tau_s } => Some((tau_s, m.coordinates.dot(own))),
                    Response::Plate { .. } => None,
                })
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map_or(f64::NAN, |(tau_s, _)| tau_s),
        }
    }

    /// All vectors side by side: the model's, the slope before injection, then each draw's. Frames x vectors.
    pub fn basis(&self) -> DMatrix<f64> {
        let owned = |m: &DMatrix<f64>| m.column_iter().map(|c| c.into_owned()).collect::<Vec<_>>();
        let mut columns = owned(&self.vectors);
        columns.push(self.before_slope.clone());
        columns.extend(self.nulls.iter().flat_map(owned));
        DMatrix::from_columns(&columns)
    }
}

/// Background of a pulsed drive, see [`periodic`]; a constant alone without pulses. Frames x k.
pub fn pulse_background(drive: &Drive) -> DMatrix<f64> {
    match drive.pulses() {
        Some(pulses) => periodic::background(drive, &pulses, &[]),
        None => orthonormal_columns(&DMatrix::from_element(drive.time_s.len(), 1, 1.0)),
    }
}

/// The candidates with their coordinates, each at unit length off `fixed`.
fn members(
    responses: Vec<(Response, DVector<f64>)>,
    fixed: &DMatrix<f64>,
    vectors: &DMatrix<f64>,
    end: impl Fn(&DVector<f64>) -> f64,
) -> Vec<Member> {
    responses
        .into_iter()
        .map(|(response, h)| {
            let (unit, norm) = normalised(project_off(fixed, &h));
            Member { response, coordinates: vectors.tr_mul(&unit), norm, end: end(&h) }
        })
        .collect()
}

/// Responses at unit length off a basis, as columns.
fn off<'a>(basis: &DMatrix<f64>, responses: impl Iterator<Item = &'a DVector<f64>>) -> DMatrix<f64> {
    DMatrix::from_columns(&responses.map(|h| normalised(project_off(basis, h)).0).collect::<Vec<_>>())
}

/// Columns off a basis, their lengths kept.
fn off_each(basis: &DMatrix<f64>, columns: &DMatrix<f64>) -> DMatrix<f64> {
    DMatrix::from_columns(&columns.column_iter().map(|c| project_off(basis, &c.into_owned())).collect::<Vec<_>>())
}

/// Level, t and t^2 over -1..1, so that the columns are of equal size, and a step for each jump.
fn background_terms(time_s: &[f64], jumps: &[usize]) -> DMatrix<f64> {
    let (first, last) = (time_s[0], time_s[time_s.len() - 1]);
    let half = ((last - first) / 2.0).max(f64::MIN_POSITIVE);
    let middle = f64::midpoint(first, last);
    DMatrix::from_fn(time_s.len(), 1 + TRENDS + jumps.len(), |i, j| match j.checked_sub(1 + TRENDS) {
        None => ((time_s[i] - middle) / half).powi(j as i32),
        Some(jump) => f64::from(u8::from(i >= jumps[jump])),
    })
}

/// See [`ResponseModel::before_slope`] and [`ResponseModel::slope_ratio`].
fn before_slope(drive: &Drive) -> (DVector<f64>, f64) {
    let frames = drive.time_s.len();
    let centred = |count: usize| {
        let mean = drive.time_s[..count].iter().sum::<f64>() / count.max(1) as f64;
        DVector::from_fn(frames, |i, _| if i < count { drive.time_s[i] - mean } else { 0.0 })
    };
    let (all, before) = (centred(frames), centred(drive.first_injected().unwrap_or(0)));
    let (unit, norm) = normalised(before);
    (unit, if norm > 0.0 { all.norm_squared() / (norm * norm) } else { 0.0 })
}

/// The leading left singular vectors: as many as carry [`ENERGY_KEPT`], or `count` of them.
fn compress(unit_columns: &DMatrix<f64>, count: Option<usize>) -> DMatrix<f64> {
    // The Gram matrix is small (bank x bank) while the columns are long; its eigenvectors give the same left vectors.
    let gram = unit_columns.tr_mul(unit_columns);
    let eigen = gram.symmetric_eigen();
    let mut order: Vec<usize> = (0..eigen.eigenvalues.len()).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let total: f64 = eigen.eigenvalues.iter().map(|v| v.max(0.0)).sum();
    let mut columns: Vec<DVector<f64>> = Vec::new();
    let mut kept = 0.0;
    for &j in order.iter().take(count.unwrap_or(MOST_VECTORS)) {
        if count.is_none() && (kept >= ENERGY_KEPT * total || eigen.eigenvalues[j] <= 1e-9 * total) {
            break;
        }
        kept += eigen.eigenvalues[j];
        columns.push(unit_columns * eigen.eigenvectors.column(j));
    }
    orthonormal_columns(&DMatrix::from_columns(&columns))
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;

    use super::*;

    fn model() -> ResponseModel {
        let mut timeline = Timeline::steady(180, 9.0);
        timeline.inject_from(45);
        ResponseModel::new(Drive::from_timeline(&timeline, 0.0), &[])
    }

    #[test]
    fn few_vectors_carry_every_response() {
        let model = model();
        assert!(model.vectors.ncols() <= TRENDS + MOST_VECTORS);
        for member in &model.members {
            // A unit response keeps at least 97 % of its length in the compressed space: the loss of sensitivity is
            // below 3 % for any candidate.
            assert!(member.coordinates.norm() > 0.97, "{:?}: {}", member.response, member.coordinates.norm());
        }
    }

    #[test]
    fn signal_and_null_vectors_are_orthonormal_and_apart() {
        let model = model();
        let unit = |m: &DMatrix<f64>| (m.tr_mul(m) - DMatrix::identity(m.ncols(), m.ncols())).norm();
        assert!(unit(&model.vectors) < 1e-9);
        assert!(model.background.column(0).tr_mul(&model.vectors).norm() < 1e-6);
        for null in &model.nulls {
            assert!(unit(null) < 1e-9);
            assert!(null.tr_mul(&model.vectors).norm() < 1e-9);
            assert!(model.background.tr_mul(null).norm() < 1e-6);
        }
    }
}
