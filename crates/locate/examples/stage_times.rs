//! Where the time goes: locates the benchmark's kind of take (640 x 512 pixels, 300 frames, 16 bit) three times and prints
//! how long each stage took.
//!
//! `cargo run --release -p joulemark-locate --example stage_times`

use std::{sync::Mutex, time::Instant};

use joulemark_frames::{CountsLaw, Progress, Samples, Stack, Take, Timeline, Unit};
use joulemark_locate::{
    Scene, Settings,
    align::{Alignment, PointPair},
    board::{Board, Face, Part, Rail},
    locate,
};
use ndarray::Array3;
use rand::{RngExt as _, SeedableRng, rngs::ChaCha8Rng};

const FRAMES: usize = 300;
const HEIGHT_PX: usize = 512;
const WIDTH_PX: usize = 640;

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

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let drawn: Vec<f32> = (0..1 << 20).map(|_| random.random_range(-8.6..8.6)).collect();
    let samples = Array3::from_shape_fn((FRAMES, HEIGHT_PX, WIDTH_PX), |(t, y, x)| {
        let d2 = (x as f32 - 300.0).powi(2) + (y as f32 - 200.0).powi(2);
        let age_s = (t as f32 - 60.0).max(0.0) / 30.0;
        let rise = 100.0 * (-d2 / 72.0).exp() * (1.0 - (-age_s / 3.0).exp());
        let index = (t * 611_953 + y * 7919 + x) & (drawn.len() - 1);
        (29_815.0 + ((x / 8 + y / 8) % 5) as f32 * 20.0 + rise + drawn[index]).round() as u16
    });
    let mut timeline = Timeline::steady(FRAMES, 30.0);
    timeline.inject_from(60);
    let take = Take {
        name: "stages".into(),
        stack: Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN),
        unit: Unit::Kelvin,
        timeline,
        notes: Vec::new(),
    };
    let part = |i: usize| Part {
        designator: format!("C{}", i + 1),
        x_mm: 5.0 + 9.0 * (i % 10) as f64,
        y_mm: 6.0 + 12.0 * (i / 10) as f64,
        width_mm: 1.6,
        height_mm: 0.8,
        rails: vec!["V5".into()],
        ..Part::default()
    };
    let board = Board {
        name: "stages".into(),
        faces: vec![Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [90.0, 0.0], [90.0, 75.0], [0.0, 75.0]],
            parts: (0..60).map(part).collect(),
            through: None,
        }],
        rails: vec![Rail { name: "V5".into(), nominal_volts: Some(5.0) }],
    };
    let pairs = [(0.0, 0.0), (600.0, 0.0), (600.0, 500.0), (0.0, 500.0)].map(|(x_px, y_px)| PointPair {
        x_px,
        y_px,
        x_mm: x_px * 0.15,
        y_mm: y_px * 0.15,
    });
    let alignment = Alignment::fit(&pairs)?;
    let scene =
        Scene { board: &board, face: "top", rail: "V5", alignment: &alignment, lead_ohms: None, injection_mm: None };
    for _ in 0..3 {
        let start = Instant::now();
        let clock = Clock(Mutex::new((start, "start".into())));
        let located = locate(&take, &scene, &Settings::default(), &clock)?;
        println!("{:>8.1} ms  all, {} hot spots\n", start.elapsed().as_secs_f64() * 1e3, located.hot_spots.len());
    }
    Ok(())
}
