//! `joulemark inspect`, `convert` and `practice`.

use std::fs;

use crate::support::{FRAMES, HEIGHT, Loose, WIDTH, joulemark, stderr, stdout};
use joulemark::case::CaseFolder;
use joulemark_frames::{
    NoProgress,
    read::{self, ReadOptions},
};
use joulemark_locate::{report::Report, simulate::scenario};

#[test]
fn inspect_says_what_files_are_and_goes_on_after_a_bad_one() {
    let loose = Loose::new(1.0);
    loose.write("broken.tif", "II*\0 and no more");
    let names = ["board.ron", "log.csv", "broken.tif", "pairs.csv", "frames.tif"];
    let files = names.map(|n| loose.path(n).display().to_string());
    let output = joulemark(&[&["inspect".to_owned()][..], &files].concat());
    let text = stdout(&output);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(output.status.code(), Some(2));
    for (line, wanted) in lines.iter().zip([
        "board 'buoy lamp driver', face top with 3 parts, 2 rails",
        "capture log, 60 rows, 40 with current, 0.00 to 14.75 s",
        "point pairs, 4 pairs",
        "frames.tif: TIFF",
        "60 frames of 48 x 40 pixels, 16-bit",
    ]) {
        assert!(line.contains(wanted), "{line}");
    }
    assert_eq!(stderr(&output).lines().count(), 1);
    assert!(stderr(&output).starts_with("error: ") && stderr(&output).contains("broken.tif"), "{}", stderr(&output));
}

#[test]
fn converting_keeps_every_value() {
    let loose = Loose::new(1.0);
    let at = |name: &str| loose.path(name).display().to_string();
    let read = |name: &str| read::open(&loose.path(name), &ReadOptions::default(), &NoProgress).unwrap().samples;
    for (from, to) in [("frames.tif", "a.npy"), ("a.npy", "b.csv"), ("b.csv", "c"), ("c", "d.tif")] {
        let output = joulemark(&["convert", &at(from), &at(to)]);
        assert_eq!(output.status.code(), Some(0), "{from} to {to}: {}", stderr(&output));
        assert!(stdout(&output).contains(&format!("{FRAMES} frames of {WIDTH} x {HEIGHT} pixels")));
        assert_eq!(read(to), read("frames.tif"), "{from} to {to}");
    }
}

/// Each scenario with its seed is a fixed recording: what is found in it is a regression test of the whole chain.
#[test]
fn practice_cases_are_solved_or_rightly_left_unsolved() {
    for (name, code) in scenario::NAMES.into_iter().zip([0, 0, 0, 0, 0, 3]) {
        let temporary = tempfile::tempdir().unwrap();
        let folder = temporary.path().join(name);
        let at = folder.display().to_string();
        let written = joulemark(&["practice", name, &at, "--seed", "1"]);
        assert_eq!(written.status.code(), Some(0), "{name}: {}", stderr(&written));
        assert!(stdout(&written).contains("Simulated practice case"));
        let mut files: Vec<String> =
            fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        files.sort();
        let again = ["frames-2.tif", "log-2.csv", "pairs-2.csv"];
        let mut wanted = vec!["README.txt", "board.ron", "case.ron", "frames.tif", "log.csv", "pairs.csv"];
        wanted.extend(again.iter().filter(|_| name == "pulses"));
        wanted.sort_unstable();
        assert_eq!(files, wanted);
        let inspected = joulemark(&["inspect", &at]);
        assert!(stdout(&inspected).contains("takes: inject 1"), "{}", stdout(&inspected));

        if name == "pulses" {
            let step = joulemark(&["locate", &at, "--json", "--take", "inject 1"]);
            assert_eq!(step.status.code(), Some(3), "only pulses show so little: {}", stdout(&step));
        }
        let output = joulemark(&["locate", &at, "--json"]);
        assert_eq!(output.status.code(), Some(code), "{name}: {}{}", stdout(&output), stderr(&output));
        let report: Report = serde_json::from_str(&stdout(&output)).unwrap();
        let truth = CaseFolder::open(&folder).unwrap().case.practice.unwrap().part;
        assert_eq!(report.suspects.first().map(|s| s.part.clone()), truth, "{name}: {:?}", report.suspects);
        assert!(report.warnings.iter().any(|w| w.contains("simulated")), "{:?}", report.warnings);
    }
}

#[test]
fn one_seed_writes_one_case() {
    let temporary = tempfile::tempdir().unwrap();
    let make = |name: &str, seed: &str| {
        let folder = temporary.path().join(name);
        let output = joulemark(&["practice", "faint", &folder.display().to_string(), "--seed", seed]);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        ["board.ron", "case.ron", "frames.tif", "log.csv"].map(|f| fs::read(folder.join(f)).unwrap())
    };
    let first = make("a", "7");
    assert!(first == make("b", "7"), "the same seed must give the same files");
    assert!(first != make("c", "8"), "another seed must give another case");
}
