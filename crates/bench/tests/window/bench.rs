//! What is measured, acknowledged and done at the bench, by accessible label.

use egui::{Key, Modifiers};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    case::{
        case_log,
        intervention::Doing,
        reading::{Quantity, ReadingEntry},
    },
    window::{app::App, command::Command, document::Edit, readings::ReadingsCommand, stage::Stage},
};

use crate::common;

type Window = Harness<'static, App>;

fn session(window: &Window) -> &joulemark::window::session::Session {
    window.state().session.as_ref().expect("open")
}

fn readings(window: &Window) -> Vec<ReadingEntry> {
    session(window).document.case.readings.clone()
}

/// Types into a field and leaves it with Enter.
fn enter(window: &mut Window, field: &str, text: &str) {
    window.get_by_label(field).focus();
    window.run_steps(2);
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.get_by_label(field).type_text(text);
    window.run_steps(2);
    window.key_press(Key::Enter);
    window.run_steps(3);
}

fn at_readings() -> Window {
    let mut window = common::opened();
    window.state_mut().set_by("Ada");
    window.key_press(Key::Num1);
    window.run();
    window
}

#[test]
fn readings_are_typed_rail_by_rail_and_undo() {
    let mut window = at_readings();
    window.get_by_label("V12, ohms").focus();
    window.run_steps(2);
    window.get_by_label("V12, ohms").type_text("0.2");
    window.run_steps(2);
    window.key_press(Key::Enter);
    window.run_steps(3);
    // Enter took it and went on to the next rail.
    assert!(window.get_by_label("V5, ohms").is_focused());
    window.get_by_label("V5, ohms").type_text("4k7");
    window.run_steps(2);
    window.key_press(Key::Enter);
    window.run_steps(3);
    let taken = readings(&window);
    let values: Vec<_> = taken.iter().map(|r| (r.rail.as_str(), r.quantity, r.value, r.by.as_str())).collect();
    let ohms = Quantity::Ohms;
    assert_eq!(values, [("V12", ohms, Some(0.2), "Ada"), ("V5", ohms, Some(4700.0), "Ada")]);

    enter(&mut window, "V12, diode, red on ground", "412 mV");
    assert_eq!(readings(&window)[2].value, Some(0.412));
    enter(&mut window, "V5, volts", "OL");
    assert_eq!((readings(&window)[3].quantity, readings(&window)[3].value), (Quantity::Volts, None));

    for left in (0..4).rev() {
        window.state_mut().apply(Command::Undo);
        window.run_steps(2);
        assert_eq!(readings(&window).len(), left);
    }
    window.state_mut().apply(Command::Redo);
    window.run_steps(2);
    assert_eq!(readings(&window)[0].value, Some(0.2));
    // The log keeps what undo took back.
    let log: Vec<&str> = session(&window).journal.lines().iter().map(|l| l.action.as_str()).collect();
    assert!(
        log.contains(&"measured V12, ohms: 0.2 ohms") && log.contains(&"undone: enter V12, ohms: 0.2 ohms"),
        "{log:?}"
    );
}

#[test]
fn what_is_no_reading_changes_nothing_and_says_why() {
    let mut window = at_readings();
    enter(&mut window, "V12, ohms", "0.2 V");
    assert!(readings(&window).is_empty());
    // Said beside the table and with the field, where the cursor stays.
    assert_eq!(window.query_all_by_label_contains("the unit belongs to another column").count(), 2);
    assert!(window.get_by_label_contains("V12, ohms: ").is_focused());
    window.key_press(Key::Escape);
    window.run_steps(3);
    assert!(readings(&window).is_empty());
    window.get_by_label("V12, ohms");
}

#[test]
fn meter_leads_polarity_and_the_other_lead_are_kept_with_the_reading() {
    let mut window = at_readings();
    enter(&mut window, "meter's leads, ohms", "0,15");
    enter(&mut window, "V12, ohms", "0.35");
    assert_eq!(readings(&window)[0].meter_lead_ohms, Some(0.15));
    window.get_by_label("diode: red on ground").click();
    window.run();
    enter(&mut window, "V12, diode, red on rail", "0.5");
    window.state_mut().screen.readings.against = "V5".into();
    window.run_steps(2);
    enter(&mut window, "V12, ohms", "12");
    let taken = readings(&window);
    assert_eq!(taken[1].quantity, Quantity::DiodeRedOnRail);
    assert_eq!((taken[2].against.as_str(), taken[2].value), ("V5", Some(12.0)));
}

#[test]
fn a_meters_log_is_seen_before_it_is_taken_and_undoes_in_one_step() {
    let mut window = at_readings();
    window.state_mut().apply(Command::Readings(ReadingsCommand::Paste(true)));
    window.run_steps(3);
    window.get_by_label("The meter's log").type_text("V12 0.2\nV5;4,7;kOhm\nhello");
    window.run_steps(3);
    window.get_by_label_contains("left out: no value in it");
    assert!(readings(&window).is_empty(), "nothing is taken unasked");
    window.get_by_label("Take 2 readings in").click();
    window.run_steps(3);
    let values: Vec<_> = readings(&window).iter().map(|r| (r.rail.clone(), r.value)).collect();
    assert_eq!(values, [("V12".to_owned(), Some(0.2)), ("V5".to_owned(), Some(4700.0))]);
    window.state_mut().apply(Command::Undo);
    assert!(readings(&window).is_empty());
}

#[test]
fn readings_after_a_lift_are_kept_apart_and_the_earlier_one_is_said() {
    let mut window = at_readings();
    enter(&mut window, "V12, ohms", "0.2");
    window.state_mut().apply(Command::AskDone(Doing::Lifted, "C12".into()));
    window.run_steps(3);
    window.get_by_label("Put it in the log").click();
    window.run_steps(3);
    assert_eq!(session(&window).document.case.interventions[0].words(), "C12 lifted");
    enter(&mut window, "V12, ohms", "OL");
    let taken = readings(&window);
    assert_eq!((taken.len(), taken[1].after, taken[1].value), (2, 1, None));
    window.get_by_label_contains("was 0.2 ohms");
    window.state_mut().apply(Command::Undo);
    window.state_mut().apply(Command::Undo);
    assert!(session(&window).document.case.interventions.is_empty());
}

#[test]
fn injection_is_not_marked_before_the_cautions_are_acknowledged() {
    let mut window = common::opened();
    let mark = || Command::Edit(Edit::InjectFrom { take: common::TAKE.into(), frame: Some(38) });
    let marked = |window: &Window| session(window).document.take(common::TAKE).and_then(|t| t.inject_from);
    window.state_mut().apply(mark());
    window.run_steps(3);
    assert_eq!(marked(&window), None);
    window.get_by_label_contains("Not marked: acknowledge ");
    let cautions: Vec<String> = session(&window).open_cautions().iter().map(|c| c.id.clone()).collect();
    for needed in ["battery", "polarity", "limits_set"] {
        assert!(cautions.iter().any(|c| c == needed), "{cautions:?}");
    }
    // Acknowledging needs somebody who does.
    window.state_mut().apply(Command::Acknowledge("battery".into(), true));
    assert_eq!(session(&window).open_cautions().len(), cautions.len());
    enter(&mut window, "at the bench", "Ada");
    for caution in &cautions {
        // As an assistive technology sends it: a low window scrolls the list.
        window.get_by_label_contains(&format!("Acknowledge {}: ", caution.replace('_', " "))).click_accesskit();
        window.run_steps(3);
    }
    window.state_mut().apply(mark());
    window.run_steps(2);
    assert_eq!(marked(&window), Some(38));
    let said = &session(&window).document.connection().expect("connected").acknowledged;
    assert!(said.len() == cautions.len() && said.iter().all(|a| a.by == "Ada" && a.time.ends_with('Z')), "{said:?}");

    // Another connection asks again; so does another rail; the log of the take needs no hands.
    window.state_mut().apply(Command::NewConnection);
    window.state_mut().apply(Command::Edit(Edit::InjectFrom { take: common::TAKE.into(), frame: Some(39) }));
    assert_eq!(marked(&window), Some(38));
    window.state_mut().apply(Command::Edit(Edit::InjectFrom { take: common::TAKE.into(), frame: None }));
    assert_eq!(marked(&window), None);
}

#[test]
fn an_acknowledgement_undoes_and_the_gate_is_shut_again() {
    let mut window = common::opened();
    window.state_mut().set_by("Ada");
    let all = session(&window).open_cautions();
    for caution in &all {
        window.state_mut().apply(Command::Acknowledge(caution.id.clone(), true));
    }
    assert!(session(&window).open_cautions().is_empty());
    window.state_mut().apply(Command::Undo);
    assert_eq!(session(&window).open_cautions(), all[all.len() - 1..]);
    window.state_mut().apply(Command::Edit(Edit::Rail("V5".into())));
    assert_eq!(session(&window).open_cautions(), all, "another rail is another connection");
}

#[test]
fn survey_points_are_clicked_or_named_and_their_millivolts_typed() {
    let mut window = at_readings();
    window.get_by_label("Millivolt survey").click();
    window.run_steps(3);
    enter(&mut window, "point at part", "c12");
    assert!(window.get_by_label("Point 1, millivolts").is_focused());
    enter(&mut window, "Point 1, millivolts", "1.2");
    enter(&mut window, "point at part", "C14");
    enter(&mut window, "Point 2, millivolts", "3,4 mV");
    enter(&mut window, "point at part", "Q99");
    window.get_by_label_contains("no part is called Q99");
    let points = &session(&window).survey().expect("begun").points;
    let read: Vec<_> = points.iter().map(|p| (p.x_mm, p.y_mm, p.millivolts)).collect();
    assert_eq!(read, [(9.0, 7.0, Some(1.2)), (5.0, 12.0, Some(3.4))]);
    // A click on the board is a point too.
    let canvas = window.get_by_label("Drawing of top").rect();
    window.hover_at(canvas.center());
    window.run_steps(2);
    window.drag_at(canvas.center());
    window.drop_at(canvas.center());
    window.run_steps(3);
    assert_eq!(session(&window).survey().expect("begun").points.len(), 3);
    window.get_by_label("Take point 3 away").click();
    window.run_steps(3);
    assert_eq!(session(&window).survey().expect("begun").points.len(), 2);
    window.key_press(Key::Escape);
    window.run_steps(2);
    assert!(window.state().screen.survey.is_none());
}

#[test]
fn everything_done_reaches_the_log_on_the_disk_with_time_and_name() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let mut window = common::opened();
    window.state_mut().set_by("Ada");
    window.state_mut().session.as_mut().expect("open").folder = Some(folder.path().to_owned());
    window.state_mut().apply(Command::SetStage(Stage::Readings));
    let command = ReadingsCommand::Enter { rail: "V12".into(), quantity: Quantity::Ohms, value: Some(Some(0.2)) };
    window.state_mut().apply(Command::Readings(command));
    window.state_mut().apply(Command::Did(Doing::Lifted, "C12".into()));
    window.state_mut().apply(Command::Undo);
    let written = || case_log::read(folder.path()).expect("reads").lines;
    common::wait(&mut window, |_| written().len() >= 3 && written().iter().any(|l| l.action.starts_with("undone")));
    let lines = written();
    let actions: Vec<&str> = lines.iter().map(|l| l.action.as_str()).collect();
    for action in ["measured V12, ohms: 0.2 ohms", "C12 lifted", "undone: note that C12 lifted"] {
        assert!(actions.contains(&action), "{action} is not in {actions:?}");
    }
    assert!(lines.iter().filter(|l| l.action != "case opened").all(|l| l.by == "Ada" && l.time.len() == 20));
    window.state_mut().apply(Command::CaseLog(true));
    window.run_steps(3);
    window.get_by_label("C12 lifted");
}
