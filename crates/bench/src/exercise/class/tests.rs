use super::*;

fn line(student: &str, attempt: usize, distance_mm: Option<f64>, points: u32) -> Line {
    Line {
        time: "2026-11-27T10:00:00Z".into(),
        student: student.into(),
        exercise: "K3TQ7A".into(),
        attempt,
        rail: "V5".into(),
        right_rail: "V12".into(),
        x_mm: Some(-1.5),
        distance_mm,
        part: "C12".into(),
        found: distance_mm == Some(0.0),
        points,
        ..Line::default()
    }
}

#[test]
fn lines_come_back_and_tell_nothing_in_clear() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("class.csv");
    let lines = [line("Ida", 1, Some(0.0), 100), line("=1+1,\"x\"", 1, Some(2.5), 60), line("@bo\nb", 2, None, 0)];
    for line in &lines {
        append(&file, line).unwrap();
    }
    let text = fs::read_to_string(&file).unwrap();
    assert_eq!(text.matches("time_utc,student,exercise,attempt,sealed").count(), 1);
    for tells in ["V12", "V5", "C12", "2.5", "100"] {
        assert!(!text.split(',').any(|cell| cell.trim() == tells), "{tells} stands in clear");
    }
    // What a spreadsheet would run stands as text.
    assert!(text.contains("\"'=1+1,\"\"x\"\"\"") && text.contains("\"'@bo\nb\""), "{text}");
    let class = read(&file).unwrap();
    assert_eq!((class.lines.as_slice(), class.faults.len()), (&lines[..], 0));
    let out = folder.path().join("clear.csv");
    export(&class, &out).unwrap();
    let mut reader = csv::Reader::from_path(&out).unwrap();
    assert_eq!(reader.headers().unwrap().len(), 18);
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!((&rows[0][4], &rows[0][5], &rows[0][11], &rows[0][17]), ("V5", "V12", "-1.50", "100"));
    assert_eq!(&rows[1][1], "'=1+1,\"x\"");
}

#[test]
fn torn_and_foreign_lines_are_said_and_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("class.csv");
    append(&file, &line("Ida", 1, None, 3)).unwrap();
    let mut whole = fs::read(&file).unwrap();
    whole.truncate(whole.len() - 200);
    fs::write(&file, &whole).unwrap();
    append(&file, &line("Bo", 1, None, 4)).unwrap();
    let class = read(&file).unwrap();
    assert_eq!((class.lines.len(), class.lines[0].student.as_str()), (1, "Bo"));
    assert!(class.faults.len() == 1 && class.faults[0].contains("line 2 is damaged"), "{:?}", class.faults);
    // Another table is left as it is.
    fs::write(&file, "name,age\n").unwrap();
    for message in [append(&file, &line("Bo", 1, None, 4)).unwrap_err(), read(&file).unwrap_err()] {
        assert_eq!(message.to_string().lines().count(), 1);
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), "name,age\n");
    let message = append(&folder.path().join("case.ron"), &line("Bo", 1, None, 4)).unwrap_err().to_string();
    assert!(message.contains("ends in .csv"), "{message}");
}

#[test]
fn many_write_at_once_and_none_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("class.csv");
    std::thread::scope(|scope| {
        for writer in 0..8 {
            let file = &file;
            scope.spawn(move || {
                for attempt in 1..=5 {
                    append(file, &line(&format!("student {writer}"), attempt, None, 1)).unwrap();
                }
            });
        }
    });
    let class = read(&file).unwrap();
    assert_eq!((class.lines.len(), class.faults.len()), (40, 0));
    let own: Vec<usize> = class.lines.iter().filter(|l| l.student == "student 3").map(|l| l.attempt).collect();
    assert_eq!(own, [1, 2, 3, 4, 5]);
}

/// Worked by hand: four first tries at 0, 1, 2 and 10 mm have their middle at 1.5 mm; points 100, 80, 70, 20 at 75.
#[test]
fn only_first_tries_count() {
    let lines = [
        line("a", 1, Some(0.0), 100),
        line("b", 1, Some(10.0), 20),
        line("c", 1, Some(1.0), 80),
        line("d", 1, Some(2.0), 70),
        line("b", 2, Some(0.0), 100),
    ];
    let summary = Summary::of(&lines);
    assert_eq!((summary.tries, summary.students, summary.found), (4, 4, 1));
    assert_eq!((summary.median_mm, summary.median_points), (Some(1.5), Some(75.0)));
    assert!(summary.words().starts_with("1 of 4 found the fault; median 1.5 mm from it; median 75 points"));
    assert_eq!(Summary::of(&[]).median_mm, None);
}

#[test]
fn a_seal_that_begins_like_a_formula_is_read_again() {
    let line = line("Ida", 1, None, 3);
    let text = serde_json::to_string(&line).unwrap();
    // One in 64 begins with a plus sign.
    let sealed = (0..5000).map(|_| seal::seal_line(&text)).find(|s| s.starts_with('+')).unwrap();
    let cell = as_text(&sealed);
    assert!(cell.starts_with('\''));
    assert_eq!(opened(&cell), Some(line));
}
