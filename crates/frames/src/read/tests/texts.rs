//! Matrices of text: what is read, what is asked back.

use super::*;

fn kelvin_of(text: &str) -> Array3<f32> {
    match bytes(text.as_bytes()) {
        Ok(Recording { samples: Samples::F32(a), scale: Scale::Kelvin, .. }) => a,
        other => panic!("{text:?}: {other:?}"),
    }
}

#[test]
fn separators_and_decimal_marks() {
    let wanted = ndarray::arr3(&[[[1.5, 2.5, 3.0], [4.0, 5.25, 6.0]]]);
    for text in [
        "1.5,2.5,3\n4,5.25,6\n",
        "1,5;2,5;3\r\n4;5,25;6\r\n",
        "1,5;2,5;3;\n4;5,25;6;\n",
        "1,5\t2,5\t3\n4\t5,25\t6",
        "1,5 2,5 3\n4 5,25 6\n",
        "  1.5   2.5 3\n 4 5.25 6 \n",
        "\u{feff}1.5,2.5,3\n4,5.25,6\n",
        "# made by hand\nTemperature in °C\n1.5,2.5,3\n4,5.25,6\n",
        "\"1,5\",\"2,5\",\"3\"\n\"4\",\"5,25\",\"6\"\n",
        "1.5,2.5,3\n4,5.25,6\n\n\n",
        "1.5,2.5,3\n\n4,5.25,6\n\n",
        ",0,1,2\n0,1.5,2.5,3\n1,4,5.25,6\n",
        "row;1;2;3\n1;1.5;2.5;3\n2;4;5.25;6\n",
    ] {
        assert_eq!(kelvin_of(text), wanted, "{text:?}");
    }
    assert_eq!(kelvin_of("1.234,5;2\n1,5;2,5\n"), ndarray::arr3(&[[[1234.5, 2.0], [1.5, 2.5]]]));
    let wide: Vec<u8> = "1,5\t2\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    let read = bytes(&[&[0xFF, 0xFE][..], &wide].concat()).expect("UTF-16");
    assert_eq!(read.samples, Samples::F32(ndarray::arr3(&[[[1.5, 2.0]]])));
}

#[test]
fn integers_are_counts() {
    let read = bytes(b"29315,29316,29317\n1,2,65535\n").expect("valid");
    assert_eq!(read.samples, Samples::U16(ndarray::arr3(&[[[29315, 29316, 29317], [1, 2, 65535]]])));
    assert_eq!(read.scale, Scale::Counts { bits: 16 });
    // Signed 16-bit counts stay exact; what 16 bits cannot hold is no count.
    let signed = bytes(b"-5;6\n7;8\n").expect("valid");
    assert_eq!(
        (signed.samples, signed.scale),
        (Samples::F32(ndarray::arr3(&[[[-5.0, 6.0], [7.0, 8.0]]])), Scale::Counts { bits: 16 })
    );
    assert_eq!(bytes(b"70000;6\n").expect("valid").scale, Scale::Kelvin);
}

#[test]
fn blank_lines_part_frames() {
    let read = bytes(b"frame 1\n1;2\n3;4\n;;\nframe 2\n5;6\n7;8\n").expect("valid");
    assert_eq!(read.samples, Samples::U16(ndarray::arr3(&[[[1, 2], [3, 4]], [[5, 6], [7, 8]]])));
    assert!(read.notes[0].what.contains("2 header lines"), "{:?}", read.notes);
    refused(bytes(b"1;2\n3;4\n\n5;6\n"), &["frame 1, from line 4", "mixed sizes: 1 row,"]);
}

#[test]
fn what_cannot_be_decided_is_asked() {
    refused(bytes(b"1,234\n1,500\n"), &["line 1", "part two columns or be a decimal comma", "write ;"]);
    refused(bytes(b"1,5;2\n3;4.5\n"), &["lines 1 and 2", "mixed"]);
    assert!(bytes(b"1,234;\n1,500;\n").is_ok());
    assert!(bytes(b"1, 234\n1, 500\n").is_ok());
    assert!(bytes(b"1.5,234\n1,500\n").is_ok());
}

#[test]
fn damage_is_placed() {
    refused(bytes(b"1;2;3\n4;5\n"), &["line 2", "2 columns", "have 3"]);
    refused(bytes(b"1;2;3\n4;x;6\n"), &["line 2, column 2", "'x' is not a number"]);
    refused(bytes(b"only words here\n"), &["no line of numbers"]);
    refused(bytes(b"1.5;2\n3;nan\n"), &["frame 0 (from line 1), row 1, column 1", "--mask-nan"]);
    refused(bytes(b"1.5;2;3\n3;;2\n"), &["row 1, column 1", "--mask-nan"]);
    refused(bytes(b"0;1;2\n0;1\n"), &["line 2"]);
    refused(bytes(b",0,1\n0,1.5,2\n5,1.5,2\n"), &["line 3, column 1", "row label 5"]);
}

#[test]
fn long_texts_are_read_in_blocks() {
    // Longer than one block of 4 MiB, so that a line is cut by its end.
    let samples = Samples::F32(kelvin((4, 400, 500)));
    let content = written(samples.clone(), "a.csv");
    assert!(content.len() > 5 << 20);
    assert_eq!(bytes(&content).expect("valid").samples, samples);
}
