//! The repair check: two takes on one board, the verdict, what goes on record.

use std::sync::Arc;

use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    case::{
        intervention::Intervention,
        reading::{Quantity, ReadingEntry},
        shows::Shows,
    },
    window::{
        app::App,
        command::Command,
        compare::{CompareCommand, How},
        document::Document,
        screen::Bench,
        session::{Inputs, Session, TakeView},
        stage::Stage,
    },
};
use joulemark_locate::{next_action::Doing, repair_check::VerdictKind};

use crate::{common, gallery};

const AFTER: &str = "after the repair";

/// A case that was repaired: C12 replaced, filmed again cold and without current, measured again.
fn repaired() -> Session {
    let before = common::session();
    let mut document: Document = before.document.clone();
    let case = &mut document.case;
    let done = |number, what| Intervention { number, what, part: "C12".into(), ..Intervention::default() };
    case.interventions = vec![done(1, Doing::Lifted), done(2, Doing::Replaced)];
    let ohms = |value, after| ReadingEntry {
        rail: "V12".into(),
        quantity: Quantity::Ohms,
        value: Some(value),
        after,
        ..ReadingEntry::default()
    };
    case.readings = vec![ohms(0.25, 0), ohms(12_000.0, 2)];
    let mut entry = case.takes[0].clone();
    (entry.name, entry.after) = (AFTER.into(), 2);
    case.takes.push(entry);
    let cold = common::blank_session();
    let mut take = (*cold.view().expect("a view").take).clone();
    take.name = AFTER.into();
    for (frame, on) in take.timeline.injecting.clone().into_iter().enumerate() {
        take.timeline.amps[frame] = Some(if on { 0.001 } else { 0.0 });
    }
    let located = cold.view().expect("a view").located.clone();
    let inputs = Inputs::of(&document, AFTER).expect("the take is there");
    let view = TakeView::new(Arc::new(take), located, inputs, &before.board);
    let first = (**before.view().expect("a view")).clone();
    Session::new(Some("/tmp/buoy".into()), document, Arc::clone(&before.board)).with_view(first).with_view(view)
}

fn at_the_check(size: [f32; 2]) -> Harness<'static, App> {
    let mut window = common::window(App::with_session(repaired()), size);
    window.state_mut().set_by("Ada");
    window.state_mut().apply(Command::SetStage(Stage::RepairCheck));
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.compared().is_some()));
    window
}

fn case(window: &Harness<'_, App>) -> joulemark::case::Case {
    window.state().session.as_ref().expect("a case").document.case.clone()
}

#[test]
fn a_repair_is_compared_by_itself_recorded_and_signed() {
    let mut window = at_the_check([1440.0, 900.0]);
    let compared = window.state().session.as_ref().unwrap().compared().unwrap().clone();
    assert_eq!(compared.names(), (common::TAKE, AFTER));
    assert_eq!(compared.check.verdict.kind, VerdictKind::Cleared, "{:?}", compared.check.verdict);
    assert!(window.query_by_label("Cleared").is_some());
    window.get_by_label("Put this verdict on record").click();
    window.run_steps(3);
    let recorded = case(&window);
    assert_eq!(recorded.confirmed_culprits(), ["C12"]);
    assert_eq!(recorded.verdicts[0].by, "Ada");
    window.get_by_label("Sign off").click_accesskit();
    window.run_steps(3);
    assert_eq!(case(&window).sign_off.map(|s| s.by), Some("Ada".into()));
    // Both undo.
    window.state_mut().apply(Command::Undo);
    window.state_mut().apply(Command::Undo);
    assert!(case(&window).sign_off.is_none() && case(&window).verdicts.is_empty());
}

#[test]
fn a_verdict_without_a_name_is_refused_in_words() {
    let mut window = at_the_check([1440.0, 900.0]);
    window.state_mut().set_by("");
    window.state_mut().apply(Command::Compare(CompareCommand::Record));
    assert!(case(&window).verdicts.is_empty());
    assert!(window.state().screen.said.as_deref().is_some_and(|s| s.contains("who is at the bench")));
}

#[test]
fn every_layout_shows_both_takes_and_keeps_the_zoom() {
    let mut window = at_the_check([1440.0, 900.0]);
    for (how, words) in
        [(How::Wipe, "Wipe"), (How::Blink, "Blink"), (How::Difference, "Difference"), (How::SideBySide, "Side by side")]
    {
        window.get_by_label(words).click();
        window.step();
        window.step();
        assert_eq!(window.state().screen.compare.how, how);
        let label = format!("Comparison: {}, {} before, {AFTER} after", words.to_lowercase(), common::TAKE);
        assert!(window.query_by_label(&label).is_some(), "{label}");
        // Blinking shows the other one when asked, and stops doing it by itself.
        if how == How::Blink {
            window.get_by_label("by itself").click();
            window.step();
            window.step();
            let was = window.state().screen.compare.after_in_sight;
            window.get_by_label("Show the other").click();
            window.step();
            window.step();
            let compare = &window.state().screen.compare;
            assert!(compare.after_in_sight != was && !compare.blinking);
        }
    }
    // Time moves in both takes alike.
    window.state_mut().apply(Command::StepFrame(10));
    window.run_steps(2);
    let compare = &window.state().screen.compare;
    assert!(compare.at_time && (compare.since_onset_s - 1.0).abs() < 1e-6, "{}", compare.since_onset_s);
}

#[test]
fn one_take_says_what_is_missing() {
    let mut window = common::opened();
    window.state_mut().apply(Command::SetStage(Stage::RepairCheck));
    window.run_steps(3);
    assert!(window.query_by_label("Add the take after the repair").is_some());
    assert!(window.state().session.as_ref().unwrap().compared().is_none());
}

#[test]
fn the_device_is_described_once_and_undone_as_one() {
    let mut window = common::opened();
    window.state_mut().apply(Command::Device);
    window.run_steps(3);
    window.get_by_label("serial number").type_text("0417");
    window.run_steps(2);
    window.get_by_label("Take it over").click();
    window.run_steps(3);
    assert_eq!(case(&window).device.serial, "0417");
    // The drawing's own name stands for the model.
    assert_eq!(case(&window).device.model, "");
    window.state_mut().apply(Command::Undo);
    assert_eq!(case(&window).device.serial, "");
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn pictures() {
    for (tag, size, bench) in
        [("large-dark", [1440.0, 900.0], Bench::Dark), ("small-light", [1024.0, 700.0], Bench::Light)]
    {
        for how in How::ALL {
            let mut window = at_the_check(size);
            window.state_mut().apply(Command::SetBench(bench));
            window.state_mut().apply(Command::Compare(CompareCommand::How(how)));
            if how == How::Wipe {
                window.state_mut().apply(Command::Compare(CompareCommand::Record));
            }
            let name = how.words().to_lowercase().replace(' ', "-");
            gallery::shot(&format!("compare-{name}-{tag}"), &mut window);
        }
        let mut window = common::window(App::with_session(common::session()), size);
        window.state_mut().apply(Command::SetBench(bench));
        window.state_mut().apply(Command::SetStage(Stage::RepairCheck));
        gallery::shot(&format!("compare-one-take-{tag}"), &mut window);
        window.state_mut().apply(Command::Device);
        gallery::shot(&format!("device-{tag}"), &mut window);
        window.state_mut().apply(Command::BackOut);
        window.state_mut().apply(Command::AddPlainTake(Shows::DryingAlcohol));
        gallery::shot(&format!("plain-take-{tag}"), &mut window);
    }
}
