//! Draws the pictures of `docs/method.md` from simulated practice cases, each through the whole chain.
//!
//! `cargo run --release -p joulemark-locate --example method_pictures -- docs/pictures`

mod chart;

use std::{error::Error, fs, path::Path};

use chart::Chart;
use image::{GrayImage, Luma, imageops};
use joulemark_frames::{NoProgress, Take};
use joulemark_locate::{
    Located, Scene, Settings,
    align::Alignment,
    locate,
    simulate::scenario::{self, PracticeCase},
};
use ndarray::Array2;

const POWER: &str = "#fbe3c0";
const MEASURED: &str = "#7a7a7a";
const FITTED: &str = "#b03000";
const WATTS: &str = "#4a78a8";
const TRUTH: &str = "#c8d8e8";

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "docs/pictures".into());
    let folder = Path::new(&folder);
    fs::create_dir_all(folder)?;
    let faint = located("faint")?;
    three_maps(&faint, &folder.join("three-maps.png"))?;
    fs::write(folder.join("curve.svg"), curve(&located("ceramic-capacitor")?)?)?;
    fs::write(folder.join("pulses.svg"), curve(&located("pulses")?)?)?;
    fs::write(folder.join("watts.svg"), watts(&located("ceramic-capacitor")?)?)?;
    Ok(())
}

struct Answered {
    case: PracticeCase,
    located: Located,
}

fn located(name: &str) -> Result<Answered, Box<dyn Error>> {
    let mut case = scenario::build(name, 1).ok_or("unknown scenario")?;
    // Where the case says that pulses are needed, the second take has them.
    if let Some(again) = case.again.take() {
        case.simulated = again;
    }
    let alignment = Alignment::fit(&case.simulated.pairs)?;
    let scene = Scene {
        board: &case.board,
        face: &case.face,
        rail: &case.rail,
        alignment: &alignment,
        lead_ohms: Some(case.lead_ohms),
        injection_mm: None,
    };
    let located = locate(&case.simulated.take, &scene, &Settings::default(), &NoProgress)?;
    let first = located.answers.first().and_then(|a| a.suspects.first());
    println!(
        "{name}: {} spots, first suspect {} ({:.3}), truth {}",
        located.hot_spots.len(),
        first.map_or("-", |s| &s.part),
        first.map_or(0.0, |s| s.probability),
        case.simulated.truth.part.as_deref().unwrap_or("-")
    );
    Ok(Answered { case, located })
}

/// Last frame less the mean before, rise and score side by side; black to white from the 1 % to the 99.9 % quantile of each.
fn three_maps(answered: &Answered, path: &Path) -> Result<(), Box<dyn Error>> {
    let take = &answered.case.simulated.take;
    let last = take.timeline.injecting.iter().rposition(|on| *on).ok_or("nothing is injected")?;
    let maps = &answered.located.maps;
    let difference = take.stack.frame(last) - &maps.before;
    let pictures = [&difference, &maps.rise, &maps.z].map(grey);
    let (width, height) = pictures[0].dimensions();
    let gap = 6;
    let mut sheet = GrayImage::from_pixel(3 * width + 2 * gap, height, Luma([255]));
    for (i, picture) in (0..).zip(&pictures) {
        imageops::replace(&mut sheet, picture, i64::from(i * (width + gap)), 0);
    }
    imageops::resize(&sheet, 2 * sheet.width(), 2 * sheet.height(), imageops::FilterType::Nearest).save(path)?;
    Ok(())
}

fn grey(map: &Array2<f32>) -> GrayImage {
    let mut sorted: Vec<f32> = map.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f32::total_cmp);
    let at = |share: f64| sorted.get((share * (sorted.len() - 1) as f64) as usize).copied().unwrap_or(0.0);
    let (dark, bright) = (at(0.01), at(0.999));
    let (height, width) = map.dim();
    GrayImage::from_fn(width as u32, height as u32, |x, y| {
        let share = (map[[y as usize, x as usize]] - dark) / (bright - dark).max(f32::MIN_POSITIVE);
        Luma([(share.clamp(0.0, 1.0) * 255.0) as u8])
    })
}

/// The strongest spot over time, the power behind it.
fn curve(answered: &Answered) -> Result<String, Box<dyn Error>> {
    let spot = answered.located.hot_spots.first().ok_or("no hot spot")?;
    let curve = &spot.curve;
    let values = || curve.measured.iter().chain(&curve.fitted).copied();
    let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
    let room = 0.08 * (high - low);
    let (first, last) = (curve.time_s.first().copied().unwrap_or(0.0), curve.time_s.last().copied().unwrap_or(1.0));
    let title = match spot.pulse {
        Some(pulse) => format!(
            "pulses of {:.2} s: amplitude {:.3} ± {:.3} K, lag {:.0}° ± {:.0}°",
            pulse.period_s, pulse.amplitude, pulse.amplitude_se, pulse.lag_deg, pulse.lag_se_deg
        ),
        None => format!("rise at the end of injection: {:.2} ± {:.2} K", spot.rise.end, spot.rise.end_se),
    };
    let mut chart = Chart::new(&title, ("time, s", [first, last]), ("at the spot, K", [low - room, high + room]));
    for (from, to) in injected(&answered.case.simulated.take) {
        chart.band(from, to, POWER);
    }
    chart.dots(curve.time_s.iter().copied().zip(curve.measured.iter().copied()), MEASURED);
    chart.line(curve.time_s.iter().copied().zip(curve.fitted.iter().copied()), FITTED);
    Ok(chart.svg())
}

/// From when to when current is injected.
fn injected(take: &Take) -> Vec<(f64, f64)> {
    let (time_s, on) = (&take.timeline.time_s, &take.timeline.injecting);
    let mut runs: Vec<(f64, f64)> = Vec::new();
    for (i, _) in on.iter().enumerate().filter(|(_, on)| **on) {
        let end = time_s.get(i + 1).or(time_s.last()).copied().unwrap_or(0.0);
        match runs.last_mut() {
            Some(run) if run.1 >= time_s[i] => run.1 = end,
            _ => runs.push((time_s[i], end)),
        }
    }
    runs
}

/// Watts per part, with the true ones of the faulty part behind.
fn watts(answered: &Answered) -> Result<String, Box<dyn Error>> {
    let ledger = answered.located.ledger.as_ref().ok_or("no ledger")?;
    let truth = &answered.case.simulated.truth;
    let board = answered.located.electrical_watts;
    let most = ledger.entries.iter().map(|e| e.watts + e.watts_se).chain(board).fold(truth.watts, f64::max);
    let columns = ledger.entries.len() + 1;
    let title = format!(
        "watts per part with standard errors; true watts of {} behind{}",
        truth.part.as_deref().unwrap_or("-"),
        board.map_or_else(String::new, |w| format!("; at the board by the supply {w:.3} W"))
    );
    let mut chart = Chart::new(&title, ("", [0.4, columns as f64 + 0.6]), ("watts", [0.0, 1.08 * most]));
    for (i, entry) in ledger.entries.iter().enumerate() {
        let middle = i as f64 + 1.0;
        if Some(&entry.part) == truth.part.as_ref() {
            chart.bar(middle - 0.12, truth.watts, 0.0, "", TRUTH);
        }
        chart.bar(middle, entry.watts, entry.watts_se, &entry.part, WATTS);
    }
    chart.bar(columns as f64, ledger.elsewhere_watts, 0.0, "on no part", WATTS);
    Ok(chart.svg())
}
