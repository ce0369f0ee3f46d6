//! `joulemark exercise`, and the exercise that `joulemark practice` writes, run as a user does.

use std::{fs, path::Path};

use crate::support::{assert_refused, joulemark, stderr, stdout};
use joulemark::{case::CaseFolder, exercise::Answer};

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).display().to_string()
}

/// A practice case and an exercise of the same board.
fn made(folder: &Path) -> (String, String) {
    let (case, exercise) = (path(folder, "case"), path(folder, "exercise"));
    let out = joulemark(&["practice", "ceramic-capacitor", &case, "--seed", "7", "--quiet"]);
    assert_eq!(out.status.code(), Some(0), "{}", stderr(&out));
    let args =
        ["practice", "ceramic-capacitor", &exercise, "--seed", "7", "--difficulty", "medium", "--exercise", "--quiet"];
    let out = joulemark(&args);
    assert_eq!(out.status.code(), Some(0), "{}", stderr(&out));
    assert!(stdout(&out).starts_with("Exercise ") && !stdout(&out).contains("ceramic"), "{}", stdout(&out));
    (case, exercise)
}

#[test]
fn an_exercise_is_made_scored_and_collected() {
    let place = tempfile::tempdir().unwrap();
    let (case, exercise) = made(place.path());
    let truth = CaseFolder::open(Path::new(&case)).unwrap();
    let part = truth.case.practice.as_ref().unwrap().part.clone().unwrap();
    let board = truth.board().unwrap();
    let (face, drawn) = board.part(&part).unwrap();
    let class = path(place.path(), "class.csv");

    // Right in everything: the first step's limits are what the sealed answer says, the place is the part's middle.
    let folder = CaseFolder::open(Path::new(&exercise)).unwrap();
    let answer = Answer::open(folder.case.exercise.as_ref().unwrap(), &folder.folder).unwrap();
    let step = &answer.limits_of("V5").unwrap().steps[0];
    let number = |v: f64| v.to_string();
    let (volts, amps, seconds) = (number(step.volts.value), number(step.amps.value), number(step.seconds.value));
    let (x, y) = (number(drawn.x_mm), number(drawn.y_mm));
    let mut args =
        vec!["exercise", "score", &exercise, "--rail", "V5", "--volts", &volts, "--amps", &amps, "--seconds", &seconds];
    args.extend(["--face", &face.name, "--x-mm", &x, "--y-mm", &y, "--part", &part, "--looks", "3"]);
    args.extend(["--student", "Ida", "--class", &class]);
    let out = joulemark(&args);
    assert_eq!(out.status.code(), Some(0), "{}", stderr(&out));
    assert!(stdout(&out).contains("Ida: 100 of 100 points"), "{}", stdout(&out));

    // A table of answers; the second of Ida is her second try.
    let table = path(place.path(), "answers.csv");
    let rows = format!(
        "student,rail,nothing_wrong,volts,amps,seconds,face,x_mm,y_mm,part,looks\n\
         Ida,V5,,0.3,0.4,10,{0},{1},{2},,0\n\
         =Bo,,yes,,,,,,,,1\n",
        face.name,
        drawn.x_mm + drawn.width_mm + drawn.height_mm,
        drawn.y_mm
    );
    fs::write(&table, rows).unwrap();
    let out = joulemark(&["exercise", "score", &exercise, "--answer", &table, "--class", &class, "--json"]);
    assert_eq!(out.status.code(), Some(0), "{}", stderr(&out));
    let document: serde_json::Value = serde_json::from_str(&stdout(&out)).unwrap();
    assert_eq!(document["schema"], "joulemark.exercise-score/1");
    assert_eq!(document["scored"][1]["score"]["points"], 0);
    assert!(document["scored"][0]["score"]["distance_mm"].as_f64().unwrap() > 0.0);

    // Others cannot read there what is right; the instructor can.
    let text = fs::read_to_string(&class).unwrap();
    let cells: Vec<&str> = text.split([',', '\n']).collect();
    assert!(!cells.contains(&"V5") && !cells.contains(&part.as_str()) && cells.contains(&"'=Bo"), "{text}");
    let clear = path(place.path(), "clear.csv");
    let out = joulemark(&["exercise", "class", &class, "--csv", &clear]);
    assert_eq!(out.status.code(), Some(0), "{}", stderr(&out));
    let said = stdout(&out);
    assert!(
        said.contains("1 of 2 found the fault") && said.contains("V5 right") && said.contains("nothing wrong wrong"),
        "{said}"
    );
    let clear = fs::read_to_string(&clear).unwrap();
    assert!(clear.lines().nth(1).unwrap().contains(",Ida,") && clear.contains(",V5,V5,"), "{clear}");
    assert_eq!(clear.lines().filter(|l| l.contains(",Ida,") && l.split(',').nth(3) == Some("2")).count(), 1);
}

#[test]
fn commands_that_tell_the_answer_are_shut() {
    let place = tempfile::tempdir().unwrap();
    let (_, exercise) = made(place.path());
    let report = path(place.path(), "out.pdf");
    for args in [
        vec!["locate", exercise.as_str()],
        vec!["plan", &exercise, "--rail", "V5"],
        vec!["report", &exercise, &report],
        vec!["compare", &exercise, "--before", "inject 1"],
    ] {
        assert_refused(&joulemark(&args), "case.ron", "hand it in first");
    }
    assert!(!Path::new(&report).exists());
}

#[test]
fn one_that_nobody_chose_is_made_up() {
    let place = tempfile::tempdir().unwrap();
    let folder = path(place.path(), "new");
    let out = joulemark(&["exercise", "new", &folder, "--seed", "5", "--quiet"]);
    assert_eq!(out.status.code(), Some(0), "{}", stderr(&out));
    let said = format!("{}{}", stdout(&out), stderr(&out));
    for name in joulemark_locate::simulate::scenario::NAMES {
        assert!(!said.contains(name), "{said}");
    }
    let case = CaseFolder::open(Path::new(&folder)).unwrap().case;
    assert!(case.rail.is_empty() && case.practice.is_none() && case.notes.is_empty() && case.readings.len() > 3);
    assert_refused(&joulemark(&["exercise", "new", &folder]), "new", "not empty");
}

#[test]
fn bad_input_is_one_line() {
    let place = tempfile::tempdir().unwrap();
    let (case, exercise) = made(place.path());
    let score = |more: &[&str]| joulemark(&[&["exercise", "score", exercise.as_str()], more].concat());
    assert_refused(&score(&[]), "score", "no answer was given");
    assert_refused(&score(&["--volts", "x"]), "--volts", "'x' is no number");
    assert_refused(&score(&["--rail", "V5", "--x-mm", "1"]), "--x-mm", "half a place");
    assert_refused(&score(&["--rail", "V5", "--x-mm", "1", "--y-mm", "1"]), "--face", "without its face");
    assert_refused(&joulemark(&["exercise", "score", &case, "--rail", "V5"]), "case", "no exercise");
    let table = path(place.path(), "answers.csv");
    for (rows, wanted) in [
        ("rail,colour\nV5,red\n", "no column 'colour'"),
        ("rail,volts\nV5\n", "another number of cells"),
        ("rail,volts\nV5,many\n", "line 2, column volts: 'many' is no number"),
        ("rail,volts\n", "no answers"),
    ] {
        fs::write(&table, rows).unwrap();
        assert_refused(&score(&["--answer", &table]), "answers.csv", wanted);
    }
    assert_refused(&joulemark(&["exercise", "class", &table]), "answers.csv", "no class file");
    let file = path(place.path(), "exercise/case.ron");
    let damaged = fs::read_to_string(&file).unwrap().replacen("sealed: \"", "sealed: \"AAAA", 1);
    fs::write(&file, damaged).unwrap();
    assert_refused(&score(&["--rail", "V5"]), "case.ron", "the sealed answer is damaged");
}
