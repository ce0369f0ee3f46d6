//! The main job on the bundled practice cases, through the program as a user runs it: from a recording to the named part.

use std::{
    path::PathBuf,
    process::{Command, Output},
};

use joulemark::case::CaseFolder;
use joulemark_locate::report::Report;

fn case(name: &str) -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-images")).join(name)
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_joulemark")).args(arguments).output().expect("the program starts")
}

fn report(name: &str) -> (Option<i32>, Report) {
    let output = run(&["locate", &case(name).to_string_lossy(), "--json"]);
    let report = serde_json::from_slice(&output.stdout).expect("JSON on stdout");
    (output.status.code(), report)
}

/// The truth is what the simulator wrote into the case; the program's answer comes from the frames.
#[test]
fn every_bundled_fault_is_named_first() {
    for name in ["ceramic-capacitor", "lower-board-diode", "faint"] {
        let truth = CaseFolder::open(&case(name)).expect("bundled").case.practice.expect("a practice case").part;
        let (code, report) = report(name);
        assert_eq!(code, Some(0), "{name}");
        let first = report.suspects.first().expect("a suspect");
        assert_eq!(Some(&first.part), truth.as_ref(), "{name}");
        assert!(first.probability > 0.8, "{name}: {}", first.probability);
        assert!(!first.because.is_empty());
        let shares: f64 = report.suspects.iter().filter(|s| s.hot_spot == 0).map(|s| s.probability).sum();
        let sum = shares + report.off_drawing_probability + report.nothing_probability;
        assert!((sum - 1.0).abs() < 1e-9, "{name}: {sum}");
    }
}

#[test]
fn a_healthy_board_gives_nothing_and_says_so() {
    let (code, report) = report("nothing");
    assert_eq!(code, Some(3));
    assert!(report.hot_spots.is_empty() && report.suspects.is_empty());
    assert_eq!(report.nothing_probability, 1.0);
}

#[test]
fn loose_files_give_the_same_answer_as_the_case() {
    let folder = case("lower-board-diode");
    let at = |file: &str| folder.join(file).to_string_lossy().into_owned();
    let opened = CaseFolder::open(&folder).expect("bundled");
    let entry = &opened.case.takes[0];
    let counts = entry.counts.expect("a law").to_string();
    let leads = opened.case.lead_ohms.expect("measured leads").to_string();
    let (frames, log, board, pairs) = (at("frames.tif"), at("log.csv"), at("board.ron"), at("pairs.csv"));
    let mut arguments = vec!["locate", "--frames", &frames, "--log", &log, "--board", &board, "--pairs", &pairs];
    arguments.extend(["--rail", &opened.case.rail, "--face", &entry.face, "--counts", &counts]);
    arguments.extend(["--lead-ohms", &leads, "--json"]);
    let output = run(&arguments);
    let loose: Report = serde_json::from_slice(&output.stdout).expect("JSON on stdout");
    let (_, of_case) = report("lower-board-diode");
    assert_eq!(loose.hot_spots, of_case.hot_spots);
    assert_eq!(loose.suspects, of_case.suspects);
    assert_eq!(loose.electrical_watts, of_case.electrical_watts);
}

#[test]
fn the_program_proposes_the_onset_that_the_log_has() {
    let folder = case("ceramic-capacitor");
    let marked = run(&["inspect", &folder.join("log.csv").to_string_lossy()]);
    assert_eq!(marked.status.code(), Some(0));
    let output = run(&["locate", &folder.to_string_lossy(), "--inject-from", "auto", "--json"]);
    let proposed: Report = serde_json::from_slice(&output.stdout).expect("JSON on stdout");
    let (_, logged) = report("ceramic-capacitor");
    let apart = proposed.noise.frames_before.abs_diff(logged.noise.frames_before);
    assert!(apart <= 2, "{} against {}", proposed.noise.frames_before, logged.noise.frames_before);
    assert_eq!(proposed.suspects[0].part, logged.suspects[0].part);
}
