//! The whole chain from take to suspects.

use joulemark_frames::{Progress, Take};
use nalgebra::Point2;
use ndarray::Array2;

use crate::{
    LocateError, Located, Maps, Noise, Reach, Scene, Settings,
    board::{Footprint, JoinedRail},
    maps::{self, PixelNoise, Plane, Projection, RiseEstimator},
    model::ResponseModel,
    peaks::{self, Peak, Regions},
    spot::Measured,
    suspect::{self, Context},
};

/// Fewest frames before and during injection: less leaves no background and no curve.
const LEAST_BEFORE: usize = 5;
const LEAST_DURING: usize = 8;
/// Smallest picture side.
const LEAST_SIDE_PX: usize = 16;
/// Below this nobody injected anything; bench supplies read a few milliamps with nothing attached.
const LEAST_AMPS: f64 = 0.5e-3;
/// A spot whose warming starts this much before the injection is not its work: frame intervals, and share of the
/// injection's length, whichever is longer. A fit on two time scales can be early by some frames.
const EARLY_INTERVALS: f64 = 3.0;
const EARLY_SHARE: f64 = 0.05;
/// A hot spot's fitted rise exceeds its standard error, which holds the recording's drift as well: the search has already
/// judged the spot, this only drops what the fit contradicts.
const LEAST_RISE_ERRORS: f64 = 1.0;
/// Footprints on the rail are searched with this margin for the alignment's error.
const RAIL_MARGIN_MM: f64 = 0.3;

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
    let (frames_before, frames_during) = check(take, scene)?;
    let shape = take.stack.shape();
    progress.report("building the model", 0, 1);
    let model = ResponseModel::new(&take.timeline);
    let projection = maps::project(&take.stack, &model.basis(), frames_before, progress)?;
    if !settings.mask_not_a_number {
        refuse_not_a_number(take, &projection)?;
    }
    let noise = maps::judge(&projection.variance, shape.frames).ok_or(LocateError::Constant)?;
    let vectors = model.vectors.ncols();
    let mut planes = scaled_planes(projection.coefficients, &noise, shape.width_px);
    let null_planes: Vec<Vec<Plane>> = planes.split_off(vectors + 1).chunks(vectors).map(<[Plane]>::to_vec).collect();
    let before_slope = planes.split_off(vectors).remove(0);
    let coefficients = planes;
    step(progress, "searching for hot spots", 0)?;
    let joined = scene.board.joined_rails(scene.rail);
    let regions = regions(scene, &joined, shape.width_px, shape.height_px);
    let peaks = peaks::find(&model, &coefficients, &null_planes, &regions);
    step(progress, "measuring hot spots", 0)?;

    let mut warnings: Vec<String> = take.notes.iter().map(ToString::to_string).collect();
    warn_of_pixels(&noise, &mut warnings);
    let flowing = take.timeline.mean_amps().is_none_or(|amps| amps.abs() >= LEAST_AMPS);
    if !flowing {
        warnings.push(
            "the log shows no current while injecting, so no rise is blamed on it: check the leads and the output"
                .into(),
        );
    }
    let estimator = RiseEstimator::new(&model, &coefficients, &before_slope, &regions.board);
    let measured =
        Measured { take, scene, model: &model, coefficients: &coefficients, noise: &noise, estimator: &estimator };
    let injected_from_s = take.timeline.first_injected().map_or(0.0, |i| take.timeline.time_s[i]);
    let real: Vec<&Peak> = peaks.iter().filter(|p| flowing && p.q_value <= settings.false_alarm).collect();
    let rise = maps::rise_maps(&model, &estimator, &coefficients, &noise, &regions.board);
    let mut hot_spots = measured.spots(&real, &rise.rise, &regions.board, settings.most_spots);
    // The fit of its own curve must show the rise that the search scored.
    hot_spots.retain(|spot| spot.rise.end > LEAST_RISE_ERRORS * spot.rise.end_se);
    hot_spots.retain(|spot| {
        let early_s = injected_from_s - spot.rise.onset_s;
        let allowed_s = (EARLY_INTERVALS * model.drive.interval_s()).max(EARLY_SHARE * model.drive.duration_s());
        let early = spot.rise.converged && early_s > allowed_s + 3.0 * spot.rise.onset_se_s;
        if early {
            warnings.push(format!(
                "a place at column {:.0}, row {:.0} warms from {early_s:.1} s before the injection and was left out: \
                 keep hands and warm tools away before filming",
                spot.centre_px.x, spot.centre_px.y
            ));
        }
        !early
    });
    let context = Context { scene, joined: &joined, unit: take.unit, injected_from_s };
    let answers: Vec<_> = hot_spots
        .iter()
        .map(|spot| suspect::answer(spot, &context, scene.alignment.mm_per_px(spot.centre_px)))
        .collect();
    let reach = judge_reach(scene, &hot_spots, shape.width_px, shape.height_px);
    warnings.extend(reach.advice.clone());
    if take.unit == joulemark_frames::Unit::Relative {
        warnings.push(
            "relative take: plain pictures carry no temperature, so rises have no kelvin and no watts follow".into(),
        );
    }
    let electrical_watts = watts_at_board(take, scene, &mut warnings);
    step(progress, "done", 1)?;
    Ok(Located {
        take: take.name.clone(),
        unit: take.unit,
        face: scene.face.to_owned(),
        maps: Maps {
            before: array(Plane::new(shape.width_px, projection.before)),
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
        electrical_watts,
        ledger: None,
        repairs: Vec::new(),
        warnings,
    })
}

fn step(progress: &dyn Progress, stage: &str, done: usize) -> Result<(), LocateError> {
    if progress.cancelled() {
        return Err(LocateError::Cancelled);
    }
    progress.report(stage, done, 1);
    Ok(())
}

/// Checks board, rail, face and frame counts; returns the frames before and during injection.
fn check(take: &Take, scene: &Scene<'_>) -> Result<(usize, usize), LocateError> {
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
    let before = take.timeline.first_injected().unwrap_or(take.timeline.len());
    let during = take.timeline.injecting.iter().filter(|&&on| on).count();
    if before < LEAST_BEFORE || during < LEAST_DURING {
        return Err(LocateError::TooFewFrames { before, during, need_before: LEAST_BEFORE, need_during: LEAST_DURING });
    }
    Ok((before, during))
}

fn refuse_not_a_number(take: &Take, projection: &Projection) -> Result<(), LocateError> {
    let Some(pixel) = projection.variance.iter().position(|v| !v.is_finite()) else { return Ok(()) };
    let shape = take.stack.shape();
    let mut value = [0.0];
    let frame = (0..shape.frames)
        .find(|&t| {
            take.stack.copy_run(t, pixel..pixel + 1, &mut value);
            !value[0].is_finite()
        })
        .unwrap_or(0);
    Err(LocateError::NotANumber { frame, x_px: pixel % shape.width_px, y_px: pixel / shape.width_px })
}

/// Coefficient planes in units of the pixel noise, unusable pixels mended.
fn scaled_planes(coefficients: Vec<Vec<f32>>, noise: &PixelNoise, width: usize) -> Vec<Plane> {
    coefficients
        .into_iter()
        .map(|mut values| {
            for (value, sigma) in values.iter_mut().zip(&noise.sigma) {
                *value /= sigma;
            }
            maps::mend(&mut values, &noise.unusable, width);
            Plane::new(width, values)
        })
        .collect()
}

/// Pixels on the board, and on footprints that the current can reach.
fn regions(scene: &Scene<'_>, joined: &[JoinedRail], width: usize, height: usize) -> Regions {
    let Some(face) = scene.board.face(scene.face) else {
        return Regions { board: vec![true; width * height], rail: vec![false; width * height] };
    };
    let on_rail: Vec<Footprint> =
        face.parts.iter().filter(|p| joined.iter().any(|j| p.rails.contains(&j.rail))).map(Footprint::from).collect();
    let mut regions = Regions { board: Vec::with_capacity(width * height), rail: Vec::with_capacity(width * height) };
    for y in 0..height {
        for x in 0..width {
            let at_px = Point2::new(x as f64, y as f64);
            let at_mm = scene.alignment.to_board(at_px);
            let margin_mm = RAIL_MARGIN_MM + scene.alignment.mm_per_px(at_px) / 2.0;
            regions.board.push(face.outline_contains(at_mm));
            regions.rail.push(on_rail.iter().any(|f| f.distance_mm(at_mm) <= margin_mm));
        }
    }
    regions
}

fn warn_of_pixels(noise: &PixelNoise, warnings: &mut Vec<String>) {
    let bad = noise.unusable.iter().filter(|b| **b).count();
    if bad > 0 {
        warnings.push(format!("{bad} stuck or far too noisy pixels were replaced by their neighbours"));
    }
}

fn judge_reach(scene: &Scene<'_>, hot_spots: &[crate::HotSpot], width: usize, height: usize) -> Reach {
    match hot_spots.first() {
        Some(spot) => {
            let sigma_mm = (spot.covariance_mm2.trace() / 2.0).max(0.0).sqrt();
            suspect::reach(scene, spot.centre_px, sigma_mm)
        }
        None => suspect::reach(scene, Point2::new(width as f64 / 2.0, height as f64 / 2.0), 0.0),
    }
}

/// `V I - I^2 R_lead`, mean over the injected frames. Without the leads' resistance there is a bound and no number.
fn watts_at_board(take: &Take, scene: &Scene<'_>, warnings: &mut Vec<String>) -> Option<f64> {
    let watts = take.timeline.mean_watts()?;
    let amps = take.timeline.mean_amps()?;
    let Some(lead_ohms) = scene.lead_ohms else {
        warnings.push(format!(
            "lead resistance unknown: at most {watts:.2} W reach the board; measure the leads shorted and give their ohms"
        ));
        return None;
    };
    let at_board = watts - amps * amps * lead_ohms;
    if at_board < 0.0 {
        warnings.push(format!(
            "the leads alone would take {:.2} W of {watts:.2} W: their {lead_ohms} ohm cannot be right; measure them again",
            amps * amps * lead_ohms
        ));
        return None;
    }
    Some(at_board)
}

fn array(plane: Plane) -> Array2<f32> {
    let (height, width) = (plane.height, plane.width);
    Array2::from_shape_vec((height, width), plane.values).unwrap_or_else(|_| Array2::zeros((height, width)))
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack, Timeline, Unit};
    use ndarray::Array3;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;
    use crate::{
        align::{Alignment, PointPair},
        board::{Board, Face, Part, PartKind, Rail},
    };

    const SIZE: (usize, usize) = (60, 80);

    fn board() -> Board {
        let parts = (0..12)
            .map(|i| Part {
                designator: format!("C{}", i + 1),
                kind: PartKind::Capacitor,
                x_mm: 6.0 + 8.0 * f64::from(i % 4),
                y_mm: 5.0 + 8.0 * f64::from(i / 4),
                width_mm: 1.6,
                height_mm: 0.8,
                rails: vec![if i % 2 == 0 { "V12" } else { "V5" }.into()],
                ..Part::default()
            })
            .collect();
        Board {
            name: "test".into(),
            faces: vec![Face {
                name: "top".into(),
                outline: vec![[0.0, 0.0], [36.0, 0.0], [36.0, 27.0], [0.0, 27.0]],
                parts,
                through: None,
            }],
            rails: ["V12", "V5"].map(|n| Rail { name: n.into(), nominal_volts: None }).to_vec(),
        }
    }

    /// Half a millimetre per pixel, the board's corner at pixel (3, 2).
    fn alignment() -> Alignment {
        let pairs = [(3.0, 2.0), (75.0, 2.0), (75.0, 56.0), (3.0, 56.0)].map(|(x_px, y_px)| PointPair {
            x_px,
            y_px,
            x_mm: (x_px - 3.0) / 2.0,
            y_mm: (y_px - 2.0) / 2.0,
        });
        Alignment::fit(&pairs).unwrap()
    }

    fn take(rise_k: f64, at_mm: (f64, f64), seed: u64) -> Take {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, 0.05).unwrap();
        let (x0, y0) = (2.0 * at_mm.0 + 3.0, 2.0 * at_mm.1 + 2.0);
        let samples = Array3::from_shape_fn((180, SIZE.0, SIZE.1), |(t, y, x)| {
            let d2 = (x as f64 - x0).powi(2) + (y as f64 - y0).powi(2);
            let age_s = (t as f64 - 45.0).max(0.0) / 9.0;
            let kelvin = 300.0
                + rise_k * (-d2 / 8.0).exp() * (1.0 - (-age_s / 5.0).exp())
                + ((x * 7 + y * 3) % 5) as f64
                + noise.sample(&mut random);
            (kelvin * 100.0).round() as u16
        });
        let mut timeline = Timeline::steady(180, 9.0);
        timeline.inject_from(45);
        Take {
            name: "t".into(),
            stack: Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN),
            unit: Unit::Kelvin,
            timeline,
            notes: Vec::new(),
        }
    }

    fn run(take: &Take) -> Located {
        let (board, alignment) = (board(), alignment());
        let scene = Scene {
            board: &board,
            face: "top",
            rail: "V12",
            alignment: &alignment,
            lead_ohms: None,
            injection_mm: None,
        };
        locate(take, &scene, &Settings::default(), &NoProgress).unwrap()
    }

    #[test]
    fn a_warm_part_is_named() {
        // C7 sits at (22, 13).
        let located = run(&take(1.0, (22.0, 13.0), 1));
        assert_eq!(located.hot_spots.len(), 1);
        let spot = &located.hot_spots[0];
        assert!((spot.centre_mm - Point2::new(22.0, 13.0)).norm() < 0.15, "{:?}", spot.centre_mm);
        let first = &located.answers[0].suspects[0];
        assert_eq!(first.part, "C7");
        assert!(first.probability > 0.8, "{first:?}");
        // True rise at the centre at the last frame, 14.89 s after the onset: 1 K less 5 %.
        assert!((spot.rise.end - 0.949).abs() < 4.0 * spot.rise.end_se.max(0.02), "{:?}", spot.rise);
        let answer = &located.answers[0];
        let sum = answer.suspects.iter().map(|s| s.probability).sum::<f64>()
            + answer.off_drawing_probability
            + answer.nothing_probability;
        assert!((sum - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_spot_beside_all_parts_is_something_not_on_the_drawing() {
        let located = run(&take(1.0, (18.0, 9.0), 2));
        assert!(located.answers[0].off_drawing_probability > 0.8, "{:?}", located.answers[0]);
    }

    #[test]
    fn noise_alone_is_nothing() {
        for seed in 10..20 {
            let located = run(&take(0.0, (22.0, 13.0), seed));
            assert!(located.hot_spots.is_empty(), "seed {seed}");
            assert_eq!(located.nothing_probability, 1.0);
        }
    }

    #[test]
    fn a_faint_spot_is_found_far_below_the_noise_of_one_frame() {
        let found = (0..10)
            .filter(|&seed| {
                let located = run(&take(0.06, (22.0, 13.0), 100 + seed));
                located.answers.first().is_some_and(|a| a.suspects.first().is_some_and(|s| s.part == "C7"))
            })
            .count();
        assert!(found >= 8, "{found} of 10");
    }

    #[test]
    fn a_rail_that_is_not_on_the_board_is_refused() {
        let (board, alignment) = (board(), alignment());
        let scene = Scene {
            board: &board,
            face: "top",
            rail: "V9",
            alignment: &alignment,
            lead_ohms: None,
            injection_mm: None,
        };
        let error = locate(&take(0.0, (1.0, 1.0), 1), &scene, &Settings::default(), &NoProgress).unwrap_err();
        assert_eq!(error.to_string(), "rail 'V9' is not on the board; its rails are V12, V5");
    }
}
