//! Repair of a take of 640 x 512 pixels and 300 frames in 16-bit counts: one plain read of the stack in pixel runs, the
//! same through the steady view, and the search for movement. `cargo bench -p joulemark-locate --bench repair`; quote
//! ratios within one run.

use divan::{Bencher, black_box};
use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack, Timeline};
use joulemark_locate::repair::{Frames, Motion, Pose, Steady, motion};
use ndarray::Array3;
use rand::{SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, Normal};
use rayon::prelude::*;

const FRAMES: usize = 300;
const BEFORE: usize = 60;
const HEIGHT_PX: usize = 512;
const WIDTH_PX: usize = 640;
/// Runs of whole rows: their source rows are shared.
const ROWS_PER_RUN: usize = 8;

fn main() {
    divan::main();
}

/// Pads of some kelvin that move by `shake` pixels from frame to frame, and 50 mK of noise.
fn stack(shake_px: f32) -> Stack {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let noise = Normal::new(0.0_f32, 5.0).unwrap_or_else(|_| unreachable!("a positive spread"));
    let drawn: Vec<f32> = (0..1 << 20).map(|_| noise.sample(&mut random)).collect();
    let place = |t: usize, k: usize| shake_px * drawn[t * 2 + k] / 10.0;
    let samples = Array3::from_shape_fn((FRAMES, HEIGHT_PX, WIDTH_PX), |(t, y, x)| {
        let (u, v) = (x as f32 - place(t, 0), y as f32 - place(t, 1));
        let pads =
            60.0 * ((0.31 * u).sin() * (0.23 * v).sin() + (0.117 * u + 0.19 * v).sin() + (0.05 * u * v / 90.0).cos());
        let index = (t * 611_953 + y * 7919 + x) & (drawn.len() - 1);
        (29_815.0 + pads + drawn[index]).round() as u16
    });
    Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN)
}

fn timeline() -> Timeline {
    let mut timeline = Timeline::steady(FRAMES, 30.0);
    timeline.inject_from(BEFORE);
    timeline
}

fn moved(rotation_deg: f64) -> Motion {
    let pose = |t: usize| Pose {
        x_px: 3.0 * (t as f64 * 1.7).sin(),
        y_px: 2.0 * (t as f64 * 2.3).cos(),
        rotation_deg: rotation_deg * (t as f64 * 0.9).sin(),
    };
    Motion {
        poses: (0..FRAMES).map(pose).collect(),
        shift_se_px: vec![[0.01; 2]; FRAMES],
        rotation_se_deg: vec![0.0; FRAMES],
        lost: Vec::new(),
        faulty: (0..40).map(|i| i * 8123 + 17).collect(),
    }
}

/// Every value once, all frames of a run in a row as the projection reads them.
fn read(frames: &impl Frames) -> f32 {
    let run = ROWS_PER_RUN * WIDTH_PX;
    (0..HEIGHT_PX / ROWS_PER_RUN)
        .into_par_iter()
        .map(|tile| {
            let mut out = vec![0.0_f32; run];
            let mut last = 0.0;
            for t in 0..FRAMES {
                frames.copy_run(t, tile * run..(tile + 1) * run, &mut out);
                last += out[t];
            }
            last
        })
        .sum()
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn plain_read(bencher: Bencher<'_, '_>) {
    let stack = stack(0.0);
    bencher.bench_local(|| black_box(read(&stack)));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn steady_read_without_movement(bencher: Bencher<'_, '_>) {
    let (stack, mut motion) = (stack(0.0), moved(0.0));
    motion.poses.fill(Pose::default());
    let steady = Steady::new(&stack, &motion);
    bencher.bench_local(|| black_box(read(&steady)));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn steady_read_of_shifts(bencher: Bencher<'_, '_>) {
    let stack = stack(0.0);
    let steady = Steady::new(&stack, &moved(0.0));
    bencher.bench_local(|| black_box(read(&steady)));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn steady_read_of_turns(bencher: Bencher<'_, '_>) {
    let stack = stack(0.0);
    let steady = Steady::new(&stack, &moved(0.5));
    bencher.bench_local(|| black_box(read(&steady)));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn find_nothing_moving(bencher: Bencher<'_, '_>) {
    let (stack, timeline) = (stack(0.0), timeline());
    bencher.bench_local(|| black_box(motion::find(&stack, &timeline, &NoProgress)));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn find_shaking(bencher: Bencher<'_, '_>) {
    let (stack, timeline) = (stack(2.0), timeline());
    bencher.bench_local(|| black_box(motion::find(&stack, &timeline, &NoProgress)));
}
