//! Locating a decoded take of 640 x 512 pixels and 300 frames, next to one memory copy of its stack as f32.
//! `cargo bench -p joulemark-locate`; quote the ratio of the two within one run.

use divan::{Bencher, black_box};
use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack, Take, Timeline, Unit};
use joulemark_locate::{
    Scene, Settings,
    align::{Alignment, PointPair},
    board::{Board, Face, Part, PartKind, Rail},
    locate,
};
use ndarray::Array3;
use rand::{SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, Normal};

const FRAMES: usize = 300;
const BEFORE: usize = 60;
const HEIGHT_PX: usize = 512;
const WIDTH_PX: usize = 640;
const MM_PER_PX: f64 = 0.15;

fn main() {
    divan::main();
}

fn take() -> Take {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let noise = Normal::new(0.0_f32, 5.0).unwrap_or_else(|_| unreachable!("a positive spread"));
    // One long noise sequence read at shifting places: drawing a hundred million values would take longer than the run.
    let drawn: Vec<f32> = (0..1 << 20).map(|_| noise.sample(&mut random)).collect();
    let samples = Array3::from_shape_fn((FRAMES, HEIGHT_PX, WIDTH_PX), |(t, y, x)| {
        let d2 = (x as f32 - 300.0).powi(2) + (y as f32 - 200.0).powi(2);
        let age_s = (t as f32 - BEFORE as f32).max(0.0) / 30.0;
        let rise = 100.0 * (-d2 / 72.0).exp() * (1.0 - (-age_s / 3.0).exp());
        let index = (t * 611_953 + y * 7919 + x) & (drawn.len() - 1);
        (29_815.0 + ((x / 8 + y / 8) % 5) as f32 * 20.0 + rise + drawn[index]).round() as u16
    });
    let mut timeline = Timeline::steady(FRAMES, 30.0);
    timeline.inject_from(BEFORE);
    Take {
        name: "bench".into(),
        stack: Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN),
        unit: Unit::Kelvin,
        timeline,
        notes: Vec::new(),
    }
}

fn board() -> Board {
    let parts = (0..60)
        .map(|i| Part {
            designator: format!("C{}", i + 1),
            kind: PartKind::Capacitor,
            x_mm: 5.0 + 9.0 * f64::from(i % 10),
            y_mm: 6.0 + 12.0 * f64::from(i / 10),
            width_mm: 1.6,
            height_mm: 0.8,
            rails: vec!["V5".into()],
            ..Part::default()
        })
        .collect();
    let outline = vec![[0.0, 0.0], [96.0, 0.0], [96.0, 76.8], [0.0, 76.8]];
    Board {
        name: "bench".into(),
        faces: vec![Face { name: "top".into(), outline, parts, ..Face::default() }],
        rails: vec![Rail { name: "V5".into(), nominal_volts: Some(5.0) }],
    }
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn locate_640x512x300(bencher: Bencher<'_, '_>) {
    let (take, board) = (take(), board());
    let pairs = [(0.0, 0.0), (600.0, 0.0), (600.0, 500.0), (0.0, 500.0)].map(|(x_px, y_px)| PointPair {
        x_px,
        y_px,
        x_mm: x_px * MM_PER_PX,
        y_mm: y_px * MM_PER_PX,
    });
    let alignment = Alignment::fit(&pairs).unwrap_or_else(|e| unreachable!("exact pairs: {e}"));
    let scene =
        Scene { board: &board, face: "top", rail: "V5", alignment: &alignment, lead_ohms: None, injection_mm: None };
    bencher.bench(|| locate(black_box(&take), &scene, &Settings::default(), &NoProgress));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn memory_copy_of_the_float_stack(bencher: Bencher<'_, '_>) {
    let stack = vec![1.0_f32; FRAMES * HEIGHT_PX * WIDTH_PX];
    // Into memory that is there already: a fresh allocation would time the system's page faults as well.
    let mut copy = vec![0.0_f32; stack.len()];
    bencher.bench_local(|| {
        copy.copy_from_slice(black_box(&stack));
        black_box(&mut copy);
    });
}
