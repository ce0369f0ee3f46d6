//! Draws the pictures of `docs/method.md` from simulated practice cases, each through the whole chain.
//!
//! `cargo run --release -p joulemark-locate --example method_pictures -- docs/pictures`

use std::{error::Error, fs, path::Path};

use image::{GrayImage, Luma, imageops};
use joulemark_frames::{NoProgress, Take};
use joulemark_locate::{
    Located, Settings,
    align::Alignment,
    locate,
    simulate::scenario::{self, PracticeCase},
};
use ndarray::Array2;
use plotters::prelude::*;

/// Charts, in pixels.
const SIZE: (u32, u32) = (720, 320);
const FONT: (&str, u32) = ("sans-serif", 14);
const POWER: RGBColor = RGBColor(0xfb, 0xe3, 0xc0);
const MEASURED: RGBColor = RGBColor(0x7a, 0x7a, 0x7a);
const FITTED: RGBColor = RGBColor(0xb0, 0x30, 0x00);
const WATTS: RGBColor = RGBColor(0x4a, 0x78, 0xa8);
const TRUTH: RGBColor = RGBColor(0xc8, 0xd8, 0xe8);

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "docs/pictures".into());
    let folder = Path::new(&folder);
    fs::create_dir_all(folder)?;
    three_maps(&located("faint")?, &folder.join("three-maps.png"))?;
    let capacitor = located("ceramic-capacitor")?;
    curve(&capacitor, &folder.join("curve.svg"))?;
    watts(&capacitor, &folder.join("watts.svg"))?;
    curve(&located("pulses")?, &folder.join("pulses.svg"))?;
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
    let scene = case.scene(&alignment);
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
fn curve(answered: &Answered, path: &Path) -> Result<(), Box<dyn Error>> {
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
    let (bottom, top) = (low - room, high + room);
    let area = SVGBackend::new(path, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let mut chart = ChartBuilder::on(&area)
        .caption(title, FONT)
        .margin(8)
        .x_label_area_size(36)
        .y_label_area_size(56)
        .build_cartesian_2d(first..last, bottom..top)?;
    let bands = injected(&answered.case.simulated.take).into_iter();
    chart.draw_series(bands.map(|(from, to)| Rectangle::new([(from, bottom), (to, top)], POWER.filled())))?;
    chart.configure_mesh().x_desc("time, s").y_desc("at the spot, K").light_line_style(TRANSPARENT).draw()?;
    let over_time = |values: &[f64]| curve.time_s.iter().copied().zip(values.iter().copied()).collect::<Vec<_>>();
    chart.draw_series(over_time(&curve.measured).into_iter().map(|at| Circle::new(at, 2, MEASURED.filled())))?;
    chart.draw_series(LineSeries::new(over_time(&curve.fitted), FITTED.stroke_width(2)))?;
    area.present()?;
    Ok(())
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
fn watts(answered: &Answered, path: &Path) -> Result<(), Box<dyn Error>> {
    let ledger = answered.located.ledger.as_ref().ok_or("no ledger")?;
    let truth = &answered.case.simulated.truth;
    let board = answered.located.electrical_watts;
    let most = ledger.entries.iter().map(|e| e.watts + e.watts_se).chain(board).fold(truth.watts, f64::max);
    let title = format!(
        "watts per part with standard errors; true watts of {} behind{}",
        truth.part.as_deref().unwrap_or("-"),
        board.map_or_else(String::new, |w| format!("; at the board by the supply {w:.3} W"))
    );
    let mut bars: Vec<(&str, f64, f64)> =
        ledger.entries.iter().map(|e| (e.part.as_str(), e.watts, e.watts_se)).collect();
    bars.push(("on no part", ledger.elsewhere_watts, 0.0));
    let area = SVGBackend::new(path, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let mut chart = ChartBuilder::on(&area)
        .caption(title, FONT)
        .margin(8)
        .x_label_area_size(28)
        .y_label_area_size(56)
        .build_cartesian_2d((0..bars.len() - 1).into_segmented(), 0.0..1.08 * most)?;
    let name = |at: &SegmentValue<usize>| match at {
        SegmentValue::CenterOf(i) => bars.get(*i).map_or_else(String::new, |bar| bar.0.to_owned()),
        _ => String::new(),
    };
    chart
        .configure_mesh()
        .disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .y_desc("watts")
        .x_label_formatter(&name)
        .draw()?;
    for (i, (part, watts, se)) in bars.iter().enumerate() {
        let bar = |watts: f64, colour: RGBColor, room_px: u32| {
            let ends = [(SegmentValue::Exact(i), 0.0), (SegmentValue::Exact(i + 1), watts)];
            let mut bar = Rectangle::new(ends, colour.filled());
            bar.set_margin(0, 0, room_px, room_px);
            bar
        };
        if truth.part.as_deref() == Some(part) {
            chart.draw_series([bar(truth.watts, TRUTH, 50)])?;
        }
        chart.draw_series([bar(*watts, WATTS, 80)])?;
        let middle = SegmentValue::CenterOf(i);
        chart.draw_series(
            (*se > 0.0).then(|| ErrorBar::new_vertical(middle, watts - se, *watts, watts + se, BLACK, 8)),
        )?;
    }
    area.present()?;
    Ok(())
}
