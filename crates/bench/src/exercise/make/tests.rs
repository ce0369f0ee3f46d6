use std::fs;

use joulemark_frames::NoProgress;

use super::*;
use crate::case::Case;

fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let entries = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    entries.map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), fs::read(p).unwrap())).collect()
}

fn holds(bytes: &[u8], word: &str) -> bool {
    bytes.windows(word.len()).any(|w| w.eq_ignore_ascii_case(word.as_bytes()))
}

/// No file of a written exercise says which part it is, but for the drawing, which has all of them; none names the
/// scenario, the seed or the story.
#[test]
fn no_file_tells_the_answer() {
    let place = tempfile::tempdir().unwrap();
    for name in scenario::NAMES {
        let (seed, folder) = (417_233, place.path().join(name).join("given"));
        let truth =
            practice::write_case(name, seed, Difficulty::Medium, &place.path().join(name).join("case"), &NoProgress)
                .unwrap();
        make_practice(name, seed, Difficulty::Medium, "", &folder, &NoProgress).unwrap();
        let written = files(&folder);
        let names: Vec<&str> = written.iter().map(|(n, _)| n.as_str()).collect();
        for wanted in ["case.ron", "board.ron", "frames.tif", "log.csv", "README.txt"] {
            assert!(names.contains(&wanted), "{names:?}");
        }
        assert_eq!(names.len(), 5, "{names:?}");
        let case = CaseFolder::open(&folder).unwrap().case;
        let exercise = case.exercise.clone().unwrap();
        for (file, bytes) in &written {
            // The recording is compressed pixels, the seal is base64: short words turn up in either by chance. The task is
            // the same for every exercise.
            let bare = Exercise { sealed: String::new(), task: String::new(), ..exercise.clone() };
            let text = match file.as_str() {
                "case.ron" => crate::case::to_ron(&Case { exercise: Some(bare), ..case.clone() }).unwrap(),
                _ => String::from_utf8_lossy(bytes).into_owned(),
            };
            for tells in [name, "417233", "practice", &truth.title, &truth.story, &truth.board.name] {
                assert!(!holds(text.as_bytes(), tells), "{file} tells {tells}");
            }
            if file == "frames.tif" {
                assert!(!holds(bytes, "joulemark") && !holds(bytes, "simulated"));
            } else if let Some(part) = truth.simulated.truth.part.as_ref().filter(|_| file != "board.ron") {
                assert!(!text.contains(&format!("\"{part}\"")) && !text.contains(&format!(" {part} ")), "{file}");
            }
        }
        assert!(!folder.join(".joulemark-lock").exists());
        assert_eq!(exercise.task, task::standard(true));
        // Nothing is left of the case but what students need.
        let given = &case.takes[0];
        let expected = Case {
            version: case.version,
            name: format!("Exercise {}", exercise.id),
            board: "board.ron".into(),
            lead_ohms: Some(truth.lead_ohms),
            readings: case.readings.clone(),
            takes: vec![TakeEntry {
                name: "inject 1".into(),
                frames: "frames.tif".into(),
                log: Some("log.csv".into()),
                counts: given.counts,
                face: truth.face.clone(),
                pairs: given.pairs.clone(),
                ..TakeEntry::default()
            }],
            exercise: case.exercise.clone(),
            ..Case::default()
        };
        assert_eq!(case, expected);
        let log = fs::read_to_string(folder.join("log.csv")).unwrap();
        assert!(
            log.starts_with("frame,time_s,injecting,volts,amps\n") && log.lines().skip(1).all(|l| l.ends_with(",,"))
        );
        // But the seal knows.
        let answer = Answer::open(&exercise, &folder).unwrap();
        assert_eq!(
            answer.parts.iter().map(|p| &p.designator).collect::<Vec<_>>(),
            truth.simulated.truth.part.iter().collect::<Vec<_>>()
        );
        assert_eq!((answer.rail.as_str(), answer.simulated), (truth.rail.as_str(), true));
        assert_eq!(answer.limits.len(), truth.board.rails.len());
        assert!(answer.log.contains("set_volts") && answer.limits_of(&truth.rail).unwrap().steps.len() > 1);
    }
}

#[test]
fn two_exercises_of_one_case_are_sealed_differently_and_as_long() {
    let place = tempfile::tempdir().unwrap();
    let sealed = |name: &str, to: &str| {
        let folder = place.path().join(to);
        make_practice(name, 1, Difficulty::Hard, "", &folder, &NoProgress).unwrap();
        CaseFolder::open(&folder).unwrap().case.exercise.unwrap()
    };
    let (a, b, healthy) = (sealed("faint", "a"), sealed("faint", "b"), sealed("nothing", "c"));
    assert_ne!((&a.sealed, &a.id), (&b.sealed, &b.id));
    assert_eq!(Answer::open(&a, place.path()).unwrap(), Answer::open(&b, place.path()).unwrap());
    assert_eq!((a.sealed.len(), &a.task), (healthy.sealed.len(), &healthy.task));
}

#[test]
fn a_fault_that_nobody_proved_has_to_be_stated() {
    let place = tempfile::tempdir().unwrap();
    let made = place.path().join("case");
    practice::write_case("ceramic-capacitor", 2, Difficulty::Medium, &made, &NoProgress).unwrap();
    let mut case = CaseFolder::open(&made).unwrap();
    let part = case.case.practice.take().unwrap().part.unwrap();
    let to = |n: &str| place.path().join(n);
    let refused = |case: &CaseFolder, truth: Truth| {
        let wish = Wish { truth, ..Wish::default() };
        make(case, &to("refused"), &wish, &NoProgress).unwrap_err().to_string()
    };
    let message = refused(&case, Truth::Known);
    assert!(message.contains("nobody has proved") && message.contains("--part"), "{message}");
    assert!(refused(&case, Truth::Parts(vec!["X99".into()])).contains("X99 is not on the drawing"));
    // It is real now, so that readings are not made up.
    assert!(refused(&case, Truth::Parts(vec![part.clone()])).contains("add the meter's readings"));
    let reading = |after, good_board| ReadingEntry {
        rail: "V5".into(),
        value: Some(0.3),
        after,
        good_board,
        by: "Ida".into(),
        time: "2026-03-01T09:30:05Z".into(),
        ..ReadingEntry::default()
    };
    case.case.readings = vec![reading(1, false), reading(2, false), reading(2, true)];
    let wish = Wish { truth: Truth::Parts(vec![part.clone()]), task: Some("Find it.".into()), ..Wish::default() };
    make(&case, &to("made"), &wish, &NoProgress).unwrap();
    let given = CaseFolder::open(&to("made")).unwrap().case;
    assert_eq!(given.readings.len(), 2);
    assert!(given.readings.iter().all(|r| r.by.is_empty() && r.time.is_empty() && r.after == 0));
    assert_eq!(given.exercise.as_ref().unwrap().task, "Find it.");
    let answer = Answer::open(given.exercise.as_ref().unwrap(), &to("made")).unwrap();
    assert_eq!((answer.parts_in_words(), answer.simulated), (part, false));
    assert!(!to("refused").exists());
    let message = refused(&CaseFolder::open(&to("made")).unwrap(), Truth::NothingWrong);
    assert!(message.contains("an exercise already"), "{message}");
}

#[test]
fn seeds_choose_every_scenario() {
    let chosen = |seed: u64| usize::from(Sha256::digest(seed.to_le_bytes())[0]) % scenario::NAMES.len();
    let all: std::collections::HashSet<usize> = (0..40).map(chosen).collect();
    assert_eq!(all.len(), scenario::NAMES.len());
}
