//! What is measured, acknowledged and done at the bench, by accessible label.

use egui::{Key, Modifiers};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    case::{
        case_log,
        intervention::Doing,
        reading::{Quantity, ReadingEntry},
    },
    window::{app::App, command::Command, document::Edit, plan::PlanCommand, readings::ReadingsCommand, stage::Stage},
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

#[test]
fn readings_rank_the_rails_and_lead_to_a_plan() {
    let mut window = at_readings();
    enter(&mut window, "meter's leads, ohms", "0.15");
    enter(&mut window, "V5, ohms", "4k7");
    enter(&mut window, "V12, ohms", "0.35");
    enter(&mut window, "V12, diode, red on ground", "3 mV");
    let judged = session(&window).judged();
    assert_eq!((judged.ranked[0].rail.as_str(), judged.ranked[0].words.as_str()), ("V12", "shorted"));
    assert!(window.query_all_by_label_contains("shorted").next().is_some());
    // What the plan expects comes from the measured resistance, the meter's leads taken off.
    let steps = &judged.plan.steps;
    assert!(steps.len() > 1 && judged.plan.refusals.is_empty());
    assert_eq!((steps[0].volts.text.as_str(), steps[0].amps.text.as_str()), ("0.3 V", "1 A"));
    assert!(steps[0].expected.iter().any(|e| e.ends_with(" A")), "{:?}", steps[0].expected);
    window.state_mut().apply(Command::SetStage(Stage::Injection));
    window.run_steps(3);
    window.get_by_label_contains("measured 0.35 ohms");
    window.get_by_label_contains("Step 2: up to ").click();
    window.run_steps(3);
    assert_eq!(session(&window).document.case.plan.step, 1);
    assert_eq!(session(&window).limits_in_words(), Some(format!("{}, {}", steps[1].volts.text, steps[1].amps.text)));
    window.state_mut().apply(Command::Undo);
    assert_eq!(session(&window).document.case.plan.step, 0);
}

#[test]
fn unknown_supplies_and_rails_without_volts_make_the_plan_stricter() {
    let mut window = common::opened();
    window.key_press(Key::Num2);
    window.run_steps(3);
    enter(&mut window, "supply up to, A", "0,4");
    assert_eq!(session(&window).document.case.plan.supply_most_amps, Some(0.4));
    assert!(session(&window).limits_in_words().expect("allowed").ends_with(", 0.4 A"));
    enter(&mut window, "supply up to, A", "many");
    assert_eq!(session(&window).document.case.plan.supply_most_amps, Some(0.4));
    window.get_by_label_contains("'many' is not a number");
    enter(&mut window, "supply from, V", "1.2");
    assert_eq!(session(&window).limits_in_words(), None, "a supply that cannot go low enough is refused");
    window.get_by_label("Do not inject");
}

#[test]
fn an_override_needs_a_name_and_a_reason_and_stays_in_sight() {
    let mut window = common::opened();
    window.key_press(Key::Num2);
    window.run_steps(3);
    let rule = session(&window).judged().plan.loosened.first().expect("something may be loosened").clone();
    let over = |reason: &str| {
        let (rule, value) = (rule.rule.clone(), rule.value * 1.1);
        Command::Plan(PlanCommand::Override { rule, value, reason: reason.into() })
    };
    let overrides = |window: &Window| session(window).document.case.plan.overrides.clone();
    window.state_mut().apply(over("camera sees nothing below"));
    window.run_steps(2);
    assert!(overrides(&window).is_empty());
    window.get_by_label_contains("say who is at the bench first");
    window.state_mut().set_by("Ada");
    window.state_mut().apply(over("because"));
    window.run_steps(2);
    assert!(overrides(&window).is_empty());
    window.get_by_label_contains("needs a reason in words");
    window.state_mut().apply(over("camera sees nothing below"));
    window.run_steps(3);
    let made = overrides(&window);
    assert_eq!((made[0].by.as_str(), made[0].reason.as_str()), ("Ada", "camera sees nothing below"));
    // On the card and beside the ladder.
    assert_eq!(window.query_all_by_label_contains("Override in force").count(), 2);
    window.state_mut().apply(Command::Undo);
    window.run_steps(2);
    assert!(overrides(&window).is_empty());
    assert!(window.query_all_by_label_contains("Override in force").next().is_none());
}

#[test]
fn after_a_lift_the_next_action_measures_again_and_takes_the_hand_there() {
    let mut window = at_readings();
    enter(&mut window, "V12, ohms", "0.2");
    window.state_mut().apply(Command::Did(Doing::Lifted, "C12".into()));
    window.run_steps(3);
    let next = session(&window).judged().next.clone().expect("something to do");
    assert!(next.words.contains("V12") && next.because.contains("another short may be in parallel"), "{next:?}");
    window.state_mut().apply(Command::SetStage(Stage::Suspects));
    window.run_steps(3);
    window.get_by_label(&next.words).click();
    window.run_steps(4);
    assert_eq!(window.state().screen.stage, Stage::Readings);
    assert!(window.get_by_label("V12, ohms").is_focused());
}

#[test]
fn a_take_that_left_its_plan_is_marked_on_the_strip_and_on_the_card() {
    use std::sync::Arc;
    let mut session = common::session();
    let mut view = (**session.view().expect("a view")).clone();
    let mut take = (*view.take).clone();
    for frame in 60..70 {
        take.timeline.volts[frame] = Some(0.9);
    }
    (view.take, view.serial) = (Arc::new(take), u64::MAX);
    session.views.insert(common::TAKE.into(), Arc::new(view));
    let mut window = common::window(App::with_session(session), [1440.0, 900.0]);
    window.run_steps(3);
    let judged = window.state().session.as_ref().expect("open").judged();
    let over = judged.watch.iter().find(|e| e.stop && e.frames.contains(&60)).expect("the volts are over").clone();
    window.get_by_label(&format!("Mark: {}", over.said)).click();
    window.run_steps(3);
    assert_eq!(window.state().screen.frame, *over.frames.start());
    assert!(window.query_all_by_label("Stop").next().is_some());
    assert!(window.query_all_by_label(&over.words).next().is_some());
}

#[test]
fn before_filming_asks_what_only_a_person_can_answer() {
    let mut window = common::opened();
    window.state_mut().apply(Command::BeforeFilming(true));
    window.run_steps(3);
    let open = session(&window).judged().ready.iter().filter(|item| !item.state.fine()).count();
    window.get_by_label("In focus on the board").click();
    window.run_steps(3);
    let left = session(&window).judged().ready.iter().filter(|item| !item.state.fine()).count();
    assert_eq!(left, open - 1);
    assert_eq!(session(&window).document.case.plan.ready, ["focus"]);
    window.state_mut().apply(Command::Undo);
    assert!(session(&window).document.case.plan.ready.is_empty());
}

#[test]
fn the_bench_card_is_a_page_with_the_figures_of_the_plan() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let file = folder.path().join("card.html");
    let mut window = common::opened();
    let pick = joulemark::window::command::Pick::BenchCard;
    window.state_mut().apply(Command::Typed(pick, Some(file.clone())));
    common::wait(&mut window, |_| file.exists());
    let page = std::fs::read_to_string(&file).expect("written");
    assert!(page.contains("V12") && page.contains("0.3 V") && page.contains("Before current flows"), "{page}");
}
