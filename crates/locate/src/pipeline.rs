//! The whole chain from take to suspects.

mod check;
mod clean;
mod drive;
mod judge;
mod prepare;

use joulemark_frames::{Progress, Take, Unit};
use nalgebra::Point2;
use ndarray::Array2;

use crate::{
    HotSpot, LocateError, Located, Maps, Noise, Reach, Repaired, Scene, Settings,
    film::{Film, Kept},
    ledger::{self, LedgerInput},
    maps::{self, Plane, RiseEstimator},
    model::{Drive, ResponseModel},
    peaks::{self, Peak},
    power::{self, Power},
    region,
    repair::{self, Frames, Steady},
    spot::Measured,
    suspect::{self, Context, EarlierCases},
};
use check::{check, counted, refuse_not_a_number};
use judge::{asked_shift_s, drop_without_source, leakage};
use prepare::{Prepared, prepare};

/// Steps must be this much rarer by chance than pulses. A recording of pulses shows its own null between their harmonics; that of
/// a step holds only what happened before the onset, not the reflection that comes afterwards. Real steps lie far below either
/// (on simulated boards of 0.1 to 0.5 K below 1e-20), so that it costs nothing there.
const STEP_SHARE: f64 = 0.1;

/// Finds hot spots and suspects in a take.
///
/// # Errors
/// See [`LocateError`]. Finding nothing is an answer.
pub fn locate(
    take: &Take,
    scene: &Scene<'_>,
    settings: &Settings,
    progress: &dyn Progress,
) -> Result<Located, LocateError> {
    locate_knowing(take, scene, settings, &EarlierCases::default(), progress)
}

/// The same, where it is known what was found in earlier cases of the same board model and rail: it moves the priors, and is
/// given as a reason. Without any cases the answer is that of [`locate`].
///
/// # Errors
/// See [`LocateError`].
pub fn locate_knowing(
    take: &Take,
    scene: &Scene<'_>,
    settings: &Settings,
    earlier: &EarlierCases,
    progress: &dyn Progress,
) -> Result<Located, LocateError> {
    check(take, scene)?;
    let prepared = prepare(take, settings, progress)?;
    let steady = prepared.motion.as_ref().map(|motion| Steady::new(&take.stack, motion));
    let whole: &dyn Frames = steady.as_ref().map_or(&take.stack as &dyn Frames, |s| s);
    let kept = Kept::new(whole, &prepared.left_out);
    let timeline = kept.timeline(&take.timeline);
    let film = Film { frames: &kept, timeline: &timeline };
    let frames = counted(&timeline)?;
    let always_seen = steady.as_ref().map(|s| s.always_seen(&prepared.left_out));
    let jumps: Vec<usize> = prepared.jumps.iter().map(|&j| kept.place_of(j)).filter(|&j| j > 0).collect();
    let attempt = Attempt {
        jumps: &jumps,
        take,
        film,
        scene,
        settings,
        earlier,
        progress,
        frames,
        prepared: &prepared,
        always_seen,
    };
    let first = attempt.run(0.0)?;
    match first.log_shift_s {
        Some(shift_s) => {
            let mut second = attempt.run(shift_s)?.located;
            let interval_s = Drive::from_timeline(&take.timeline, 0.0).interval_s();
            second.repairs.push(Repaired {
                what: "log_lag",
                did: format!(
                    "the picture starts to warm {:.1} frames ({:.2} s) {} than the log says; the log was shifted",
                    shift_s.abs() / interval_s,
                    shift_s.abs(),
                    if shift_s > 0.0 { "later" } else { "earlier" }
                ),
            });
            Ok(second)
        }
        None => Ok(first.located),
    }
}

/// One run of the chain with a given shift of the log.
struct Attempt<'a> {
    take: &'a Take,
    film: Film<'a>,
    scene: &'a Scene<'a>,
    settings: &'a Settings,
    earlier: &'a EarlierCases,
    progress: &'a dyn Progress,
    /// Frames before and during injection.
    frames: (usize, usize),
    prepared: &'a Prepared,
    /// Frames of the film from which the picture has another offset.
    jumps: &'a [usize],
    /// Pixels that stay inside the picture although it moves.
    always_seen: Option<Vec<bool>>,
}

struct Outcome {
    located: Located,
    /// The shift of the log that the strongest spot asks for.
    log_shift_s: Option<f64>,
}

impl Attempt<'_> {
    fn run(&self, shift_s: f64) -> Result<Outcome, LocateError> {
        let Self { take, film, scene, settings, progress, prepared, .. } = *self;
        let (frames_before, frames_during) = self.frames;
        let shape = film.frames.shape();
        step(progress, "building the model", 0)?;
        let mut repairs = prepared.repairs.clone();
        let mut warnings: Vec<String> = take.notes.iter().map(ToString::to_string).collect();
        warnings.extend(prepared.warnings.iter().cloned());
        let model = ResponseModel::new(self.drive(shift_s, &mut repairs), self.jumps);
        let basis = model.basis();
        let mut projection = maps::project(film.frames, &maps::Readout::of(&model), frames_before, progress)?;
        if !settings.mask_not_a_number {
            refuse_not_a_number(film.frames, &projection)?;
        }
        let vectors = model.vectors.ncols();
        maps::without_signal(&mut projection, vectors, &model.vectors);
        let mut noise = maps::judge(&projection.variance, shape.frames).ok_or(LocateError::Constant)?;
        if settings.repairs.pixels {
            for p in repair::pixels::flickering(film.frames, noise.typical) {
                noise.unusable[p] = true;
            }
        }
        let joined = scene.board.joined_rails(scene.rail);
        let mut regions = region::regions(scene, &joined, shape.width_px, shape.height_px);
        if let Some(seen) = &self.always_seen {
            regions.board.iter_mut().zip(seen).for_each(|(board, seen)| *board &= seen);
        }
        step(progress, "cleaning the maps", 0)?;
        let cleaned = self.clean(projection, &basis, &model, &noise, &regions, &mut repairs);
        step(progress, "searching for hot spots", 0)?;
        let peaks = peaks::find(&model, &cleaned.searched, &cleaned.nulls, &regions, settings.repairs.drift);
        step(progress, "measuring hot spots", 0)?;

        let flowing = power::current_flows(take);
        if !flowing {
            warnings.push(
                "the log shows no current while injecting, so no rise is blamed on it: check the leads and the output"
                    .into(),
            );
        }
        let power = Power::read(take, scene, &mut warnings);
        let pulsed = model.drive.pulses().is_some();
        let most_chance = if pulsed { 1.0 } else { STEP_SHARE } * settings.false_alarm;
        let mut real: Vec<&Peak> = peaks.iter().filter(|p| flowing && p.q_value <= most_chance).collect();
        let estimator = RiseEstimator::new(&model, &cleaned.measured, &cleaned.before_slope, &regions.board);
        let judged = self.judge_causes(&model, &mut real, &mut warnings);
        let measured = Measured {
            film,
            scene,
            model: &model,
            coefficients: &cleaned.measured,
            noise: &noise,
            estimator: &estimator,
            level: cleaned.level.as_ref(),
        };
        let rise = maps::rise_maps(&model, &estimator, &cleaned.measured, &noise, &regions.board);
        let mut hot_spots = measured.spots(&real, &rise.rise, &regions.board, settings.most_spots);
        self.drop_implausible(&mut hot_spots, power, &mut warnings);
        if prepared.hopeless {
            let texture = contrast(&cleaned.before, &regions.board);
            hot_spots.retain(|spot| spot.rise.end > texture);
        }
        step(progress, "finding where heat starts", 0)?;
        let solve = |hot_spots: &[HotSpot]| {
            ledger::solve(&LedgerInput {
                model: &model,
                estimator: Some(&estimator),
                coefficients: &cleaned.measured,
                noise: &noise,
                rise: Some(&rise.rise),
                scene,
                joined: &joined,
                hot_spots,
                unit: take.unit,
                electrical: power,
            })
        };
        let mut solution = solve(&hot_spots);
        let clear_gain = settings.repairs.other_causes.then(|| judge::clear_gain(pulsed));
        while drop_without_source(&mut hot_spots, solution.as_ref(), clear_gain, &mut warnings) {
            solution = solve(&hot_spots);
        }
        let context = Context {
            scene,
            joined: &joined,
            unit: take.unit,
            injected_from_s: model.drive.onset_s(),
            calibration: settings.calibration,
            earlier: self.earlier,
        };
        let answers = suspect::answers(&hot_spots, &context, solution.as_ref());
        let reach = judge_reach(scene, &hot_spots, shape.width_px, shape.height_px);
        warnings.extend(reach.advice.clone());
        if take.unit == Unit::Relative {
            warnings.push(
                "relative take: plain pictures carry no temperature, so rises have no kelvin and no watts follow"
                    .into(),
            );
        }
        warnings.extend(leakage(take, scene));
        let ledger = solution.and_then(|s| s.ledger);
        warnings.extend(ledger.iter().flat_map(|l| l.hints.iter().cloned()));
        step(progress, "done", 1)?;
        let log_shift_s =
            judged.filter(|_| settings.repairs.log_lag && shift_s == 0.0).and_then(|v| asked_shift_s(&v, &model));
        Ok(Outcome {
            log_shift_s,
            located: Located {
                take: take.name.clone(),
                unit: take.unit,
                face: scene.face.to_owned(),
                maps: Maps {
                    before: array(cleaned.before),
                    rise: array(rise.rise),
                    rise_se: array(rise.rise_se),
                    z: array(rise.z),
                    tau_s: array(rise.tau_s),
                },
                noise: Noise { netd: noise.typical.into(), frames_before, frames_during },
                nothing_probability: answers.first().map_or(1.0, |a| a.nothing_probability),
                hot_spots,
                answers,
                reach,
                electrical_watts: power.known(),
                ledger,
                repairs,
                warnings,
            },
        })
    }
}

fn step(progress: &dyn Progress, stage: &str, done: usize) -> Result<(), LocateError> {
    if progress.cancelled() {
        return Err(LocateError::Cancelled);
    }
    progress.report(stage, done, 1);
    Ok(())
}

/// What a movement of the picture can make out of its texture at most: the spread of the board before injection, without
/// the outermost two per cent.
fn contrast(before: &Plane, board: &[bool]) -> f64 {
    let mut values: Vec<f32> = before.values.iter().zip(board).filter(|(_, b)| **b).map(|(v, _)| *v).collect();
    values.sort_by(f32::total_cmp);
    let at = |share: f64| values.get((share * values.len() as f64) as usize).copied().unwrap_or(0.0);
    f64::from(at(0.99) - at(0.01))
}

fn judge_reach(scene: &Scene<'_>, hot_spots: &[HotSpot], width: usize, height: usize) -> Reach {
    match hot_spots.first() {
        Some(spot) => {
            let sigma_mm = (spot.covariance_mm2.trace() / 2.0).max(0.0).sqrt();
            suspect::reach(scene, spot.centre_px, sigma_mm)
        }
        None => suspect::reach(scene, Point2::new(width as f64 / 2.0, height as f64 / 2.0), 0.0),
    }
}

fn array(plane: Plane) -> Array2<f32> {
    let (height, width) = (plane.height, plane.width);
    Array2::from_shape_vec((height, width), plane.values).unwrap_or_else(|_| Array2::zeros((height, width)))
}

#[cfg(test)]
mod tests;
