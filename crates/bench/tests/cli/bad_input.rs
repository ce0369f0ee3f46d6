//! Bad input, file by file: exit code 2, and one line that says file, place and remedy.

use std::fs;

use crate::support::{FRAMES, HEIGHT, Loose, WIDTH, assert_refused, counts, joulemark, log, write_frames};
use joulemark_frames::{Samples, read::Scale};
use ndarray::{Array3, s};

#[test]
fn frames_that_are_missing_empty_cut_off_or_unknown() {
    let loose = Loose::new(1.0);
    assert_refused(&loose.locate(&[("--frames", "absent.tif")]), "absent.tif", "check the path");
    loose.write("empty.tif", "");
    assert_refused(&loose.locate(&[("--frames", "empty.tif")]), "empty.tif", "empty");
    let whole = fs::read(loose.path("frames.tif")).unwrap();
    loose.write("cut.tif", &whole[..whole.len() / 2]);
    assert_refused(&loose.locate(&[("--frames", "cut.tif")]), "cut.tif", "");
    loose.write("frames.xyz", [0, 1, 2, 3, 4, 5, 6, 7]);
    assert_refused(&loose.locate(&[("--frames", "frames.xyz")]), "frames.xyz", "TIFF");
    fs::create_dir(loose.path("no-frames")).unwrap();
    assert_refused(&loose.locate(&[("--frames", "no-frames")]), "no-frames", "");
}

#[test]
fn raw_frames_of_another_size_than_the_sidecar_says() {
    let loose = Loose::new(1.0);
    loose.write("frames.raw", vec![0; 1000]);
    assert_refused(&loose.locate(&[("--frames", "frames.raw")]), "frames.raw", "sidecar");
    loose.write("frames.raw.ron", format!("(width: {WIDTH}, height: {HEIGHT}, frames: 7)"));
    assert_refused(&loose.locate(&[("--frames", "frames.raw")]), "frames.raw", "");
    loose.write("frames.raw.ron", "(width: many)");
    assert_refused(&loose.locate(&[("--frames", "frames.raw")]), "frames.raw.ron", "1:");
}

#[test]
fn values_that_are_not_numbers() {
    let loose = Loose::new(1.0);
    let mut values = counts(1.0).mapv(f32::from);
    values[[3, 2, 1]] = f32::NAN;
    write_frames(&loose.path("nan.npy"), Samples::F32(values), Scale::Kelvin);
    let changes = [("--frames", "nan.npy"), ("--counts", "")];
    assert_refused(&loose.locate(&changes), "nan.npy", "frame 3");
    let mut masked = loose.args(&changes);
    masked.push("--mask-nan".into());
    assert_eq!(joulemark(&masked).status.code(), Some(0), "{}", crate::support::stderr(&joulemark(&masked)));
}

#[test]
fn a_folder_of_mixed_sizes() {
    let loose = Loose::new(1.0);
    fs::create_dir(loose.path("mixed")).unwrap();
    let frames = counts(1.0);
    for t in 0..3 {
        let width = if t == 2 { WIDTH - 1 } else { WIDTH };
        let one = frames.slice(s![t..=t, .., ..width]).to_owned();
        write_frames(&loose.path(&format!("mixed/{t}.tif")), Samples::U16(one), Scale::Counts { bits: 16 });
    }
    assert_refused(&loose.locate(&[("--frames", "mixed")]), "2.tif", "");
}

#[test]
fn more_memory_than_allowed() {
    let loose = Loose::new(1.0);
    let one = Array3::from_elem((600, 40, 48), 30_000_u16);
    write_frames(&loose.path("long.tif"), Samples::U16(one), Scale::Counts { bits: 16 });
    let output = loose.locate(&[("--frames", "long.tif"), ("--memory-mib", "1")]);
    assert_refused(&output, "long.tif", "--memory-mib");
}

#[test]
fn counts_without_a_law_or_with_a_wrong_one() {
    let loose = Loose::new(1.0);
    assert_refused(&loose.locate(&[("--counts", "")]), "frames.tif", "--counts centikelvin");
    let output = loose.locate(&[("--counts", "fahrenheit")]);
    assert_eq!(output.status.code(), Some(2));
    assert!(crate::support::stderr(&output).contains("linear:GAIN,OFFSET"));
}

#[test]
fn frames_without_any_change() {
    let loose = Loose::new(1.0);
    let flat = Array3::from_elem((FRAMES, HEIGHT, WIDTH), 30_000_u16);
    write_frames(&loose.path("flat.tif"), Samples::U16(flat), Scale::Counts { bits: 16 });
    assert_refused(&loose.locate(&[("--frames", "flat.tif")]), "flat.tif", "never change");
}

#[test]
fn capture_logs() {
    let loose = Loose::new(1.0);
    let refused = |content: &str, wanted: &str| {
        loose.write("bad.csv", content);
        assert_refused(&loose.locate(&[("--log", "bad.csv")]), "bad.csv", wanted);
    };
    refused("", "");
    refused("frame,time_s,injecting,volts\n0,0,0,1\n", "column amps is missing");
    refused("frame,time_s,injecting,volts,amps\n0,0,0,,\n1,noon,0,,\n", "line 3, column time_s");
    refused("frame,time_s,injecting,volts,amps\n0,1,0,,\n1,1,0,,\n", "line 3");
    refused(&log(FRAMES), "--inject-from");
    refused(&log(2), "2 frames before injection");
    assert_refused(&loose.locate(&[("--log", "absent.csv")]), "absent.csv", "check the path");
}

#[test]
fn injection_that_nothing_tells() {
    let loose = Loose::new(1.0);
    assert_refused(&loose.locate(&[("--log", ""), ("--rate", "4")]), "frames.tif", "--inject-from N");
    assert_refused(&loose.locate(&[("--inject-from", "60")]), "frames.tif", "there are 60 frames");
    assert_refused(&loose.locate(&[("--inject-from", "20"), ("--log", ""), ("--rate", "0")]), "rate", "above zero");
    let still = Loose::new(0.0);
    let output = still.locate(&[("--log", ""), ("--rate", "4"), ("--inject-from", "auto")]);
    assert_refused(&output, "frames.tif", "--inject-from N");
}

#[test]
fn boards_rails_and_faces() {
    let loose = Loose::new(1.0);
    assert_refused(&loose.locate(&[("--rail", "V24")]), "board.ron", "its rails are V12, V3");
    assert_refused(&loose.locate(&[("--face", "bottom")]), "board.ron", "its faces are top");
    assert_refused(&loose.locate(&[("--lead-ohms", "inf")]), "lead", "ohms");
    let refused = |name: &str, content: &str, wanted: &str| {
        loose.write(name, content);
        assert_refused(&loose.locate(&[("--board", name)]), name, wanted);
    };
    refused("broken.ron", "(\n  name: \"b\",\n  faces: 3,\n)", "broken.ron: 3:");
    refused("broken.json", "{\"name\": \"b\",\n \"faces\": [\n", "broken.json: 3:");
    refused("binary.ron", "\u{0}\u{1}", "");
    refused("empty.ron", " ", "empty");
    refused("faceless.json", "{\"name\": \"b\", \"faces\": []}", "no faces");
    let flat = crate::support::BOARD.replace("width_mm: 1.6", "width_mm: 0");
    refused("flat.ron", &flat, "part C1");
    loose.write("latin.ron", b"(name: \"B\xfcro\")");
    assert_refused(&loose.locate(&[("--board", "latin.ron")]), "latin.ron", "UTF-8");
    assert_refused(&loose.locate(&[("--board", "absent.ron")]), "absent.ron", "check the path");
}

#[test]
fn point_pairs() {
    let loose = Loose::new(1.0);
    let head = "x_px,y_px,x_mm,y_mm\n";
    for (rows, wanted) in [
        ("4,4,0,zero\n44,4,20,0\n", "line 2, column y_mm"),
        ("4,4,0,0\n", "at least 2"),
        ("4,4,0,0\n4,4,20,0\n", "same point"),
        ("44,4,0,0\n4,4,20,0\n4,36,20,16\n44,36,0,16\n", "mirror"),
    ] {
        loose.write("bad.csv", format!("{head}{rows}"));
        assert_refused(&loose.locate(&[("--pairs", "bad.csv")]), "bad.csv", wanted);
    }
    loose.write("bad.csv", "x,y\n1,2\n");
    assert_refused(&loose.locate(&[("--pairs", "bad.csv")]), "bad.csv", "column x_px is missing");
}

#[test]
fn places_for_the_picture() {
    let loose = Loose::new(1.0);
    assert_refused(&loose.locate(&[("--picture", "frames.tif")]), "frames.tif", ".png");
    assert_refused(&loose.locate(&[("--picture", "absent/map.png")]), "map.png", "choose a place");
}

#[test]
fn cases() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case");
    let at = path.display().to_string();
    assert_refused(&joulemark(&["locate", &at]), "case", "check the path");
    assert_refused(&joulemark(&[&at]), "case", "give a case folder");
    fs::create_dir(&path).unwrap();
    assert_refused(&joulemark(&["locate", &at]), "case", "no case.ron");
    let refused = |text: &str, wanted: &str| {
        fs::write(path.join("case.ron"), text).unwrap();
        assert_refused(&joulemark(&["locate", &at]), "case.ron", wanted);
    };
    refused("(version: 2, something_new: [1])", "newer Joulemark");
    refused("(version: 1, name: \"n\", board: \"board.ron\", rail: \"V12\"", "case.ron: 1:");
    refused("(version: 1, name: \"n\", board: \"board.ron\", rail: \"V12\")", "no recording yet");
    let take = "(name: \"a\", frames: \"f.tif\", face: \"top\")";
    refused(&format!("(version: 1, name: \"n\", board: \"b\", rail: \"V12\", takes: [{take}, {take}])"), "named twice");
    fs::write(
        path.join("case.ron"),
        format!("(version: 1, name: \"n\", board: \"b\", rail: \"V12\", takes: [{take}])"),
    )
    .unwrap();
    assert_refused(&joulemark(&["locate", &at, "--take", "b"]), "case.ron", "its takes are a");
    assert_refused(&joulemark(&["locate", &at]), "case/b", "check the path");
}

#[test]
fn command_lines_that_clap_refuses() {
    for args in
        [&["locate"][..], &["locate", "--frames", "x"], &["inspect"], &["practice", "toaster", "x"], &["--frob"]]
    {
        let output = joulemark(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(output.stdout.is_empty() && !output.stderr.is_empty());
    }
    assert_eq!(joulemark(&["--help"]).status.code(), Some(0));
    assert_eq!(joulemark(&["--version"]).status.code(), Some(0));
}

#[test]
fn places_that_would_overwrite() {
    let loose = Loose::new(1.0);
    let at = |name: &str| loose.path(name).display().to_string();
    assert_refused(&joulemark(&["convert", &at("frames.tif"), &at("board.ron")]), "board.ron", "already exists");
    assert_refused(&joulemark(&["convert", &at("frames.tif"), &at("x.xyz")]), "x.xyz", ".npy");
    assert_refused(&joulemark(&["practice", "faint", &at("")]), &at(""), "not empty");
    assert_eq!(fs::read_to_string(loose.path("board.ron")).unwrap(), crate::support::BOARD);
}
