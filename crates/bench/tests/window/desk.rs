//! The shop's library in the window: finding cases, the lead's desk, what is written for others.

use std::path::Path;

use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    case::{
        Case, CaseFolder,
        case_log::{self, LogLine},
        conclusion::VerdictEntry,
        device::Device,
        intervention::Intervention,
    },
    library::{Place, export::What, index::IndexPlace},
    window::{app::App, command::Command, desk::DeskCommand, screen::Bench},
};
use joulemark_locate::{next_action::Doing, repair_check::VerdictKind};

use crate::{common, gallery};

/// A case of the shop: cleared by a new C12 unless `still`.
fn write(library: &Path, folder: &str, serial: &str, day: u32, still: bool) {
    let verdict = if still { VerdictKind::StillThere } else { VerdictKind::Cleared };
    let done = Intervention { number: 1, what: Doing::Replaced, part: "C12".into(), ..Intervention::default() };
    let case = Case {
        name: format!("Wind logger {serial}"),
        device: Device {
            model: "Wind logger".into(),
            serial: serial.into(),
            symptom: "pulls the mast supply down".into(),
            opened: format!("2026-03-{day:02}T08:00:00Z"),
        },
        rail: "V12".into(),
        interventions: vec![done],
        verdicts: vec![VerdictEntry { verdict, culprits: vec!["C12".into()], ..VerdictEntry::default() }],
        ..Case::default()
    };
    let path = library.join(folder);
    std::fs::create_dir_all(&path).expect("the temporary folder can be written to");
    CaseFolder { folder: path.clone(), case }.save().expect("the temporary folder can be written to");
    let line = |minute: u32| LogLine {
        time: format!("2026-03-{day:02}T08:{minute:02}:00Z"),
        by: "Ada".into(),
        action: "at work".into(),
    };
    case_log::append(&path, &[line(0), line(20), line(40)]).expect("the temporary folder can be written to");
}

fn shop(library: &Path, index: &Path, size: [f32; 2]) -> Harness<'static, App> {
    write(library, "march/a", "11", 3, false);
    write(library, "march/b", "12", 9, true);
    write(library, "march/c", "11", 20, false);
    let mut app = App::with_session(common::session());
    app.own_library = Some(Place { folder: library.to_owned(), index: IndexPlace::File(index.join("index.sqlite")) });
    let mut window = common::window(app, size);
    window.state_mut().apply(Command::Desk(DeskCommand::Open));
    common::wait(&mut window, |app| found(app).is_some());
    window
}

fn found(app: &App) -> Option<usize> {
    Some(app.screen.desk.as_ref()?.page.as_ref()?.as_ref().ok()?.found.len())
}

#[test]
fn cases_are_found_by_words_and_fields_and_opened() {
    let (library, index) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut window = shop(library.path(), index.path(), [1440.0, 900.0]);
    assert_eq!(found(window.state()), Some(3));
    // The newest first, and the device that was here before says so.
    window.get_by_label_contains(
        "Case Wind logger 11, Wind logger, rail V12, cleared, waits for a signature, 2026-03-20",
    );
    window.get_by_label("Shop library").focus();
    window.run_steps(2);
    window.get_by_label("Shop library").type_text("verdict:\"still there\"");
    common::wait(&mut window, |app| found(app) == Some(1));
    window.get_by_label_contains("Case Wind logger 12, Wind logger, rail V12, still there, 2026-03-09").click();
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.document.case.device.serial == "12"));
    assert!(window.state().screen.desk.is_none(), "the case is in sight");
}

#[test]
fn the_lead_sees_what_waits_and_what_came_back() {
    let (library, index) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut window = shop(library.path(), index.path(), [1440.0, 900.0]);
    for label in [
        "Waiting for a signature: 2",
        "Comebacks: the same serial number again: 1",
        "Verdicts: cleared, 2",
        "Verdicts: still there, 1",
        "Parts put in anew: C12, 3",
        "Minutes at the bench, newest cases: march/c, 40 min",
    ] {
        assert!(window.query_by_label(label).is_some(), "{label}");
    }
    let (csv, svg) = (index.path().join("cases.csv"), index.path().join("desk.svg"));
    window.state_mut().apply(Command::Desk(DeskCommand::Export(What::Culprits, csv.clone())));
    common::wait(&mut window, |_| csv.exists());
    let text = std::fs::read_to_string(&csv).unwrap();
    assert!(text.contains("Wind logger,V12,C12,2,2"), "{text}");
    window.state_mut().apply(Command::Desk(DeskCommand::ExportPlots(svg.clone())));
    common::wait(&mut window, |_| svg.exists());
    assert!(std::fs::read_to_string(&svg).unwrap().contains(">still there<"));
    // Esc goes back to the case.
    window.state_mut().apply(Command::BackOut);
    assert!(window.state().screen.desk.is_none());
}

#[test]
fn a_search_that_cannot_be_read_says_so_in_its_place() {
    let (library, index) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut window = shop(library.path(), index.path(), [1440.0, 900.0]);
    window.get_by_label("Shop library").focus();
    window.run_steps(2);
    window.get_by_label("Shop library").type_text("from:yesterday");
    common::wait(&mut window, |app| {
        app.screen.desk.as_ref().is_some_and(|d| matches!(&d.page, Some(Err(e)) if e.contains("from:")))
    });
    assert!(window.query_by_label_contains("is no date").is_some());
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn pictures() {
    for (tag, size, bench) in
        [("large-dark", [1440.0, 900.0], Bench::Dark), ("small-light", [1024.0, 700.0], Bench::Light)]
    {
        let (library, index) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let mut window = shop(library.path(), index.path(), size);
        window.state_mut().apply(Command::SetBench(bench));
        gallery::shot(&format!("desk-{tag}"), &mut window);
    }
}
