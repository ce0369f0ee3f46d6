//! `joulemark report`: the PDF read back by poppler (pdftotext, pdfinfo, pdffonts), the web page as text. The recordings are
//! simulated.

use std::{
    fs,
    path::{Path, PathBuf},
    process::{Command, Output},
};

use crate::support::{assert_refused, joulemark, pdf_text, poppler, practice, stderr, stdout, words};
use joulemark::case::{
    CaseFolder, case_log,
    case_log::LogLine,
    conclusion::{SignOff, VerdictEntry},
    device::Device,
    intervention::{Doing, Intervention},
    plan::Override,
    reading::{Quantity, ReadingEntry},
    settings::{SETTINGS_VARIABLE, Settings, Shop},
};
use joulemark_locate::repair_check::VerdictKind;
use tempfile::TempDir;

const WHEN: &str = "2026-03-01T09:30:05Z";

/// Runs the program with settings of its own.
fn report(settings: Option<&Path>, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_joulemark"));
    let none = Path::new("/no/such/settings.ron");
    command.arg("report").args(args).arg("--quiet").env(SETTINGS_VARIABLE, settings.unwrap_or(none));
    command.output().unwrap()
}

#[track_caller]
fn written(settings: Option<&Path>, case: &Path, out: &Path, more: &[&str]) -> Vec<u8> {
    let (case, file) = (case.display().to_string(), out.display().to_string());
    let mut args = vec![case.as_str(), file.as_str()];
    args.extend(more);
    let output = report(settings, &args);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    fs::read(out).unwrap()
}

/// The part that `joulemark locate` suspects first, and its share as printed.
fn first_suspect(case: &Path) -> (String, String) {
    let located = joulemark(&["locate", &case.display().to_string(), "--json", "--quiet"]);
    let document: serde_json::Value = serde_json::from_str(&stdout(&located)).unwrap();
    let first = &document["suspects"][0];
    let share = joulemark::numbers::percent(first["probability"].as_f64().unwrap());
    (first["part"].as_str().unwrap().to_owned(), share)
}

#[test]
fn a_practice_case_is_reported_and_marked_as_simulated() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    let file = folder.path().join("out.pdf");
    let first = written(None, &case, &file, &[]);
    assert!(first.starts_with(b"%PDF-"));
    let text = pdf_text(&file);
    let (part, share) = first_suspect(&case);
    for wanted in [
        "Repair report",
        "Simulated recording",
        &format!("First suspected on V5: {part}, {share}"),
        "Volts at the supply",
        "What binds it",
        "within",
        "Heat ledger",
        "current flows",
        "rise, K",
        "10 mm",
        "Local rules and licensed practice come before anything",
        "SHA-256",
        "Signature",
        concat!("Joulemark ", env!("CARGO_PKG_VERSION")),
    ] {
        assert!(text.contains(wanted), "'{wanted}' is not in: {text}");
    }
    let info = poppler("pdfinfo", &[], &file);
    let pages: usize = info.lines().find_map(|l| l.strip_prefix("Pages:")).unwrap().trim().parse().unwrap();
    assert!(info.contains("A4"), "{info}");
    assert!(info.contains("Tagged:          yes"), "{info}");
    assert!(info.contains("Title:           Repair report: "), "{info}");
    for page in 1..=pages {
        assert!(text.contains(&format!("page {page} of {pages}")), "{page}");
    }
    assert!(text.matches("Simulated recording").count() >= pages, "on every page");
    let fonts = poppler("pdffonts", &[], &file);
    let rows: Vec<&str> = fonts.lines().skip(2).collect();
    assert!(rows.len() >= 2 && rows.iter().all(|r| r.contains("OpenSans")), "{fonts}");
    // Columns: name, type, encoding, emb, sub, uni, object.
    assert!(rows.iter().all(|r| r.contains("yes yes yes")), "embedded, with text that can be copied: {fonts}");
    // Twice the same bytes, and no clock in them.
    assert_eq!(written(None, &case, &folder.path().join("again.pdf"), &[]), first);
    assert!(!info.contains("CreationDate"), "a case without times has no date: {info}");
}

#[test]
fn paper_comes_from_the_settings_and_the_flag_goes_before_it() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    let settings = folder.path().join("settings.ron");
    let logo = folder.path().join("logo.png");
    image::RgbImage::from_pixel(300, 90, image::Rgb([20, 60, 90])).save(&logo).unwrap();
    let shop = Shop {
        name: "Harbour Instruments".into(),
        address: vec!["Pier 4".into(), "Northmouth".into()],
        logo: Some(logo.clone()),
        paper: joulemark::case::settings::Paper::Letter,
    };
    let save = |shop: Shop| {
        joulemark::case::settings::save(&settings, &Settings { shop, ..Settings::default() }).unwrap();
    };
    save(shop.clone());
    let file = folder.path().join("out.pdf");
    written(Some(&settings), &case, &file, &[]);
    assert!(poppler("pdfinfo", &[], &file).contains("612 x 792 pts (letter)"));
    let text = pdf_text(&file);
    assert!(text.contains("Harbour Instruments") && text.contains("Pier 4"), "{text}");
    let images = |file: &Path| poppler("pdfimages", &["-list"], file).lines().count();
    let with_logo = images(&file);
    written(Some(&settings), &case, &file, &["--paper", "a4"]);
    assert!(poppler("pdfinfo", &[], &file).contains("(A4)"));
    // A logo that is not there is left out and said; the report is written all the same.
    save(Shop { logo: Some(folder.path().join("gone.png")), ..shop });
    let (case, out) = (case.display().to_string(), file.display().to_string());
    let output = report(Some(&settings), &[&case, &out]);
    assert_eq!(output.status.code(), Some(0));
    assert!(stderr(&output).contains("no logo on it") && stderr(&output).contains("gone.png"), "{}", stderr(&output));
    assert_eq!(images(&file), with_logo - 1);
}

/// A case with a take before and one after that draws next to nothing, readings, an override, a verdict and a signature.
fn repaired(folder: &TempDir) -> PathBuf {
    let (first, second) = (practice(folder.path(), "case", "1"), practice(folder.path(), "again", "1"));
    fs::copy(second.join("frames.tif"), first.join("after-frames.tif")).unwrap();
    let log = fs::read_to_string(second.join("log.csv")).unwrap();
    fs::write(first.join("after-log.csv"), log).unwrap();
    let mut opened = CaseFolder::open(&first).unwrap();
    let case = &mut opened.case;
    let mut after = case.takes[0].clone();
    after.name = "inject 2".into();
    after.frames = "after-frames.tif".into();
    after.log = Some("after-log.csv".into());
    after.after = 1;
    case.takes.push(after);
    case.device = Device {
        model: "Buoy radio 3".into(),
        serial: "0417".into(),
        symptom: "Pulls its supply down; <b>warm</b> & silent".into(),
        opened: "2026-02-27T08:00:00Z".into(),
    };
    let (time, by) = (WHEN.to_owned(), "Ada".to_owned());
    case.interventions.push(Intervention {
        number: 1,
        what: Doing::Replaced,
        part: "C5".into(),
        time: time.clone(),
        by: by.clone(),
    });
    for (value, after) in [(Some(0.28), 0), (Some(4700.0), 1)] {
        case.readings.push(ReadingEntry {
            rail: "V5".into(),
            quantity: Quantity::Ohms,
            value,
            after,
            meter_lead_ohms: Some(0.1),
            time: time.clone(),
            by: by.clone(),
            ..ReadingEntry::default()
        });
    }
    case.plan.overrides.push(Override {
        rail: "V5".into(),
        rule: "rail_1_a".into(),
        value: 1.2,
        reason: "The rail feeds nothing but the lamp, measured twice".into(),
        time: time.clone(),
        by: by.clone(),
    });
    case.verdicts.push(VerdictEntry {
        time: time.clone(),
        by: by.clone(),
        before: "inject 1".into(),
        after: "inject 2".into(),
        verdict: VerdictKind::Cleared,
        because: vec!["the rail reads 4.7 k ohms".into()],
        culprits: vec!["C5".into()],
    });
    case.sign_off = Some(SignOff { time, by: "Grace".into(), note: "seen".into() });
    opened.save().unwrap();
    let line = |action: &str| LogLine { time: WHEN.into(), by: "Ada".into(), action: action.into() };
    case_log::append(&first, &[line("C5 replaced"), line("verdict put on record: cleared")]).unwrap();
    first
}

#[test]
fn a_repair_with_an_override_prints_its_reason_its_numbers_and_who_signed() {
    let folder = tempfile::tempdir().unwrap();
    let case = repaired(&folder);
    let file = folder.path().join("out.pdf");
    let bytes = written(None, &case, &file, &[]);
    assert_eq!(written(None, &case, &file, &[]), bytes, "two runs give the same bytes");
    let raw = words(&poppler("pdftotext", &["-raw"], &file));
    for wanted in [
        "Serial number 0417",
        "Repair check: cleared",
        "Proven to be the fault: C5.",
        "0.28 ohms",
        "4.7 k ohms",
        "0.18 ohms",
        "Limits that were loosened",
        "The rail feeds nothing but the lamp, measured twice",
        "C5 replaced",
        "2026-03-01 09:30 UTC, Ada",
        "Signed off in the case by Grace",
        "Rise before",
        "Rise after",
        "Counts as no rise",
        "verdict put on record: cleared",
        // The same short twice: what was typed on record and what the recordings say differ, and that is said.
        "Two different verdicts",
        "The check worked out for this report says otherwise",
        "record up to 2026-03-01 09:30 UTC",
    ] {
        assert!(raw.contains(wanted), "'{wanted}' is not in: {raw}");
    }
    assert!(poppler("pdfinfo", &["-isodates"], &file).contains("2026-03-01T09:30:05"), "the case's own date");
    // The digest is the one that another program finds.
    let sum = Command::new("sha256sum").arg(case.join("after-frames.tif")).output().unwrap();
    let sum = stdout(&sum).split_whitespace().next().unwrap().to_owned();
    assert!(raw.replace(' ', "").contains(&sum), "{sum} is not in: {raw}");
}

#[test]
fn the_web_page_needs_no_other_file_and_names_cannot_become_markup() {
    let folder = tempfile::tempdir().unwrap();
    let case = repaired(&folder);
    let file = folder.path().join("out.html");
    let bytes = written(None, &case, &file, &["--paper", "letter"]);
    assert_eq!(written(None, &case, &file, &["--paper", "letter"]), bytes);
    let page = String::from_utf8(bytes).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("size:letter"));
    assert!(!page.contains("http:") && !page.contains("https:") && !page.contains("<script"), "nothing is fetched");
    let mut references = 0;
    for attribute in ["src=\"", "href=\"", "url("] {
        for (at, _) in page.match_indices(attribute) {
            assert!(page[at + attribute.len()..].starts_with("data:image/png;base64,"), "{}", &page[at..at + 60]);
            references += 1;
        }
    }
    // Two maps, each with its colour bar.
    assert_eq!(references, 4);
    assert!(page.contains("&lt;b&gt;warm&lt;/b&gt; &amp; silent") && !page.contains("<b>warm"));
    for wanted in ["<svg", "Two different verdicts", "The rail feeds nothing but the lamp", "Simulated recording"] {
        assert!(page.contains(wanted), "{wanted}");
    }
    // Both are made from one content.
    let roxml = page.replacen("<!DOCTYPE html>", "", 1);
    assert_eq!(roxml.matches("<section>").count(), roxml.matches("</section>").count());
}

#[test]
fn an_unfinished_case_has_a_report_and_a_take_that_cannot_be_located_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    let mut opened = CaseFolder::open(&case).unwrap();
    opened.case.takes[0].pairs.clear();
    opened.save().unwrap();
    let file = folder.path().join("out.pdf");
    let (name, out) = (case.display().to_string(), file.display().to_string());
    let output = report(None, &[&name, &out]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stderr(&output).contains("take 'inject 1' could not be located"), "{}", stderr(&output));
    assert!(pdf_text(&file).contains("The recording could not be located"));
    opened.case.takes.clear();
    opened.case.board = PathBuf::new();
    opened.case.notes = "word ".repeat(3000) + &"x".repeat(5000);
    opened.save().unwrap();
    written(None, &case, &file, &[]);
    let text = pdf_text(&file);
    assert!(text.contains("No recording") && text.matches("word").count() == 3000, "{}", text.len());
}

#[test]
fn what_cannot_be_written_is_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let case = practice(folder.path(), "case", "1");
    let name = case.display().to_string();
    let frames = case.join("frames.tif").display().to_string();
    let before = fs::read(&frames).unwrap();
    assert_refused(&report(None, &[&name, &frames]), "frames.tif", "a report is a PDF or a web page");
    assert_eq!(fs::read(&frames).unwrap(), before, "a recording is not written over");
    let nowhere = folder.path().join("none/out.html").display().to_string();
    assert_refused(&report(None, &[&name, &nowhere]), "out.html", "");
    let gone = folder.path().join("gone").display().to_string();
    assert_refused(&report(None, &[&gone, "out.pdf"]), "gone", "");
}
