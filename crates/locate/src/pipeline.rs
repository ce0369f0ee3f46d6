//! The whole chain from take to suspects.

use joulemark_frames::{Progress, Take, Timeline, Unit};
use nalgebra::{DMatrix, Point2};
use ndarray::Array2;

use crate::{
    HotSpot, LocateError, Located, Maps, Noise, Reach, Repaired, Scene, Settings,
    cause::{Causes, Verdict},
    clean::{self, LevelCourse, Texture},
    film::{Film, Kept},
    ledger::{self, LedgerInput},
    maps::{self, PixelNoise, Plane, Projection, RiseEstimator},
    model::{Drive, ResponseModel},
    peaks::{self, Peak, Regions},
    power::{self, Power},
    region,
    repair::{
        self, Frames, Steady,
        motion::{self, Motion, MotionOutcome},
        pauses,
    },
    spot::{self, Measured},
    suspect::{self, Context},
    timing, words,
};

/// Fewest frames before and during injection: less leaves no background and no curve.
const LEAST_BEFORE: usize = 5;
const LEAST_DURING: usize = 8;
/// Smallest picture side.
const LEAST_SIDE_PX: usize = 16;
/// A hot spot's fitted rise exceeds its standard error, which holds the recording's drift as well: the search has already
/// judged the spot, this only drops what the fit contradicts.
const LEAST_RISE_ERRORS: f64 = 1.0;
/// The injection must explain a spot's curve better than any other cause by this much of Schwarz's criterion: 6 is
/// "strong" on the usual scale (Kass & Raftery, J. Am. Stat. Assoc. 90 (1995) 773).
const LEAST_MARGIN: f64 = 6.0;
/// And chi-square per value must stay below this; the model's own errors are allowed for in it.
const MOST_MISFIT: f64 = 2.5;
/// Places that something else moved show how strong such things get in this recording: a weaker place that happens to look
/// like the injection is not believed below this share of them. (What is rejected after a true spot was found is that spot's own
/// field on the board's texture, and no decoy.)
const DECOY_SHARE: f64 = 0.35;
/// A log is shifted when that improves the criterion of the strongest spot by more than this.
const LEAST_SHIFT_GAIN: f64 = 20.0;
/// And by at least this many frame intervals: marks are true to a frame anyway.
const LEAST_SHIFT_FRAMES: f64 = 0.9;
/// And by how many frame intervals it may lag or lead.
const MOST_SHIFT_FRAMES: i32 = 3;

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
    let attempt =
        Attempt { jumps: &jumps, take, film, scene, settings, progress, frames, prepared: &prepared, always_seen };
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

/// What was found in the frames before anything is computed.
#[derive(Default)]
struct Prepared {
    motion: Option<Motion>,
    /// Frames that cannot be used.
    left_out: Vec<usize>,
    /// Frames of the take from which the picture has another offset.
    jumps: Vec<usize>,
    repairs: Vec<Repaired>,
    warnings: Vec<String>,
    /// The picture moved too far for anything to be said.
    hopeless: bool,
}

/// Looks for movement and shutter pauses.
fn prepare(take: &Take, settings: &Settings, progress: &dyn Progress) -> Result<Prepared, LocateError> {
    let mut prepared = Prepared::default();
    if settings.repairs.motion {
        step(progress, "looking for movement", 0)?;
        let outcome = motion::find(&take.stack, &take.timeline, progress)?;
        prepared.repairs.extend(outcome.repaired());
        prepared.warnings.extend(outcome.warning());
        match outcome {
            MotionOutcome::Repaired(motion) => {
                prepared.left_out.extend(&motion.lost);
                prepared.motion = Some(motion);
            }
            MotionOutcome::TooMuch { .. } => prepared.hopeless = true,
            MotionOutcome::Still { .. } | MotionOutcome::TooWeak { .. } => {}
        }
    }
    prepared.warnings.extend(repair::dropped(&take.timeline).map(|d| d.warning()));
    prepared.warnings.extend(repair::clipped(&take.stack).warning());
    if settings.repairs.pauses {
        let found = pauses::find(&take.stack, &take.timeline);
        prepared.repairs.extend(found.repaired());
        prepared.left_out.extend(&found.repeated);
        prepared.jumps = found.jumps;
    }
    Ok(prepared)
}

thread_local! { pub(crate) static DEBUG: std::cell::RefCell<Vec<(f64,f64,String)>> = const { std::cell::RefCell::new(Vec::new()) }; }
#[doc(hidden)]
#[allow(missing_docs)]
pub fn take_debug() -> Vec<(f64, f64, String)> {
    DEBUG.take()
}

/// One run of the chain with a given shift of the log.
struct Attempt<'a> {
    take: &'a Take,
    film: Film<'a>,
    scene: &'a Scene<'a>,
    settings: &'a Settings,
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

/// Coefficient maps, cleaned, in units of the pixel noise.
struct Cleaned {
    /// What the search works on: without what follows the emissivity texture.
    searched: Vec<Plane>,
    /// What is measured: the texture is in it.
    measured: Vec<Plane>,
    before_slope: Plane,
    nulls: Vec<Vec<Plane>>,
    before: Plane,
    level: Option<LevelCourse>,
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
        let projection = maps::project(film.frames, &basis, frames_before, progress)?;
        if !settings.mask_not_a_number {
            refuse_not_a_number(film.frames, &projection)?;
        }
        let noise = maps::judge(&projection.variance, shape.frames).ok_or(LocateError::Constant)?;
        let joined = scene.board.joined_rails(scene.rail);
        let mut regions = region::regions(scene, &joined, shape.width_px, shape.height_px);
        if let Some(seen) = &self.always_seen {
            regions.board.iter_mut().zip(seen).for_each(|(board, seen)| *board &= seen);
        }
        step(progress, "cleaning the maps", 0)?;
        let cleaned = self.clean(projection, &basis, &model, &noise, &regions, &mut repairs);
        step(progress, "searching for hot spots", 0)?;
        let peaks = peaks::find(&model, &cleaned.searched, &cleaned.nulls, &regions);
        step(progress, "measuring hot spots", 0)?;

        let flowing = power::current_flows(take);
        if !flowing {
            warnings.push(
                "the log shows no current while injecting, so no rise is blamed on it: check the leads and the output"
                    .into(),
            );
        }
        let power = Power::read(take, scene, &mut warnings);
        let claim = flowing && !prepared.hopeless;
        let mut real: Vec<&Peak> = peaks.iter().filter(|p| claim && p.q_value <= settings.false_alarm).collect();
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
        step(progress, "finding where heat starts", 0)?;
        let solution = ledger::solve(&LedgerInput {
            model: &model,
            estimator: Some(&estimator),
            coefficients: &cleaned.measured,
            noise: &noise,
            rise: Some(&rise.rise),
            scene,
            joined: &joined,
            hot_spots: &hot_spots,
            unit: take.unit,
            electrical: power,
        });
        let context = Context { scene, joined: &joined, unit: take.unit, injected_from_s: model.drive.onset_s() };
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
        let interval_s = model.drive.interval_s();
        let log_shift_s = judged
            .filter(|v| settings.repairs.log_lag && shift_s == 0.0 && v.shift_gain > LEAST_SHIFT_GAIN)
            .map(|v| v.shift_s)
            .filter(|s| s.abs() >= LEAST_SHIFT_FRAMES * interval_s);
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

    /// The injection as logged, or as the recording itself or the user knows better.
    fn drive(&self, shift_s: f64, repairs: &mut Vec<Repaired>) -> Drive {
        let timeline = self.film.timeline;
        let mut drive = Drive::from_timeline(timeline, shift_s);
        if let Some(period_s) = self.settings.period_s.filter(|p| p.is_finite() && *p > 0.0) {
            drive = drive.with_period(period_s);
        }
        let rough = drive.logged_by_hand() || self.settings.period_s.is_some();
        if let Some(pulses) = drive.pulses().filter(|_| rough && self.settings.repairs.log_lag)
            && let Some(better) = timing::refined(self.film.frames, timeline, pulses)
        {
            let moved_s = better.from_s - pulses.from_s;
            let start =
                if moved_s == 0.0 { String::new() } else { format!(", and their start moved by {moved_s:.2} s") };
            repairs.push(Repaired {
                what: "log_lag",
                did: format!(
                    "the period of the pulses was refined from {:.3} s to {:.3} s by the recording{start}",
                    pulses.period_s, better.period_s
                ),
            });
            drive = drive.with_pulses(better);
        }
        drive
    }

    /// Undoes what can be undone on coefficient maps.
    fn clean(
        &self,
        projection: Projection,
        basis: &DMatrix<f64>,
        model: &ResponseModel,
        noise: &PixelNoise,
        regions: &Regions,
        repairs: &mut Vec<Repaired>,
    ) -> Cleaned {
        let on = self.settings.repairs;
        let unit = words::unit(self.take.unit);
        let width = self.film.frames.shape().width_px;
        let vectors = model.vectors.ncols();
        let bad = noise.unusable.iter().filter(|b| **b).count();
        if on.pixels && bad > 0 {
            repairs.push(Repaired {
                what: "pixels",
                did: format!("{bad} stuck or far too noisy pixels were replaced by their neighbours"),
            });
        }
        let none = vec![false; noise.unusable.len()];
        let unusable = if on.pixels { &noise.unusable } else { &none };
        let level = if on.level {
            LevelCourse::read(self.film.frames, &projection.before, &regions.board, &noise.unusable)
        } else {
            None
        };
        if let Some(level) = level.as_ref().filter(|l| l.size() > f64::from(noise.typical) / 2.0) {
            repairs.push(Repaired {
                what: "level",
                did: format!(
                    "drift of the whole picture by {:.2} {unit} (rms), seen beside the board, was taken off",
                    level.size()
                ),
            });
        }
        let offsets = level.as_ref().map(|l| l.coefficients(basis));
        let mut before = projection.before;
        maps::mend(&mut before, unusable, width);
        let before = Plane::new(width, before);
        let mut planes: Vec<Plane> = projection
            .coefficients
            .into_iter()
            .enumerate()
            .map(|(k, mut values)| {
                if let Some(offset) = offsets.as_ref().map(|o| o[k] as f32).filter(|o| *o != 0.0) {
                    values.iter_mut().for_each(|v| *v -= offset);
                }
                maps::mend(&mut values, unusable, width);
                Plane::new(width, values)
            })
            .collect();
        if on.stripes
            && let Some(size) = clean::take_off_stripes(&mut planes, vectors, noise.typical)
        {
            repairs.push(Repaired {
                what: "stripes",
                did: format!(
                    "columns and rows that drift on their own (up to about {size:.2} {unit} in the maps) were levelled"
                ),
            });
        }
        if on.motion
            && let Some(shift_px) = clean::take_off_sway(&mut planes, vectors, &before, noise.typical)
        {
            repairs.push(Repaired {
                what: "motion",
                did: format!(
                    "sway of the picture below a pixel ({shift_px:.2} px in the maps) was taken off by its own texture"
                ),
            });
        }
        for plane in &mut planes {
            for (value, sigma) in plane.values.iter_mut().zip(&noise.sigma) {
                *value /= sigma;
            }
        }
        let measured = planes[..vectors].to_vec();
        if on.reflection {
            let middle = Point2::new(width as f64 / 2.0, before.height as f64 / 2.0);
            let mm_per_px = self.scene.alignment.mm_per_px(middle);
            if let Some(texture) = Texture::new(&before, &regions.board, mm_per_px) {
                texture.take_off(&mut planes[..vectors]);
            }
        }
        let nulls = planes.split_off(vectors + 1).chunks(vectors).map(<[Plane]>::to_vec).collect();
        let before_slope = planes.split_off(vectors).remove(0);
        Cleaned { searched: planes, measured, before_slope, nulls, before, level }
    }

    /// Drops spots that their own curve or the power at the board contradicts.
    fn drop_implausible(&self, hot_spots: &mut Vec<HotSpot>, power: Power, warnings: &mut Vec<String>) {
        // The fit of its own curve must show the rise that the search scored.
        hot_spots.retain(|spot| spot.rise.end > LEAST_RISE_ERRORS * spot.rise.end_se);
        let most_k = match self.take.unit {
            Unit::Kelvin if self.settings.repairs.power_bound => power.most_rise_k(),
            _ => f64::INFINITY,
        };
        hot_spots.retain(|spot| {
            let place = format!("a place at column {:.0}, row {:.0}", spot.centre_px.x, spot.centre_px.y);
            if spot.pulse.is_some_and(|p| !can_lag(p.lag_deg, p.lag_se_deg)) {
                warnings.push(format!("{place} follows the pulse rate with a lag that heat cannot have: left out"));
                return false;
            }
            if spot.rise.end - 2.0 * spot.rise.end_se > most_k {
                warnings.push(format!(
                    "{place} warms by {:.2} K, more than the power at the board can do ({most_k:.2} K): left out; look for a \
                     hand, a reflection or another source of heat",
                    spot.rise.end
                ));
                return false;
            }
            true
        });
    }

    /// Keeps the peaks that the injection explains best; returns the verdict on the strongest one kept.
    fn judge_causes(
        &self,
        model: &ResponseModel,
        peaks: &mut Vec<&Peak>,
        warnings: &mut Vec<String>,
    ) -> Option<Verdict> {
        if model.drive.pulses().is_some() || peaks.is_empty() {
            return None;
        }
        let interval_s = model.drive.interval_s();
        let shifts: Vec<f64> = if self.settings.repairs.log_lag {
            (-2 * MOST_SHIFT_FRAMES..=2 * MOST_SHIFT_FRAMES).map(|half| f64::from(half) / 2.0 * interval_s).collect()
        } else {
            vec![0.0]
        };
        let causes = Causes::new(model, &shifts);
        let mut strongest = None;
        let mut strongest_decoy = 0.0_f64;
        let mut kept = Vec::new();
        for &peak in peaks.iter().take(spot::MOST_LOOKED_AT) {
            let (curve, sigma) = spot::contrast(self.film.frames, peak);
            let verdict = causes.judge(&curve, sigma);
            DEBUG.with_borrow_mut(|d| {
                d.push((
                    peak.at_px.x,
                    peak.at_px.y,
                    format!(
                        "peak {:.0},{:.0} s{:.1} z {:.1} q {:.1e} m {:.1} {:?} sh {:.2} sg {:.0} mis {:.2}",
                        peak.at_px.x,
                        peak.at_px.y,
                        peak.scale_px,
                        peak.z,
                        peak.q_value,
                        verdict.margin,
                        verdict.other,
                        verdict.shift_s,
                        verdict.shift_gain,
                        verdict.misfit
                    ),
                ))
            });
            let injected = verdict.margin >= LEAST_MARGIN && verdict.misfit <= MOST_MISFIT;
            if !self.settings.repairs.other_causes || injected && peak.z >= DECOY_SHARE * strongest_decoy {
                strongest = strongest.or(Some(verdict));
                kept.push(peak);
                continue;
            }
            if kept.is_empty() && !injected {
                strongest_decoy = strongest_decoy.max(peak.z);
            }
            if kept.is_empty() && warnings.len() < 20 {
                warnings.push(format!(
                    "a place at column {:.0}, row {:.0} changes, but {}: left out",
                    peak.at_px.x,
                    peak.at_px.y,
                    verdict.other.words()
                ));
            }
        }
        *peaks = kept;
        strongest
    }
}

/// Heat lags its power by 0 to about 100 degrees at the pulse rate: 45 for the surface of a thick body, 90 for a body that is
/// slow against the pulses, a little more beside the source (Carslaw & Jaeger, sec. 2.6 and 10.4). A frame's own exposure and the
/// log's rounding are allowed for by the margin.
fn can_lag(lag_deg: f64, se_deg: f64) -> bool {
    let margin_deg = 25.0 + 3.0 * se_deg;
    (-margin_deg..=100.0 + margin_deg).contains(&lag_deg)
}

/// What to do about a rail that leaks rather than shorts, by the supply's own readings.
fn leakage(take: &Take, scene: &Scene<'_>) -> Option<String> {
    let (watts, amps) = (take.timeline.mean_watts()?, take.timeline.mean_amps()?);
    let ohms = watts.abs() / (amps * amps) - scene.lead_ohms.unwrap_or(0.0);
    ledger::leakage_advice(scene.board.rail(scene.rail)?.nominal_volts, ohms)
}

fn step(progress: &dyn Progress, stage: &str, done: usize) -> Result<(), LocateError> {
    if progress.cancelled() {
        return Err(LocateError::Cancelled);
    }
    progress.report(stage, done, 1);
    Ok(())
}

/// Checks board, rail, face and frame counts; returns the frames before and during injection.
fn check(take: &Take, scene: &Scene<'_>) -> Result<(), LocateError> {
    scene.board.check()?;
    if scene.board.rail(scene.rail).is_none() {
        let known: Vec<&str> = scene.board.rails.iter().map(|r| r.name.as_str()).collect();
        return Err(LocateError::NoSuchRail { rail: scene.rail.to_owned(), known: known.join(", ") });
    }
    if scene.board.face(scene.face).is_none() {
        let known: Vec<&str> = scene.board.faces.iter().map(|f| f.name.as_str()).collect();
        return Err(LocateError::NoSuchFace { face: scene.face.to_owned(), known: known.join(", ") });
    }
    let shape = take.stack.shape();
    if shape.width_px < LEAST_SIDE_PX || shape.height_px < LEAST_SIDE_PX {
        return Err(LocateError::TooSmall { width_px: shape.width_px, height_px: shape.height_px });
    }
    counted(&take.timeline)?;
    Ok(())
}

/// Frames before and during injection.
fn counted(timeline: &Timeline) -> Result<(usize, usize), LocateError> {
    let before = timeline.first_injected().unwrap_or(timeline.len());
    let during = timeline.injecting.iter().filter(|&&on| on).count();
    if before < LEAST_BEFORE || during < LEAST_DURING {
        return Err(LocateError::TooFewFrames { before, during, need_before: LEAST_BEFORE, need_during: LEAST_DURING });
    }
    Ok((before, during))
}

fn refuse_not_a_number(frames: &dyn Frames, projection: &Projection) -> Result<(), LocateError> {
    let Some(pixel) = projection.variance.iter().position(|v| !v.is_finite()) else { return Ok(()) };
    let shape = frames.shape();
    let mut value = [0.0];
    let frame = (0..shape.frames)
        .find(|&t| {
            frames.copy_run(t, pixel..pixel + 1, &mut value);
            !value[0].is_finite()
        })
        .unwrap_or(0);
    Err(LocateError::NotANumber { frame, x_px: pixel % shape.width_px, y_px: pixel / shape.width_px })
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
