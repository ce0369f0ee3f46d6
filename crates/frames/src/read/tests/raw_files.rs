//! Raw frames and their sidecars.

use super::*;

fn raw(sidecar: &str, content: &[u8]) -> Result<Recording, FramesError> {
    raw_from_bytes(sidecar, content, &ReadOptions::default(), &NoProgress)
}

#[test]
fn the_layout_is_followed() {
    let content: Vec<u8> = (0..48).collect();
    let plain = raw("(width: 3, height: 2)", &content).expect("valid");
    assert_eq!(plain.samples.shape().frames, 4);
    let Samples::U16(values) = plain.samples else { panic!("16-bit") };
    assert_eq!(values[[1, 0, 0]], u16::from_le_bytes([12, 13]));
    // Offset 4, rows of 8 bytes, one row above and one below: a frame takes 4 * 8 bytes.
    let sidecar = "(width: 3, height: 2, offset_bytes: 4, row_bytes: 8, big_endian: true, frames: 1, rows_above: 1, rows_below: 1)";
    let padded = raw(sidecar, &content).expect("valid");
    let expected = ndarray::arr3(&[[[12, 13], [14, 15], [16, 17]], [[20, 21], [22, 23], [24, 25]]]);
    assert_eq!(
        padded.samples,
        Samples::U16(
            expected.map_axis(ndarray::Axis(2), |b| u16::from_be_bytes([b[0], b[1]])).insert_axis(ndarray::Axis(0))
        )
    );
    assert!(padded.notes[0].what.starts_with("not read: 12 bytes"), "{:?}", padded.notes);
}

#[test]
fn layouts_that_do_not_fit_are_refused() {
    for (sidecar, words) in [
        ("(width: 3, height: 2, frames: 5)", &["5 frames of 12 bytes", "holds 4"][..]),
        ("(width: 5, height: 2)", &["48 bytes from byte 0", "whole number of frames of 20"]),
        ("(width: 3, height: 2, row_bytes: 4)", &["rows of 4 bytes"]),
        ("(width: 0, height: 2)", &["without pixels"]),
        ("(width: 3, height: 2, offset_bytes: 90)", &["0 bytes from byte 90"]),
        ("(width: 18446744073709551615, height: 18446744073709551615, frames: 2)", &["do not fit"]),
        ("(width: 3)", &["line 1", "write for instance"]),
        ("(width: 3, height: 2, depth: 8)", &["line 1", "depth"]),
        ("not ron", &["line 1"]),
    ] {
        refused(raw(sidecar, &(0..48).collect::<Vec<u8>>()), words);
    }
}

#[test]
fn sidecars_are_found_beside_the_file() {
    let folder = folder();
    let path = folder.path().join("take.raw");
    fs::write(&path, [1, 0, 2, 0]).expect("writes");
    let opened = || open(&path, &ReadOptions::default(), &NoProgress);
    refused(opened(), &["take.raw", "without a sidecar", "take.raw.ron"]);
    fs::write(folder.path().join("take.ron"), "(width: 2, height: 1)").expect("writes");
    assert_eq!(opened().expect("valid").samples, Samples::U16(ndarray::arr3(&[[[1, 2]]])));
    // The longer name goes first.
    fs::write(folder.path().join("take.raw.ron"), "(width: 1, height: 2)").expect("writes");
    assert_eq!(opened().expect("valid").samples, Samples::U16(ndarray::arr3(&[[[1], [2]]])));
}
