//! Round trips: what is written is read back sample for sample.

use std::{fs, path::Path};

use ndarray::Array3;
use proptest::prelude::*;

use super::write;
use crate::{
    FramesError, NoProgress, Progress, Samples,
    read::{self, ReadOptions, Recording, Scale},
};

fn recording(samples: Samples, scale: Scale) -> Recording {
    Recording {
        file: "made.up".into(),
        description: String::new(),
        samples,
        scale,
        names: Vec::new(),
        time_s: None,
        notes: Vec::new(),
    }
}

fn open(path: &Path) -> Recording {
    let options = ReadOptions { mask_not_a_number: true, ..ReadOptions::default() };
    read::open(path, &options, &NoProgress).expect("reads back")
}

fn round_trip(recording: &Recording, name: &str) -> Recording {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join(name);
    write(recording, &path, &NoProgress).expect("writes");
    assert_eq!(fs::read_dir(folder.path()).expect("lists").count(), 1, "nothing else is left behind");
    open(&path)
}

fn shape() -> impl Strategy<Value = (usize, usize, usize)> {
    (1_usize..5, 2_usize..7, 2_usize..7)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn counts_survive_every_format((shape, seed) in (shape(), any::<u64>())) {
        let mut state = seed;
        let samples = Array3::from_shape_simple_fn(shape, || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 48) as u16
        });
        let made = recording(Samples::U16(samples), Scale::Counts { bits: 16 });
        for name in ["a.npy", "a.tif", "a.csv", "a"] {
            let read = round_trip(&made, name);
            prop_assert_eq!(&read.samples, &made.samples, "{}", name);
            prop_assert_eq!(read.scale, made.scale, "{}", name);
        }
    }

    #[test]
    fn kelvin_survives_every_format_bit_for_bit((shape, bits) in (shape(), prop::collection::vec(any::<u32>(), 150))) {
        let mut bits = bits.into_iter().cycle().map(f32::from_bits).map(|v| if v.is_finite() { v } else { 300.0 });
        let samples = Array3::from_shape_simple_fn(shape, || bits.next().unwrap());
        let made = recording(Samples::F32(samples), Scale::Kelvin);
        for name in ["a.npy", "a.tif", "a.csv", "a"] {
            let read = round_trip(&made, name);
            prop_assert_eq!(&read.samples, &made.samples, "{}", name);
            prop_assert_eq!(read.scale, made.scale, "{}", name);
        }
    }
}

#[test]
fn signed_counts_stay_counts() {
    let samples = Array3::from_shape_fn((3, 4, 5), |(t, y, x)| (t * 20 + y * 5 + x) as f32 * 700.0 - 20000.0);
    let made = recording(Samples::F32(samples), Scale::Counts { bits: 16 });
    for name in ["a.npy", "a.tif", "a.csv", "a"] {
        let read = round_trip(&made, name);
        assert_eq!(read.samples, made.samples, "{name}");
        assert_eq!(read.scale, made.scale, "{name}");
    }
}

#[test]
fn grey_values_survive_pictures_and_arrays() {
    let samples = Array3::from_shape_fn((2, 16, 16), |(t, y, x)| (t + y * 16 + x) as u8);
    let made = recording(Samples::U8(samples), Scale::Relative);
    for name in ["a.npy", "a.tiff", "a"] {
        let read = round_trip(&made, name);
        assert_eq!(read.samples, made.samples, "{name}");
        assert_eq!(read.scale, Scale::Relative, "{name}");
    }
}

#[test]
fn gaps_survive_when_they_are_masked() {
    let mut samples = Array3::from_elem((2, 3, 4), 300.25_f32);
    samples[[1, 2, 3]] = f32::NAN;
    let made = recording(Samples::F32(samples), Scale::Kelvin);
    for name in ["a.npy", "a.tif", "a.csv", "a"] {
        let read = round_trip(&made, name);
        let Samples::F32(values) = &read.samples else { panic!("{name}") };
        assert!(values[[1, 2, 3]].is_nan() && values.iter().filter(|v| v.is_nan()).count() == 1, "{name}");
        assert!(read.notes.iter().any(|n| n.what.contains("row 2, column 3")), "{name}: {:?}", read.notes);
    }
}

#[test]
fn an_existing_file_is_replaced_and_a_full_folder_is_not() {
    let folder = tempfile::tempdir().expect("folder");
    let made = recording(Samples::U16(Array3::from_elem((1, 2, 3), 7)), Scale::Counts { bits: 16 });
    let file = folder.path().join("a.npy");
    fs::write(&file, b"old").expect("writes");
    write(&made, &file, &NoProgress).expect("replaces");
    assert_eq!(open(&file).samples, made.samples);
    let message = write(&made, folder.path(), &NoProgress).expect_err("not empty").to_string();
    assert!(message.contains("not empty") && message.lines().count() == 1, "{message}");
    let message = write(&made, &folder.path().join("a.xyz"), &NoProgress).expect_err("no format").to_string();
    assert!(message.contains(".npy, .tif or .csv"), "{message}");
}

struct Cancelled;

impl Progress for Cancelled {
    fn report(&self, _stage: &str, _done: usize, _total: usize) {}

    fn cancelled(&self) -> bool {
        true
    }
}

#[test]
fn cancelling_leaves_nothing_behind() {
    let made = recording(Samples::U16(Array3::from_elem((3, 2, 3), 7)), Scale::Counts { bits: 16 });
    for name in ["a.npy", "a.tif", "a.csv", "a"] {
        let folder = tempfile::tempdir().expect("folder");
        let result = write(&made, &folder.path().join(name), &Cancelled);
        assert!(matches!(result, Err(FramesError::Cancelled)), "{name}");
        assert_eq!(fs::read_dir(folder.path()).expect("lists").count(), 0, "{name}");
    }
}

/// Byte-level check of NumPy 2.4.6 (`numpy.save` of uint16 [[1, 2], [3, 4]]; NumPy Enhancement Proposal 1): 136 bytes,
/// beginning 934E554D5059 0100 7600 and ending 0100 0200 0300 0400.
#[test]
fn an_array_is_written_as_numpy_writes_it() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.npy");
    let samples = Array3::from_shape_vec((1, 2, 2), vec![1, 2, 3, 4]).expect("shape");
    write(&recording(Samples::U16(samples), Scale::Counts { bits: 16 }), &path, &NoProgress).expect("writes");
    let bytes = fs::read(&path).expect("reads");
    assert_eq!(bytes.len(), 136);
    assert_eq!(bytes[..10], [0x93, 0x4E, 0x55, 0x4D, 0x50, 0x59, 1, 0, 0x76, 0]);
    assert_eq!(bytes[128..], [1, 0, 2, 0, 3, 0, 4, 0]);
}
