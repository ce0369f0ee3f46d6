//! Folders of frames.

use super::*;

fn opened(folder: &TempDir) -> Result<Recording, FramesError> {
    open(folder.path(), &ReadOptions::default(), &NoProgress)
}

fn put(folder: &TempDir, name: &str, content: &[u8]) {
    fs::write(folder.path().join(name), content).expect("writes");
}

#[test]
fn files_come_in_natural_order_and_other_files_are_said() {
    let folder = folder();
    let frames = counts((12, 3, 4));
    for (i, frame) in frames.outer_iter().enumerate() {
        let one = frame.to_owned().insert_axis(ndarray::Axis(0));
        put(&folder, &format!("t{i}.tif"), &written(Samples::U16(one), "a.tif"));
    }
    put(&folder, "log.csv", b"frame,time_s,injecting,volts,amps\n");
    put(&folder, "remarks.txt", b"warm day");
    put(&folder, ".hidden", b"x");
    let read = opened(&folder).expect("valid");
    assert_eq!(read.samples, Samples::U16(frames));
    assert_eq!(read.names[2], "t2.tif");
    assert_eq!(read.names[10], "t10.tif");
    assert!(
        read.notes[0].what.starts_with("not read: 2 files") && read.notes[0].what.ends_with("log.csv"),
        "{:?}",
        read.notes
    );
}

#[test]
fn text_frames_agree_on_one_type() {
    let folder = folder();
    put(&folder, "a1.csv", b"300;301;302\n");
    put(&folder, "a2.csv", b"300.5;301;302\n");
    put(&folder, "log.csv", b"frame,time_s,injecting,volts,amps\n0,0,0,,\n");
    let read = opened(&folder).expect("valid");
    assert_eq!(read.samples, Samples::F32(ndarray::arr3(&[[[300.0, 301.0, 302.0]], [[300.5, 301.0, 302.0]]])));
    assert_eq!(read.scale, Scale::Kelvin);
}

#[test]
fn mixtures_are_refused_by_name() {
    let one = |frames, height, width| written(Samples::U16(counts((frames, height, width))), "a.tif");
    let first = folder();
    refused(opened(&first), &["no frame files inside"]);
    put(&first, "a.tif", &one(1, 3, 4));
    put(&first, "b.png", &picture(4, 3, image::ImageFormat::Png));
    refused(opened(&first), &["b.png", "mixed kinds", "a.tif is TIFF"]);
    for (content, words) in [
        (one(1, 4, 4), &["b.tif", "mixed sizes: 4 x 4", "a.tif has 4 x 3"][..]),
        (one(2, 3, 4), &["b.tif", "holds 2 frames", "by itself"]),
        (written(Samples::F32(kelvin((1, 3, 4))), "a.tif"), &["b.tif", "mixed types", "32-bit floating point"]),
        (b"II*\0".to_vec(), &["b.tif", "header of page 0"]),
        (Vec::new(), &["b.tif", "empty"]),
    ] {
        let folder = folder();
        put(&folder, "a.tif", &one(1, 3, 4));
        put(&folder, "b.tif", &content);
        refused(opened(&folder), words);
    }
}

#[test]
fn gaps_name_the_file_and_masks_are_gathered() {
    let folder = folder();
    for i in 0..6 {
        let mut frame = kelvin((1, 3, 4));
        frame[[0, 1, 2]] = f32::NAN;
        put(&folder, &format!("f{i}.npy"), &written(Samples::F32(frame), "a.npy"));
    }
    refused(opened(&folder), &[".npy", "row 1, column 2", "--mask-nan"]);
    let options = ReadOptions { mask_not_a_number: true, ..ReadOptions::default() };
    let read = open(folder.path(), &options, &NoProgress).expect("masked");
    assert_eq!(read.notes.len(), 1, "{:?}", read.notes);
    assert!(read.notes[0].what.starts_with("6 files: 1 value not finite"), "{:?}", read.notes);
}

#[test]
fn the_memory_limit_counts_all_files() {
    let folder = folder();
    for i in 0..3 {
        put(&folder, &format!("{i}.tif"), &written(Samples::U16(counts((1, 3, 4))), "a.tif"));
    }
    let options = ReadOptions { memory_limit_bytes: 60, ..ReadOptions::default() };
    let result = open(folder.path(), &options, &NoProgress);
    assert!(matches!(result, Err(FramesError::TooLarge { .. })), "{result:?}");
}

#[test]
fn raw_frames_are_read_with_their_sidecars() {
    let folder = folder();
    for i in 0..3_u8 {
        put(&folder, &format!("{i}.raw"), &[i, 0, 7, 1]);
        put(&folder, &format!("{i}.raw.ron"), b"(width: 2, height: 1)");
    }
    let read = opened(&folder).expect("valid");
    assert_eq!(read.samples, Samples::U16(ndarray::arr3(&[[[0, 263]], [[1, 263]], [[2, 263]]])));
    assert_eq!(read.names, ["0.raw", "1.raw", "2.raw"]);
}
