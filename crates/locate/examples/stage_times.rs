//! Where time and memory go: locates a take of the benchmark's kind three times with every repair on and three times without the one
//! of movement, and prints how long each stage took, the peak of the memory, stack included, and one memory copy of the stack as f32.
//! The very first run meets memory that the process has never touched; it stands beside a copy into such memory.
//!
//! `cargo run --release -p joulemark-locate --example stage_times` for 640 x 512 pixels and 300 frames; with `160x120x75` for
//! another size, with `160x120x75 shaken` for a picture that moves by up to 2.5 px, with `FILE.npy` for 16-bit counts in hundredths of a
//! kelvin, with `curve` for a table over sizes, each in a process of its own.

use std::{env, error::Error, fs, path::Path, process::Command, sync::Mutex, time::Instant};

use joulemark_frames::{CountsLaw, NoProgress, Progress, Samples, Stack, StackShape, Take, Timeline, Unit, read};
use joulemark_locate::{
    Repairs, Scene, Settings,
    align::{Alignment, PointPair},
    board::{Board, Face, Part, Rail},
    locate,
};
use ndarray::Array3;
use rand::{RngExt as _, SeedableRng, rngs::ChaCha8Rng};

const BEFORE: usize = 60;
const SIZES: [&str; 7] =
    ["160x120x300", "320x256x300", "480x384x300", "640x512x75", "640x512x150", "640x512x300", "640x512x600"];

/// Prints the time at each change of stage.
struct Clock(Mutex<(Instant, String)>);

impl Progress for Clock {
    fn report(&self, stage: &str, _done: usize, _total: usize) {
        let Ok(mut last) = self.0.lock() else { return };
        if last.1 != stage {
            println!("{:>8.1} ms  {}", last.0.elapsed().as_secs_f64() * 1e3, last.1);
            *last = (Instant::now(), stage.to_owned());
        }
    }

    fn cancelled(&self) -> bool {
        false
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let asked = env::args().nth(1).unwrap_or_else(|| "640x512x300".to_owned());
    if asked == "curve" {
        return curve();
    }
    let samples = match parse(&asked) {
        Some(shape) => simulated(shape, env::args().nth(2).is_some_and(|word| word == "shaken")),
        None => read::open(Path::new(&asked), &read::ReadOptions::default(), &NoProgress)?.samples,
    };
    run(samples)
}

fn parse(size: &str) -> Option<StackShape> {
    let numbers: Vec<usize> = size.split('x').map(str::parse).collect::<Result<_, _>>().ok()?;
    let &[width_px, height_px, frames] = &numbers[..] else { return None };
    Some(StackShape { frames, height_px, width_px })
}

/// Patches without a period, one spot that warms from the sixtieth frame on, noise.
fn simulated(shape: StackShape, shaken: bool) -> Samples {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let drawn: Vec<f32> = (0..1 << 20).map(|_| random.random_range(-8.6..8.6)).collect();
    let (w, h) = (shape.width_px as f32, shape.height_px as f32);
    Samples::U16(Array3::from_shape_fn((shape.frames, shape.height_px, shape.width_px), |(t, y, x)| {
        let index = (t * 611_953 + y * 7919 + x) & (drawn.len() - 1);
        let moved_px = if shaken { 2.5 * (0.7 * t as f32).sin() } else { 0.0 };
        let (x, y) = (x as f32 + moved_px + 3.0, y as f32);
        let d2 = (x - 0.47 * w - 3.0).powi(2) + (y - 0.39 * h).powi(2);
        let age_s = (t as f32 - BEFORE as f32).max(0.0) / 30.0;
        let rise = 100.0 * (-d2 / 72.0).exp() * (1.0 - (-age_s / 3.0).exp());
        let patch = ((x / 8.0) as usize).wrapping_mul(0x9E37_79B9) ^ ((y / 8.0) as usize).wrapping_mul(0x85EB_CA6B);
        (29_815.0 + ((patch >> 16) % 5) as f32 * 20.0 + rise + drawn[index]).round() as u16
    }))
}

/// Sixty parts on a board that the picture shows with a margin at right and below.
fn board() -> Board {
    let part = |i: usize| Part {
        designator: format!("C{}", i + 1),
        x_mm: 5.0 + 9.0 * (i % 10) as f64,
        y_mm: 6.0 + 12.0 * (i / 10) as f64,
        width_mm: 1.6,
        height_mm: 0.8,
        rails: vec!["V5".into()],
        ..Part::default()
    };
    Board {
        name: "stages".into(),
        faces: vec![Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [90.0, 0.0], [90.0, 75.0], [0.0, 75.0]],
            parts: (0..60).map(part).collect(),
            ..Face::default()
        }],
        rails: vec![Rail { name: "V5".into(), nominal_volts: Some(5.0) }],
    }
}

fn run(samples: Samples) -> Result<(), Box<dyn Error>> {
    let shape = samples.shape();
    let mut timeline = Timeline::steady(shape.frames, 30.0);
    timeline.inject_from(BEFORE);
    let take = Take {
        name: "stages".into(),
        stack: Stack::new(samples, CountsLaw::CENTIKELVIN),
        unit: Unit::Kelvin,
        timeline,
        notes: Vec::new(),
    };
    let board = board();
    let (w, h) = (shape.width_px as f64 / 640.0, shape.height_px as f64 / 512.0);
    let pairs = [(0.0, 0.0), (600.0, 0.0), (600.0, 500.0), (0.0, 500.0)].map(|(x, y)| PointPair {
        x_px: x * w,
        y_px: y * h,
        x_mm: x * 0.15,
        y_mm: y * 0.15,
    });
    let alignment = Alignment::fit(&pairs)?;
    let scene =
        Scene { board: &board, face: "top", rail: "V5", alignment: &alignment, lead_ohms: None, injection_mm: None };
    // What making or reading the frames took is forgotten; where the system cannot do that, the peak includes it.
    let _ = fs::write("/proc/self/clear_refs", "5");
    let three_ms = |settings: &Settings| -> Result<[f64; 3], Box<dyn Error>> {
        let mut three_ms = [0.0; 3];
        for run_ms in &mut three_ms {
            let start = Instant::now();
            let clock = Clock(Mutex::new((start, "start".into())));
            let located = locate(&take, &scene, settings, &clock)?;
            let ms = start.elapsed().as_secs_f64() * 1e3;
            *run_ms = ms;
            println!("{ms:>8.1} ms  all");
            for moved in located.repairs.iter().filter(|r| r.what == "motion") {
                println!("{}", moved.did);
            }
            match located.hot_spots.first() {
                Some(spot) => println!("strongest at column {:.1}, row {:.1}\n", spot.centre_px.x, spot.centre_px.y),
                None => println!("strongest at nothing\n"),
            }
        }
        Ok(three_ms)
    };
    let every = three_ms(&Settings::default())?;
    let unmoved = Settings { repairs: Repairs { motion: false, ..Repairs::default() }, ..Settings::default() };
    println!("without the repair of movement:");
    let unmoved = three_ms(&unmoved)?;
    let [every_ms, unmoved_ms] = [every, unmoved].map(|ms| ms.into_iter().fold(f64::INFINITY, f64::min));
    let values = shape.frames * shape.pixels();
    let stack_mb = 2.0 * values as f64 / 1e6;
    let peak_mb = peak_mb();
    let (fresh_copy_ms, copy_ms) = copies_ms(values);
    println!(
        "first run {:.0} ms ({:.1} x a copy into fresh memory, {fresh_copy_ms:.0} ms)",
        every[0],
        every[0] / fresh_copy_ms
    );
    println!(
        "{:>4}x{}x{}: stack {stack_mb:.0} MB as 16-bit, peak {peak_mb:.0} MB ({:.2} x); copy of the stack as \
         f32 {copy_ms:.1} ms; fastest with every repair {every_ms:.0} ms ({:.1} x), without that of movement \
         {unmoved_ms:.0} ms ({:.1} x)",
        shape.width_px,
        shape.height_px,
        shape.frames,
        peak_mb / stack_mb,
        every_ms / copy_ms,
        unmoved_ms / copy_ms
    );
    Ok(())
}

/// Peak resident memory of this process; NaN where the system does not say.
fn peak_mb() -> f64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    peak.and_then(|v| v.trim().trim_end_matches("kB").trim().parse::<f64>().ok()).map_or(f64::NAN, |kb| kb * 1.024e-3)
}

/// A copy into memory that was never touched, and the fastest of five into memory that is there already.
fn copies_ms(values: usize) -> (f64, f64) {
    let stack = vec![1.0_f32; values];
    let start = Instant::now();
    let mut copy = std::hint::black_box(&stack).clone();
    let fresh_ms = start.elapsed().as_secs_f64() * 1e3;
    let mut once = || {
        let start = Instant::now();
        copy.copy_from_slice(std::hint::black_box(&stack));
        std::hint::black_box(&mut copy);
        start.elapsed().as_secs_f64() * 1e3
    };
    (fresh_ms, (0..5).map(|_| once()).fold(f64::INFINITY, f64::min))
}

fn curve() -> Result<(), Box<dyn Error>> {
    for size in SIZES {
        let output = Command::new(env::current_exe()?).arg(size).output()?;
        println!("{}", String::from_utf8_lossy(&output.stdout).lines().last().unwrap_or("no answer"));
    }
    Ok(())
}
