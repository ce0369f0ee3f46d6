//! Reads files written by independent software (tifffile, NumPy, Pillow, OpenCV; see `tests/reference/write_frames.py`)
//! and compares every sample. Needs the Python environment that `tests/run` sets up.

#[path = "../../../tests/reference/launch.rs"]
mod launch;

use std::{fs, path::Path};

use joulemark_frames::{
    NoProgress, Samples,
    read::{self, ReadOptions, Recording, Scale},
};

/// One line of `expected.csv`.
struct Case {
    file: String,
    expected: String,
    scale: String,
    tolerance: u8,
    why: String,
}

fn write_files(folder: &Path) -> Vec<Case> {
    launch::run("write_frames.py", &[folder.as_os_str()], &[]);
    let mut reader = csv::Reader::from_path(folder.join("expected.csv")).expect("the script wrote a list");
    let cases: Vec<Case> = reader
        .records()
        .map(|record| {
            let record = record.expect("valid CSV");
            Case {
                file: record[0].to_owned(),
                expected: record[1].to_owned(),
                scale: record[2].to_owned(),
                tolerance: record[3].parse().expect("a number"),
                why: record[4].to_owned(),
            }
        })
        .collect();
    assert!(cases.len() > 300, "only {} cases", cases.len());
    cases
}

/// Compares with an array that NumPy wrote, read here byte by byte so that our own reader is not its own judge.
fn compare(recording: &Recording, expected: &[u8], tolerance: u8) -> Result<(), String> {
    let start = 10 + usize::from(u16::from_le_bytes([expected[8], expected[9]]));
    let header = String::from_utf8_lossy(&expected[10..start]).into_owned();
    let data = &expected[start..];
    let shape = recording.samples.shape();
    let wanted = format!("'shape': ({}, {}, {})", shape.frames, shape.height_px, shape.width_px);
    if !header.contains(&wanted) {
        return Err(format!("{wanted} read, {header} expected"));
    }
    let (descr, same) = match &recording.samples {
        Samples::U8(a) => ("|u1", a.iter().zip(data).all(|(v, e)| v.abs_diff(*e) <= tolerance)),
        Samples::U16(a) => {
            ("<u2", a.iter().zip(data.chunks_exact(2)).all(|(v, e)| *v == u16::from_le_bytes([e[0], e[1]])))
        }
        Samples::F32(a) => (
            "<f4",
            a.iter().zip(data.chunks_exact(4)).all(|(v, e)| v.to_bits().to_le_bytes() == [e[0], e[1], e[2], e[3]]),
        ),
    };
    if !header.contains(&format!("'descr': '{descr}'")) {
        return Err(format!("{descr} read, {header} expected"));
    }
    if same { Ok(()) } else { Err("values differ".to_owned()) }
}

#[test]
fn files_of_independent_software_read_sample_for_sample() {
    let folder = tempfile::tempdir().expect("folder");
    let cases = write_files(folder.path());
    let mut wrong = Vec::new();
    for case in &cases {
        let scale = match case.scale.as_str() {
            "counts" => Scale::Counts { bits: 16 },
            "kelvin" => Scale::Kelvin,
            _ => Scale::Relative,
        };
        let expected = fs::read(folder.path().join(&case.expected)).expect("the script wrote it");
        // Exact, but where the script says why not.
        assert!(case.tolerance == 0 || !case.why.is_empty(), "{}", case.file);
        match read::open(&folder.path().join(&case.file), &ReadOptions::default(), &NoProgress) {
            Err(error) => wrong.push(error.to_string()),
            Ok(recording) if recording.scale != scale => wrong.push(format!("{}: {:?}", case.file, recording.scale)),
            Ok(recording) => {
                if let Err(difference) = compare(&recording, &expected, case.tolerance) {
                    wrong.push(format!("{}: {difference}", case.file));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {} files:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
}
