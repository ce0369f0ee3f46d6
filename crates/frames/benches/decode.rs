//! How long 300 frames of 640 x 512 pixels take to read. The recording is simulated: a smooth warm spot and camera noise
//! of five counts. Run with `cargo bench -p joulemark-frames`.

use std::{path::PathBuf, sync::OnceLock};

use joulemark_frames::{
    NoProgress, Samples,
    read::{self, ReadOptions, Recording, Scale},
    write,
};
use ndarray::Array3;
use tempfile::TempDir;

fn main() {
    divan::main();
}

/// Writes the recording in every form once.
fn folder() -> &'static TempDir {
    static FOLDER: OnceLock<TempDir> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mut state = 1_u64;
        let counts = Array3::from_shape_fn((300, 512, 640), |(t, y, x)| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let (dx, dy) = (x as f32 - 300.0, y as f32 - 200.0);
            let rise = 2.0 * t as f32 * (-(dx * dx + dy * dy) / 800.0).exp();
            (29_600.0 + rise + ((state >> 33) % 21) as f32 - 10.0) as u16
        });
        let recording = Recording {
            file: PathBuf::from("simulated"),
            description: String::new(),
            samples: Samples::U16(counts),
            scale: Scale::Counts { bits: 16 },
            names: Vec::new(),
            time_s: None,
            notes: Vec::new(),
        };
        for name in ["deflate.tif", "a.npy", "pngs"] {
            write::write(&recording, &folder.path().join(name), &NoProgress).expect("writes");
        }
        let Samples::U16(counts) = &recording.samples else { return folder };
        let file = std::fs::File::create(folder.path().join("plain.tif")).expect("a file");
        let mut encoder = tiff::encoder::TiffEncoder::new(std::io::BufWriter::new(file)).expect("an encoder");
        for frame in counts.outer_iter() {
            let frame = frame.as_slice().expect("standard layout");
            encoder.write_image::<tiff::encoder::colortype::Gray16>(640, 512, frame).expect("a page");
        }
        folder
    })
}

#[divan::bench(args = ["plain.tif", "deflate.tif", "a.npy", "pngs"], sample_count = 5)]
fn open(bencher: divan::Bencher, name: &str) {
    let path = folder().path().join(name);
    bencher.bench_local(|| read::open(&path, &ReadOptions::default(), &NoProgress).expect("reads"));
}

/// One copy of the samples in memory: what no reader can beat.
#[divan::bench(sample_count = 5)]
fn copy_in_memory(bencher: divan::Bencher) {
    let recording = read::open(&folder().path().join("a.npy"), &ReadOptions::default(), &NoProgress).expect("reads");
    bencher.bench_local(|| recording.samples.clone());
}
