//! `joulemark handout`: the PDF read back by poppler, the GIF decoded again, the picture's pixels, the web page as text.
//! The recordings are simulated.

use std::{
    fs,
    io::Cursor,
    path::{Path, PathBuf},
    process::{Command, Output},
};

use crate::support::{assert_refused, pdf_text, poppler, practice, stderr, stdout, words};
use image::{AnimationDecoder, RgbImage, codecs::gif::GifDecoder};
use joulemark::{
    case::{
        CaseFolder,
        reading::{Quantity, ReadingEntry},
        settings::SETTINGS_VARIABLE,
    },
    layer::Layer,
    lesson::{Lesson, Mark, Plays, Shows, Space, Step, View, What, mark::Style},
};

/// Runs the program without the user's own settings.
fn handout(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_joulemark"));
    command.arg("handout").args(args).arg("--quiet").env(SETTINGS_VARIABLE, "/no/such/settings.ron");
    command.output().unwrap()
}

#[track_caller]
fn written(case: &Path, out: &Path, more: &[&str]) -> Vec<u8> {
    let (case, file) = (case.display().to_string(), out.display().to_string());
    let mut args = vec![case.as_str(), file.as_str()];
    args.extend(more);
    let output = handout(&args);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stdout(&output).contains("Handout written to"), "{}", stdout(&output));
    fs::read(out).unwrap_or_default()
}

fn mark(space: Space, what: What, reveal: u32) -> Mark {
    Mark { space, what, style: Style::default(), reveal }
}

/// A lesson of a drawing, a played map, and words, with names that try to be markup.
fn with_lessons(case: &Path, names: &[&str]) {
    let mut folder = CaseFolder::open(case).unwrap();
    let face = folder.case.takes[0].face.clone();
    let board = Space::Board(face.clone());
    let (x, y) = (20.0, 15.0);
    let drawing = Step {
        title: "The <b>board</b>".into(),
        text: "Look at *this*:\n\n1. one\n2. two\n\n<script>alert(1)</script>".into(),
        view: View { shows: Shows::Drawing { face: face.clone(), rail: None }, ..View::default() },
        marks: vec![mark(board.clone(), What::Loop { middle: [x, y], half: [6.0, 4.0] }, 0)],
        ..Step::default()
    };
    let bare = Step { marks: Vec::new(), ..drawing.clone() };
    let shows = Shows::Map { take: "inject 1".into(), layer: Layer::Frame, frame: 100, outlines: true, answer: false };
    let callout =
        What::Callout { at: [x, y], label: [x + 8.0, y + 4.0], number: 3, text: "<i>here</i> & there".into() };
    let played = Step {
        title: "It warms".into(),
        view: View { shows, ..View::default() },
        marks: vec![mark(board, callout, 1)],
        plays: Some(Plays { from: 40, to: 60, speed: 2.0 }),
        ..Step::default()
    };
    let gone = Shows::Map { take: "inject 9".into(), layer: Layer::Frame, frame: 0, outlines: true, answer: false };
    let lost = Step { title: "Gone".into(), view: View { shows: gone, ..View::default() }, ..Step::default() };
    let steps = vec![drawing, bare, played, lost];
    folder.case.lessons =
        names.iter().map(|name| Lesson { name: (*name).into(), about: String::new(), steps: steps.clone() }).collect();
    let reading = |rail: &str, value, after| ReadingEntry {
        rail: rail.into(),
        quantity: Quantity::Ohms,
        value: Some(value),
        after,
        ..ReadingEntry::default()
    };
    folder.case.readings = vec![reading("V5", 0.41, 0), reading("V5", 5100.0, 1)];
    folder.save().unwrap();
}

/// The words of some pages.
fn pages(file: &Path, from: usize, to: usize) -> String {
    let (from, to) = (from.to_string(), to.to_string());
    words(&poppler("pdftotext", &["-layout", "-f", &from, "-l", &to], file))
}

#[test]
fn a_case_without_a_lesson_gets_pages_an_exercise_and_its_answers() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    let file = folder.path().join("out.pdf");
    let first = written(&case, &file, &[]);
    assert!(first.starts_with(b"%PDF-"));
    let text = pdf_text(&file);
    let truth = CaseFolder::open(&case).unwrap().case.practice.unwrap().part.unwrap();
    for wanted in [
        "1 The board",
        "Before the current",
        "Where heat starts",
        "First suspected",
        "Exercise sheet",
        "Shorted rail",
        "Why this part and no other",
        "Local rules and licensed practice come before anything",
        "Answer sheet",
        &format!("The short is {truth} on V5"),
        "Heat ledger",
        "What binds it",
        "10 mm",
    ] {
        assert!(text.contains(wanted), "'{wanted}' is not in: {text}");
    }
    let info = poppler("pdfinfo", &[], &file);
    let count: usize = info.lines().find_map(|l| l.strip_prefix("Pages:")).unwrap().trim().parse().unwrap();
    assert!(
        info.contains("A4") && info.contains("Tagged:          yes") && info.contains("Title:           Handout: ")
    );
    assert!(text.matches("Simulated recording").count() >= count, "on every page");
    let fonts = poppler("pdffonts", &[], &file);
    assert!(fonts.lines().skip(2).all(|r| r.contains("OpenSans") && r.contains("yes yes yes")), "{fonts}");
    // Each sheet begins on a page of its own, and the exercise gives nothing away.
    let all: Vec<String> = (1..=count).map(|n| pages(&file, n, n)).collect();
    let exercise = all.iter().position(|p| p.contains("Exercise sheet")).unwrap();
    let answers = all.iter().position(|p| p.contains("Answer sheet")).unwrap();
    assert!(exercise > 0 && answers > exercise);
    for page in &all[exercise..answers] {
        for tell in ["The short is", "uspect", "Hot spot", "hot spot", "robability", "Heat ledger", "crossed"] {
            assert!(!page.contains(tell), "'{tell}' on the exercise sheet: {page}");
        }
    }
    assert!(!all[answers].contains("Your answer"));
    assert_eq!(written(&case, &folder.path().join("again.pdf"), &[]), first, "the same case, the same bytes");
}

#[test]
fn what_is_left_out_is_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    let file = folder.path().join("out.pdf");
    written(&case, &file, &["--without-answers", "--paper", "letter"]);
    let text = pdf_text(&file);
    assert!(text.contains("Exercise sheet") && text.contains("Before the current"), "{text}");
    for gone in ["Answer sheet", "4 Where heat starts", "First suspected", "The short is"] {
        assert!(!text.contains(gone), "'{gone}': {text}");
    }
    assert!(poppler("pdfinfo", &[], &file).contains("612 x 792 pts (letter)"));
    written(&case, &file, &["--exercise-only"]);
    let text = pdf_text(&file);
    assert!(text.contains("Exercise sheet") && !text.contains("Before the current") && !text.contains("Answer sheet"));
}

#[test]
fn pages_show_a_lessons_marks_and_words_and_only_the_readings_as_it_came_in() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    with_lessons(&case, &["Heat"]);
    let file = folder.path().join("out.pdf");
    let output = handout(&[&case.display().to_string(), &file.display().to_string()]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stderr(&output).contains("step 4: Take 'inject 9' is not in this case"), "{}", stderr(&output));
    let text = pdf_text(&file);
    for wanted in ["1 The <b>board</b>", "Look at this:", "1. one", "<script>alert(1)</script>", "<i>here</i> & there"]
    {
        assert!(text.contains(wanted), "'{wanted}' is not in: {text}");
    }
    assert!(text.contains("0.41 ohms") && !text.contains("5.1 k ohms"), "a later reading tells what was done: {text}");
}

#[test]
fn an_animation_has_the_recordings_frames_and_times() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    with_lessons(&case, &["Heat"]);
    let file = folder.path().join("out.gif");
    let bytes = written(&case, &file, &[]);
    let frames = GifDecoder::new(Cursor::new(bytes)).unwrap().into_frames().collect_frames().unwrap();
    assert_eq!(frames.len(), 21, "frames 40 to 60");
    // The log's own times, at twice the speed, in the hundredths of a second that a GIF counts in.
    let log = fs::read_to_string(case.join("log.csv")).unwrap();
    let times: Vec<f64> = log.lines().skip(1).map(|l| l.split(',').nth(1).unwrap().parse().unwrap()).collect();
    for (i, frame) in frames[..20].iter().enumerate() {
        let (numerator, denominator) = frame.delay().numer_denom_ms();
        let delay_ms = f64::from(numerator) / f64::from(denominator);
        let wanted_ms = 1000.0 * (times[41 + i] - times[40 + i]) / 2.0;
        assert!((delay_ms - wanted_ms).abs() <= 10.0, "frame {i}: {delay_ms} ms, {wanted_ms} ms");
    }
    let picture = |i: usize| frames[i].buffer().clone();
    let (a, b) = (picture(0), picture(20));
    let differ = a.pixels().zip(b.pixels()).filter(|(a, b)| a != b).count();
    assert!(differ > 1000, "{differ} pixels differ between the first and the last frame");
}

/// The smallest rectangle around the pixels for which something holds: left, top, right, bottom.
fn extent(picture: &RgbImage, holds: impl Fn(u32, u32) -> bool) -> [u32; 4] {
    let mut extent = [u32::MAX, u32::MAX, 0, 0];
    for (x, y, _) in picture.enumerate_pixels().filter(|(x, y, _)| holds(*x, *y)) {
        extent = [extent[0].min(x), extent[1].min(y), extent[2].max(x), extent[3].max(y)];
    }
    extent
}

#[test]
fn a_picture_has_its_mark_where_the_millimetres_say() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    with_lessons(&case, &["Heat"]);
    let picture = |step: &str| {
        let file = folder.path().join(format!("{step}.png"));
        written(&case, &file, &["--step", step]);
        image::open(&file).unwrap().to_rgb8()
    };
    let (marked, bare) = (picture("1"), picture("2"));
    assert_eq!(marked.dimensions(), bare.dimensions());
    assert!(marked.width() > 800 && marked.height() > 500, "{:?}", marked.dimensions());
    // The board's outline is the outermost dark line of the bare drawing above its scale bar.
    let opened = CaseFolder::open(&case).unwrap();
    let board = opened.board().unwrap();
    let outline = &board.face(&opened.case.takes[0].face).unwrap().outline;
    let span = |axis: usize| {
        let values = outline.iter().map(|c| c[axis]);
        (values.clone().fold(f64::MAX, f64::min), values.fold(f64::MIN, f64::max))
    };
    let ((x0, x1), (y0, _)) = (span(0), span(1));
    let above = bare.height() * 4 / 5;
    let dark = extent(&bare, |x, y| y < above && bare.get_pixel(x, y).0[0] < 100);
    let px_per_mm = f64::from(dark[2] - dark[0]) / (x1 - x0);
    let ring = extent(&marked, |x, y| marked.get_pixel(x, y) != bare.get_pixel(x, y));
    let middle = [f64::from(ring[0] + ring[2]) / 2.0, f64::from(ring[1] + ring[3]) / 2.0];
    let wanted = [f64::from(dark[0]) + (20.0 - x0) * px_per_mm, f64::from(dark[1]) + (15.0 - y0) * px_per_mm];
    for axis in 0..2 {
        assert!((middle[axis] - wanted[axis]).abs() < 4.0, "{middle:?} px, {wanted:?} px");
    }
    // 12 mm wide, and a line with its edge: some 8 pixels more.
    let wide = f64::from(ring[2] - ring[0]);
    assert!((wide - 12.0 * px_per_mm).abs() < 12.0, "{wide} px, {} px", 12.0 * px_per_mm);
}

#[test]
fn the_web_page_needs_no_other_file_and_texts_cannot_become_markup() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    with_lessons(&case, &["Heat \"<'&"]);
    let file = folder.path().join("out.html");
    let bytes = written(&case, &file, &[]);
    assert_eq!(written(&case, &folder.path().join("again.html"), &[]), bytes);
    assert!(bytes.len() < joulemark::handout::HTML_MOST_BYTES, "{} bytes", bytes.len());
    let page = String::from_utf8(bytes).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("default-src 'none'"));
    assert_eq!((page.matches("<script").count(), page.matches("<style").count()), (1, 1), "the page's own");
    assert!(!page.contains("http:") && !page.contains("https:") && !page.contains("@import"), "nothing is fetched");
    for attribute in [" src=\"", " href=\"", "url("] {
        for (at, _) in page.match_indices(attribute) {
            assert!(page[at + attribute.len()..].starts_with("data:image/png;base64,"), "{}", &page[at..at + 60]);
        }
    }
    for wanted in [
        "The &lt;b&gt;board&lt;/b&gt;",
        "&lt;script&gt;alert(1)&lt;/script&gt;",
        "&lt;i&gt;here&lt;/i&gt; &amp; there",
        "data-reveal=\"1\"",
        "aria-live=\"polite\"",
        "Take 'inject 9' is not in this case",
        "Simulated recording",
        "prefers-color-scheme",
    ] {
        assert!(page.contains(wanted), "{wanted}");
    }
    assert_eq!(page.matches("<section").count(), 4);
}

#[test]
fn a_folder_gets_all_of_them() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    with_lessons(&case, &["Heat"]);
    let out = folder.path().join("class");
    written(&case, &out, &[]);
    let mut names: Vec<String> =
        fs::read_dir(&out).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    assert_eq!(names, ["handout.pdf", "lesson.html", "step-01.png", "step-02.png", "step-03.gif", "step-03.png"]);
}

#[test]
fn mistakes_are_told_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    with_lessons(&case, &["Heat", "Limits"]);
    let at = |path: &Path| path.display().to_string();
    let out = |name: &str| at(&folder.path().join(name));
    let (case_name, log): (String, PathBuf) = (at(&case), case.join("log.csv"));
    let refused = |args: &[&str], file: &str, wanted: &str| {
        let mut all = vec![case_name.as_str()];
        all.extend(args);
        assert_refused(&handout(&all), file, wanted);
    };
    refused(&[&out("a.pdf")], "case.ron", "there are 2 lessons: 'Heat', 'Limits'");
    refused(&[&out("a.pdf"), "--lesson", "Cold"], "case.ron", "its lessons are 'Heat', 'Limits'");
    refused(&[&out("a.pdf"), "--lesson", "Heat", "--take", "inject 7"], "case.ron", "no take is named 'inject 7'");
    refused(&[&at(&log), "--lesson", "Heat"], "log.csv", "give a name that ends in");
    refused(&[&case_name, "--lesson", "Heat"], "case", "among the case's own files");
    refused(&[&out("a.pdf"), "--lesson", "Heat", "--step", "2"], "--step", "give OUT.png or OUT.gif");
    refused(&[&out("a.png"), "--lesson", "Heat", "--step", "9"], "--step", "the lesson has 4 steps");
    refused(&[&out("a.png"), "--lesson", "Heat", "--step", "4"], "case", "'inject 9' is not in this case");
    refused(&[&out("a.gif"), "--lesson", "Heat", "--step", "1"], "case", "shows no recording");
    refused(&[&out("a.html"), "--lesson", "Heat", "--exercise-only"], "--exercise-only", "give OUT.pdf");
    assert!(fs::read_to_string(&log).unwrap().starts_with("frame,time_s"), "the log is as it was");
}
