//! NPY and NPZ by their bytes.

use std::io::{Cursor, Write};

use super::*;

fn npy(version: u8, dictionary: &str, data: &[u8]) -> Vec<u8> {
    let mut out = [&b"\x93NUMPY"[..], &[version, 0]].concat();
    match version {
        1 => out.extend((dictionary.len() as u16).to_le_bytes()),
        _ => out.extend((dictionary.len() as u32).to_le_bytes()),
    }
    out.extend(dictionary.as_bytes());
    out.extend(data);
    out
}

/// Computed with NumPy 2.4.6: [[1, 2], [3, 4]] as >f4 in Fortran order ends 3F800000 40400000 40000000 40800000.
#[test]
fn fortran_order_is_turned_round() {
    let data = [0x3F80_0000_u32, 0x4040_0000, 0x4000_0000, 0x4080_0000].map(u32::to_be_bytes).concat();
    let read = bytes(&npy(1, "{'descr': '>f4', 'fortran_order': True, 'shape': (2, 2), }\n", &data)).expect("valid");
    assert_eq!(read.samples, Samples::F32(ndarray::arr3(&[[[1.0, 2.0], [3.0, 4.0]]])));
    assert_eq!(read.scale, Scale::Kelvin);
}

#[test]
fn axes_types_and_sizes_that_hold_no_frames_are_refused() {
    let with = |shape: &str, data: &[u8]| {
        bytes(&npy(2, &format!("{{'descr': '<u2', 'fortran_order': False, 'shape': {shape}, }}"), data))
    };
    assert!(with("(1, 2)", &[1, 0, 2, 0]).is_ok());
    refused(with("(2,)", &[0; 4]), &["header", "1 axes", "[t, y, x]"]);
    refused(with("(1, 1, 1, 1)", &[0; 2]), &["4 axes"]);
    refused(with("(0, 4, 4)", &[]), &["0 frames"]);
    refused(with("(2, 4, 4)", &[0; 63]), &["promises 64 bytes", "only 63", "cut off"]);
    refused(with("(90000, 90000, 90000)", &[0; 64]), &["MiB", "--memory-mib"]);
    refused(with("(4294967296, 4294967296, 4294967296)", &[0; 64]), &["MiB"]);
    refused(bytes(&npy(1, "{'descr': '|O', 'fortran_order': False, 'shape': (1, 1), }", &[0; 8])), &["Python objects"]);
    refused(bytes(&npy(9, "{}", &[])), &["version 9.0"]);
    refused(bytes(b"\x93NUMPY\x01"), &["ends inside the header"]);
    refused(bytes(b"\x93NUMPY\x02\x00\xFF\xFF\xFF\xFF"), &["longer than any plain array"]);
}

fn npz(entries: &[(&str, &[u8])], method: zip::CompressionMethod) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in entries {
        let options = zip::write::SimpleFileOptions::default().compression_method(method);
        archive.start_file(*name, options).expect("entry");
        archive.write_all(content).expect("content");
    }
    archive.finish().expect("archive").into_inner()
}

#[test]
fn archives_give_their_first_array_of_frames() {
    let frames = written(Samples::U16(counts((2, 3, 4))), "a.npy");
    let clock = npy(1, "{'descr': '<f8', 'fortran_order': False, 'shape': (1,), }", &[0; 8]);
    for method in [zip::CompressionMethod::Stored, zip::CompressionMethod::Deflated] {
        let read = bytes(&npz(&[("clock.npy", &clock), ("frames.npy", &frames)], method)).expect("valid");
        assert_eq!(read.samples, Samples::U16(counts((2, 3, 4))));
        assert!(read.notes[0].what.contains("only array frames"), "{:?}", read.notes);
    }
    refused(
        bytes(&npz(&[("clock.npy", &clock)], zip::CompressionMethod::Stored)),
        &["no array with two or three axes"],
    );
    refused(bytes(&npz(&[("a.txt", b"hello")], zip::CompressionMethod::Stored)), &["no array"]);
    // An entry that promises far more than its bytes can inflate to.
    let bomb = npy(1, "{'descr': '<u2', 'fortran_order': False, 'shape': (50, 5000, 5000), }", &[0; 64]);
    refused(bytes(&npz(&[("frames.npy", &bomb)], zip::CompressionMethod::Deflated)), &["promises 2500000000 bytes"]);
    let whole = npz(&[("frames.npy", &frames)], zip::CompressionMethod::Stored);
    refused(bytes(&whole[..whole.len() / 2]), &["archive"]);
}
