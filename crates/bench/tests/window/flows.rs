//! What a user does, by accessible label.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use joulemark::window::{
    app::App,
    command::Command,
    document::Edit,
    screen::{Bench, Fault, Layer, Selection},
    stage::Stage,
    work::Outcome,
};
use joulemark_frames::Progress;

use crate::common;

/// The label of the only hot spot on the map, as the pipeline measured it.
fn spot_label(app: &App) -> String {
    let view = app.session.as_ref().and_then(|s| s.view()).expect("a view");
    joulemark::window::map::spot_label(view, 0)
}

#[test]
fn from_hot_spot_to_suspect_selected_everywhere() {
    let mut window = common::opened();
    let label = spot_label(window.state());
    assert!(label.starts_with("Hot spot 1, ") && label.contains(" K plus or minus "), "{label}");
    window.get_by_label(&label).click();
    window.run();
    assert_eq!(window.state().screen.selection, Selection { spot: Some(0), ..Selection::default() });

    let suspect = window.get_by_label_contains("Suspect C12, ");
    suspect.click();
    window.run();
    let selection = &window.state().screen.selection;
    assert_eq!((selection.spot, selection.part.as_deref()), (Some(0), Some("C12")));
    // The same part is lit on the map, in the list and in the title bar.
    let toggled = |label: &str| {
        use egui_kittest::kittest::NodeT;
        window.get_by_label_contains(label).accesskit_node().toggled()
    };
    assert_eq!(toggled("Suspect C12, "), Some(egui::accesskit::Toggled::True));
    assert_eq!(toggled("Part C12 on the map"), Some(egui::accesskit::Toggled::True));
    assert!(window.state().title().starts_with("C12 "), "{}", window.state().title());
}

#[test]
fn a_click_on_the_map_selects_the_part_under_it() {
    let mut window = common::opened();
    window.state_mut().apply(Command::BackOut);
    window.run();
    // Its middle lies under the ring of the hot spot, so the click comes as an assistive technology sends it.
    window.get_by_label_contains("Part C12 on the map").click_accesskit();
    window.run();
    assert_eq!(window.state().screen.selection.part.as_deref(), Some("C12"));
}

#[test]
fn hovering_a_suspect_previews_it_on_the_map() {
    let mut window = common::opened();
    window.get_by_label_contains("Suspect C12, ").hover();
    window.run();
    assert_eq!(window.state().screen.hover.part.as_deref(), Some("C12"));
    assert_eq!(window.state().screen.selection.part, None, "hovering is no selecting");
}

#[test]
fn a_rail_lights_up_and_goes_out_again() {
    let mut window = common::opened();
    window.get_by_label("rail V12").click();
    window.run();
    assert_eq!(window.state().screen.selection.rail.as_deref(), Some("V12"));
    window.get_by_label("rail V12").click();
    window.run();
    assert_eq!(window.state().screen.selection.rail, None);
}

#[test]
fn keys_step_time_change_stages_and_back_out() {
    let mut window = common::opened();
    let last = window.state().screen.frame;
    window.key_press(Key::ArrowLeft);
    window.run();
    assert_eq!(window.state().screen.frame, last - 1);
    window.key_press(Key::End);
    window.run();
    window.key_press(Key::ArrowRight);
    window.run();
    assert_eq!(window.state().screen.frame, 119, "the last frame is the last");
    window.key_press(Key::Home);
    window.run();
    assert_eq!(window.state().screen.frame, 0);
    window.key_press(Key::Num4);
    window.run();
    assert_eq!(window.state().screen.stage, Stage::HotSpots);
    window.state_mut().apply(Command::SelectPart("C12".into()));
    window.key_press(Key::Escape);
    window.run();
    assert_eq!(window.state().screen.selection.part, None);
}

#[test]
fn tab_reaches_the_map_its_spots_and_enter_selects() {
    let mut window = common::opened();
    window.state_mut().screen.selection = Selection::default();
    let label = spot_label(window.state());
    let mut reached = false;
    for _ in 0..80 {
        window.key_press(Key::Tab);
        window.run();
        if window.get_by_label(&label).is_focused() {
            reached = true;
            break;
        }
    }
    assert!(reached, "Tab never reached the hot spot");
    window.key_press(Key::Enter);
    window.run();
    assert_eq!(window.state().screen.selection.spot, Some(0));
    // An arrow steps time and leaves the focus where it is.
    let frame = window.state().screen.frame;
    window.key_press(Key::ArrowLeft);
    window.run();
    assert_eq!(window.state().screen.frame, frame - 1);
    assert!(window.get_by_label(&label).is_focused());
}

#[test]
fn zoom_and_fit() {
    let mut window = common::opened();
    window.key_press(Key::Plus);
    window.run();
    let closer = window.state().screen.map.expect("zoomed").points_per_px;
    window.key_press(Key::Plus);
    window.run();
    assert!(window.state().screen.map.expect("zoomed").points_per_px > closer);
    window.key_press(Key::F);
    window.run();
    assert_eq!(window.state().screen.map, None);
}

#[test]
fn changing_the_rail_makes_the_answer_out_of_date_and_undo_mends_it() {
    let mut window = common::opened();
    window.state_mut().apply(Command::Edit(Edit::Rail("V5".into())));
    window.run();
    window.get_by_label("Locate again");
    let session = window.state().session.as_ref().expect("open");
    assert!(session.out_of_date() && session.unsaved());
    assert!(window.query_by_label("Out of date: you changed something since.").is_some());
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run();
    let session = window.state().session.as_ref().expect("open");
    assert_eq!(session.document.case.rail, "V12");
    assert!(!session.out_of_date() && !session.unsaved());
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    window.run();
    assert_eq!(window.state().session.as_ref().expect("open").document.case.rail, "V5");
}

#[test]
fn the_leads_field_commits_when_left_and_refuses_words() {
    let mut window = common::opened();
    window.get_by_label("leads, ohms").focus();
    window.run();
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.get_by_label("leads, ohms").type_text("0,12");
    window.run();
    window.key_press(Key::Enter);
    window.run();
    assert_eq!(window.state().session.as_ref().expect("open").document.case.lead_ohms, Some(0.12));
    window.get_by_label("leads, ohms").focus();
    window.run();
    window.get_by_label("leads, ohms").type_text("thick");
    window.key_press(Key::Enter);
    window.run();
    assert_eq!(window.state().session.as_ref().expect("open").document.case.lead_ohms, Some(0.12));
    assert!(window.state().screen.said.as_ref().expect("said").contains("not a resistance"));
}

#[test]
fn locating_again_in_the_background_brings_a_new_answer() {
    let mut window = common::opened();
    let before = window.state().session.as_ref().and_then(|s| s.view()).expect("a view").serial;
    window.state_mut().apply(Command::Edit(Edit::LeadOhms(Some(0.1))));
    window.run();
    window.get_by_label("Locate again").click();
    let serial = |app: &App| app.session.as_ref().and_then(|s| s.view()).map(|v| v.serial);
    common::wait(&mut window, |app| serial(app) != Some(before));
    let session = window.state().session.as_ref().expect("open");
    assert!(!session.out_of_date());
}

#[test]
fn cancelling_keeps_what_was_there() {
    let mut window = common::opened();
    let before = window.state().session.as_ref().and_then(|s| s.view()).expect("a view").serial;
    window.state_mut().start("Locating", |progress| {
        progress.report("reading the heat out of the frames", 1, 4);
        while !progress.cancelled() {
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
        Outcome::Failed(Fault { title: "must not be seen".into(), message: String::new(), action: None })
    });
    common::wait(&mut window, |app| app.running().any(|j| j.fraction() == Some(0.25)));
    window.get_by_label("reading the heat out of the frames");
    window.get_by_label("Cancel").click();
    common::wait(&mut window, |app| app.running().next().is_none());
    assert_eq!(window.state().session.as_ref().and_then(|s| s.view()).expect("a view").serial, before);
    assert!(window.state().screen.said.as_ref().expect("said").contains("cancelled, nothing was changed"));
    assert_eq!(window.state().screen.fault, None);
}

#[test]
fn a_case_that_is_not_there_shows_one_fault_and_keeps_the_open_case() {
    let mut window = common::opened();
    window.state_mut().open(vec!["/no/such/case".into()]);
    common::wait(&mut window, |app| app.screen.fault.is_some());
    window.run();
    window.get_by_label("Could not open the case");
    window.get_by_label_contains("/no/such/case");
    window.get_by_label_contains("What to do: ");
    window.key_press(Key::Escape);
    window.run();
    assert_eq!(window.state().screen.fault, None);
    assert!(window.state().session.is_some());
}

#[test]
fn the_palette_finds_a_part_and_shows_it() {
    let mut window = common::opened();
    window.key_press_modifiers(Modifiers::COMMAND, Key::K);
    window.run();
    window.get_by_label("Find a command, part or rail").type_text("u5");
    window.run();
    window.key_press(Key::Enter);
    window.run();
    assert!(window.state().screen.palette.is_none());
    assert_eq!(window.state().screen.selection.part.as_deref(), Some("U5"));
    assert!(window.state().screen.map.is_some(), "the map moved to the part");
}

#[test]
fn the_theme_changes_and_everything_is_drawn_again() {
    let mut window = common::opened();
    window.get_by_label("Light theme").click();
    window.run();
    assert_eq!(window.state().screen.bench, Bench::Light);
    assert!(!window.ctx.global_style().visuals.dark_mode);
    window.get_by_label("Dark theme").click();
    window.run();
    assert_eq!(window.state().screen.bench, Bench::Dark);
}

#[test]
fn a_small_window_folds_the_stages_and_keeps_the_card() {
    let mut window = common::window(App::with_session(common::session()), [1024.0, 700.0]);
    let stage = window.get_by_label("Stage 4, Hot spots: done").rect();
    assert!(stage.width() < 60.0, "{stage:?}");
    window.get_by_label("Stage 4, Hot spots: done").click();
    window.run();
    assert_eq!(window.state().screen.stage, Stage::HotSpots);
    assert!(window.query_all_by_label_contains("below the junctions").next().is_some());
    let strip = window.get_by_label_contains("Time strip: frame").rect();
    assert!(strip.height() < 110.0, "{strip:?}");
    let next = window.get_by_label("Lift C12, then measure V12").rect();
    assert!(next.max.y <= 700.0, "{next:?}");
}

#[test]
fn every_stage_says_what_the_hands_have_to_see_to() {
    use joulemark::window::cautions;
    let mut window = common::opened();
    for stage in Stage::ALL {
        window.state_mut().apply(Command::SetStage(stage));
        window.run_steps(2);
        for caution in cautions::at(stage) {
            assert!(window.query_all_by_label(caution).next().is_some(), "{stage:?}: {caution}");
        }
        assert!(window.query_by_label(cautions::LOCAL_RULES).is_some(), "{stage:?}");
    }
    window.get_by_label("All of them").click();
    window.run();
    window.get_by_label_contains("Spray is flammable");
}

#[test]
fn a_relative_take_never_shows_kelvin() {
    use egui_kittest::kittest::NodeT;
    let window = common::window(App::with_session(common::relative_session()), [1440.0, 900.0]);
    let mut texts = Vec::new();
    for node in window.root().children_recursive() {
        let node = node.accesskit_node();
        texts.extend(node.label());
        texts.extend(node.value());
    }
    assert!(texts.iter().any(|t| t.contains("relative")), "nothing says relative");
    // "Ctrl+K" is a key.
    for text in texts.iter().filter(|t| !t.contains("Ctrl+")) {
        let words: Vec<&str> = text.split(|c: char| !c.is_alphanumeric()).collect();
        assert!(!words.contains(&"K") && !text.contains("\u{b0}C"), "{text}");
    }
}

#[test]
fn nothing_above_the_noise_is_an_answer() {
    let window = common::window(App::with_session(common::blank_session()), [1440.0, 900.0]);
    window.get_by_label_contains("Nobody is suspected");
    window.get_by_label("Film longer, or one step higher");
}

#[test]
fn every_stage_says_how_it_stands_and_has_tools() {
    let mut window = common::opened();
    window.get_by_label("Stage 7, Handout: no lesson yet");
    for (key, stage) in
        [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6, Key::Num7].into_iter().zip(Stage::ALL)
    {
        window.key_press(key);
        window.run();
        assert_eq!(window.state().screen.stage, stage);
        assert!(window.query_by_label_contains("later version").is_none(), "{stage:?}");
    }
    window.get_by_label("Empty lesson");
}

#[test]
fn the_texture_is_rebuilt_only_when_what_it_shows_changed() {
    let mut window = common::opened();
    let before = window.state().textures[0].rebuilds;
    window.run_steps(5);
    window.state_mut().apply(Command::StepFrame(-3));
    window.run();
    assert_eq!(window.state().textures[0].rebuilds, before, "the rise does not follow time");
    window.state_mut().apply(Command::SetLayer(Layer::FrameRise));
    window.run();
    window.state_mut().apply(Command::StepFrame(-1));
    window.run();
    assert_eq!(window.state().textures[0].rebuilds, before + 2);
}

#[test]
fn without_a_case_the_window_teaches_and_offers() {
    let mut window = common::window(App::default(), [1024.0, 700.0]);
    window.get_by_label("Open the practice case");
    window.get_by_label("New case from files\u{2026}").click();
    window.run();
    assert!(window.state().screen.form.is_some());
}

#[test]
fn the_wheel_zooms_to_the_cursor_and_a_drag_pans() {
    let mut window = common::opened();
    let canvas = window.state().screen.canvas.expect("drawn");
    let at = canvas.center() + egui::vec2(-120.0, 60.0);
    window.hover_at(at);
    window.run();
    let before = window.state().screen.pointer_px.expect("over the map");
    window.event(egui::Event::MouseWheel {
        source: egui::MouseWheelSource::Wheel,
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, 200.0),
        phase: egui::TouchPhase::Move,
        modifiers: Modifiers::NONE,
    });
    window.run();
    let after = window.state().screen.pointer_px.expect("over the map");
    assert!(window.state().screen.map.is_some(), "the wheel zooms");
    // f32 screen points: a hundredth of a pixel is what they can carry here.
    assert!((before[0] - after[0]).abs() < 0.01 && (before[1] - after[1]).abs() < 0.01, "{before:?} {after:?}");
    let centre = window.state().screen.map.expect("zoomed").centre_px;
    window.drag_at(at);
    window.run();
    window.hover_at(at + egui::vec2(40.0, 0.0));
    window.run();
    window.drop_at(at + egui::vec2(40.0, 0.0));
    window.run();
    assert!(window.state().screen.map.expect("zoomed").centre_px[0] < centre[0], "dragging right shows what is left");
}

#[test]
fn a_click_in_the_strip_sets_the_time() {
    let mut window = common::opened();
    let strip = window.get_by_label_contains("Time strip: frame").rect();
    let at = egui::pos2(strip.left() + 0.6 * strip.width(), strip.center().y);
    window.hover_at(at);
    window.run();
    window.drag_at(at);
    window.run();
    window.drop_at(at);
    window.run();
    let frame = window.state().screen.frame;
    assert!((30..90).contains(&frame), "{frame}");
}

#[test]
fn unsaved_changes_are_not_lost_unasked() {
    let mut window = common::opened();
    window.state_mut().apply(Command::Edit(Edit::Rail("V5".into())));
    window.state_mut().apply(Command::Open(vec!["/no/such/case".into()]));
    window.run();
    window.get_by_label("Changes are not saved");
    assert!(window.state().running().next().is_none(), "nothing is opened before the answer");
    assert!(!window.state_mut().may_close());
    window.run();
    window.get_by_label("Close").click();
    window.run();
    assert_eq!(window.state().screen.fault, None);
    assert_eq!(window.state().session.as_ref().expect("open").document.case.rail, "V5");
    window.state_mut().apply(Command::Open(vec!["/no/such/case".into()]));
    window.run();
    window.get_by_label("Go on without saving").click();
    common::wait(&mut window, |app| app.screen.fault.as_ref().is_some_and(|f| f.message.contains("/no/such/case")));
}
