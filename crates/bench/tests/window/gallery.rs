//! Pictures of every screen into target/screens, to be looked at: cargo test --test window -- --ignored

use crate::common;
use egui_kittest::Harness;
use joulemark::window::{
    app::App,
    command::Command,
    form::Draft,
    screen::{Bench, Fault, Layer},
    stage::Stage,
};

const LARGE: [f32; 2] = [1440.0, 900.0];
const SMALL: [f32; 2] = [1024.0, 700.0];

fn save(name: &str, mut harness: Harness<'static, App>) {
    shot(name, &mut harness);
}

/// Draws a screen as it is.
pub fn shot(name: &str, harness: &mut Harness<'static, App>) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/screens");
    std::fs::create_dir_all(folder).expect("target can be written to");
    harness.run_steps(4);
    harness.render().expect("renders").save(format!("{folder}/{name}.png")).expect("saves");
}

fn with(session: joulemark::window::session::Session, size: [f32; 2], commands: Vec<Command>) -> Harness<'static, App> {
    let mut harness = common::window(App::with_session(session), size);
    for command in commands {
        harness.state_mut().apply(command);
        harness.run_steps(2);
    }
    harness
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn every_practice_case() {
    for case in ["ceramic-capacitor", "faint", "lower-board-diode", "nothing"] {
        for (tag, size, bench) in [("large", LARGE, Bench::Dark), ("small", SMALL, Bench::Light)] {
            let mut window = common::window(App::default(), size);
            window.state_mut().apply(Command::SetBench(bench));
            window.state_mut().open(vec![crate::cases::bundled(case)]);
            common::wait(&mut window, |app| app.session.is_some());
            let first = window.state().session.as_ref().and_then(|s| s.view()).and_then(|v| v.leading(0)).cloned();
            save(&format!("case-{case}-{tag}"), window);
            if let Some(first) = first {
                let mut window = common::window(App::default(), size);
                window.state_mut().apply(Command::SetBench(bench));
                window.state_mut().open(vec![crate::cases::bundled(case)]);
                common::wait(&mut window, |app| app.session.is_some());
                window.state_mut().apply(Command::ShowPart(first.part));
                save(&format!("case-{case}-zoomed-{tag}"), window);
            }
        }
    }
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn every_screen() {
    for (tag, size) in [("large", LARGE), ("small", SMALL)] {
        for (theme, bench) in [("dark", Bench::Dark), ("light", Bench::Light)] {
            let at = |commands: Vec<Command>| {
                with(common::session(), size, [vec![Command::SetBench(bench)], commands].concat())
            };
            let name = |what: &str| format!("{what}-{theme}-{tag}");
            save(&name("suspects"), at(vec![Command::SelectSuspect { spot: 0, part: "C12".into() }]));
            save(&name("rail"), at(vec![Command::SelectRail("V12".into())]));
            save(&name("injection"), at(vec![Command::SetStage(Stage::Injection)]));
            save(&name("capture"), at(vec![Command::SetStage(Stage::Capture), Command::SetLayer(Layer::FrameRise)]));
            save(&name("hot-spots"), at(vec![Command::SetStage(Stage::HotSpots), Command::SetLayer(Layer::Z)]));
            save(
                &name("readings"),
                at(vec![Command::SetStage(Stage::Readings), Command::SetLayer(Layer::TimeConstant)]),
            );
            save(&name("zoomed"), at(vec![Command::ShowPart("C12".into()), Command::SetLayer(Layer::Before)]));
            save(&name("palette"), at(vec![Command::Palette(true)]));
            save(&name("keys"), at(vec![Command::Keys(true)]));
            save(&name("form"), at(vec![Command::NewCase(Box::<Draft>::default())]));
            save(
                &name("fault"),
                at(vec![Command::Fault(Box::new(Fault {
                    title: "Could not open the case".into(),
                    message: "/home/bench/buoy/case.ron: 4:3: missing field `face`; correct it there".into(),
                    action: Some(("Open the practice case".into(), Command::OpenPractice)),
                }))]),
            );
            save(&name("blank"), with(common::blank_session(), size, vec![Command::SetBench(bench)]));
            save(&name("relative"), with(common::relative_session(), size, vec![Command::SetBench(bench)]));
            save(
                &name("unlocated"),
                with(common::unlocated_session(), size, vec![Command::SetBench(bench), Command::SetLayer(Layer::Rise)]),
            );
            let mut filled = common::window(App::default(), size);
            filled.state_mut().apply(Command::SetBench(bench));
            let files = ["frames.tif", "log.csv", "board.ron", "pairs.csv"];
            filled.state_mut().open(files.map(|f| crate::cases::bundled("ceramic-capacitor").join(f)).to_vec());
            common::wait(&mut filled, |app| app.screen.form.as_ref().is_some_and(|d| d.frames_read().is_some()));
            save(&name("form-filled"), filled);
            let mut busy = with(common::session(), size, vec![Command::SetBench(bench)]);
            busy.state_mut().start("Locating", |progress| {
                use joulemark_frames::Progress;
                progress.report("reading the heat out of the frames", 3, 8);
                while !progress.cancelled() {
                    std::thread::sleep(std::time::Duration::from_millis(2));
                }
                joulemark::window::work::Outcome::Picked(joulemark::window::command::Pick::Case, None)
            });
            common::wait(&mut busy, |app| app.running().any(|j| j.fraction().is_some()));
            save(&name("busy"), busy);
            let mut empty = common::window(App::default(), size);
            empty.state_mut().apply(Command::SetBench(bench));
            save(&name("empty"), empty);
        }
    }
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn the_drawing_bench() {
    use joulemark::window::drawing::{Draw, Tool};
    let photo = std::env::temp_dir().join("joulemark-gallery-photo.png");
    let image = image::RgbImage::from_fn(800, 600, |x, y| {
        let inside = (100..700).contains(&x) && (80..520).contains(&y);
        if inside { image::Rgb([30, 90, 60 + (y / 8) as u8]) } else { image::Rgb([120, 110, 100]) }
    });
    image.save(&photo).expect("the temporary folder can be written to");
    for (tag, size) in [("large", LARGE), ("small", SMALL)] {
        for (theme, bench) in [("dark", Bench::Dark), ("light", Bench::Light)] {
            let name = |what: &str| format!("drawing-{what}-{theme}-{tag}");
            let open = vec![Command::SetBench(bench), Command::Draw(Draw::Open)];
            let select = |parts: &[&str]| {
                let parts = parts.iter().map(|p| (*p).to_owned()).collect();
                Command::Draw(Draw::Select { parts, add: false })
            };
            let at = |more: Vec<Command>| with(common::session(), size, [open.clone(), more].concat());
            save(&name("face"), at(vec![]));
            save(&name("part"), at(vec![Command::Draw(Draw::Tool(Tool::Select)), select(&["C12"])]));
            save(&name("several"), at(vec![select(&["C12", "C13", "U5"])]));
            save(&name("behind"), at(vec![Command::Draw(Draw::AddFace), Command::Draw(Draw::Ghost)]));
            save(&name("keys"), at(vec![Command::Keys(true)]));
            let mut empty = common::window(App::default(), size);
            for command in open.clone() {
                empty.state_mut().apply(command);
            }
            save(&name("empty"), empty);
            let mut squared = common::window(App::default(), size);
            for command in open.clone() {
                squared.state_mut().apply(command);
            }
            squared.state_mut().read_photo(photo.clone());
            common::wait(&mut squared, |app| app.session.as_ref().is_some_and(|s| s.board.faces[0].photo.is_some()));
            save(&name("photo"), squared);
        }
    }
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn the_bench() {
    use joulemark::{
        case::{intervention::Doing, reading::Quantity},
        window::{plan::PlanCommand, readings::ReadingsCommand, survey::SurveyCommand},
    };
    let enter = |rail: &str, quantity, value: Option<f64>| {
        Command::Readings(ReadingsCommand::Enter { rail: rail.into(), quantity, value: Some(value) })
    };
    let measured = || {
        vec![
            Command::By("Ada".into()),
            enter("V12", Quantity::Ohms, Some(0.2)),
            enter("V12", Quantity::DiodeRedOnGround, Some(0.004)),
            enter("V5", Quantity::Ohms, Some(4700.0)),
            enter("V5", Quantity::DiodeRedOnGround, Some(0.45)),
        ]
    };
    for (tag, size) in [("large", LARGE), ("small", SMALL)] {
        for (theme, bench) in [("dark", Bench::Dark), ("light", Bench::Light)] {
            let name = |what: &str| format!("bench-{what}-{theme}-{tag}");
            let at = |more: Vec<Command>| {
                with(common::session(), size, [vec![Command::SetBench(bench)], measured(), more].concat())
            };
            let survey = |part: [f64; 2]| Command::Survey(SurveyCommand::Add { face: "top".into(), at_mm: part });
            let millivolts = |i, v| Command::Survey(SurveyCommand::Millivolts(i, Some(v)));
            save(
                &name("readings-empty"),
                with(common::session(), size, vec![Command::SetBench(bench), Command::SetStage(Stage::Readings)]),
            );
            save(&name("readings"), at(vec![Command::SetStage(Stage::Readings)]));
            let lifted = vec![
                Command::Did(Doing::Lifted, "C12".into()),
                enter("V12", Quantity::Ohms, None),
                Command::SetStage(Stage::Readings),
            ];
            save(&name("readings-after"), at(lifted));
            let pasted = vec![Command::SetStage(Stage::Readings), Command::Readings(ReadingsCommand::Paste(true))];
            let mut paste = at(pasted);
            if let Some(paste) = &mut paste.state_mut().screen.readings.paste {
                paste.text = "V12 0.2\nV5;4,7;kOhm\nhello".into();
            }
            save(&name("paste"), paste);
            save(
                &name("survey"),
                at(vec![
                    Command::Survey(SurveyCommand::Open),
                    survey([9.0, 7.0]),
                    millivolts(0, 1.2),
                    survey([5.0, 12.0]),
                    millivolts(1, 3.4),
                    survey([18.0, 13.0]),
                    millivolts(2, 6.1),
                ]),
            );
            save(&name("injection"), at(vec![Command::SetStage(Stage::Injection)]));
            let step = vec![
                Command::Plan(PlanCommand::Step(1)),
                Command::Acknowledge("battery".into(), true),
                Command::Acknowledge("polarity".into(), true),
                Command::SetStage(Stage::Injection),
            ];
            save(&name("injection-step"), at(step));
            save(&name("cautions"), at(vec![Command::SetStage(Stage::Injection), Command::ShowCautions(true)]));
            save(&name("capture"), at(vec![Command::BeforeFilming(true)]));
            save(&name("log"), at(vec![Command::CaseLog(true)]));
            save(&name("doing"), at(vec![Command::AskDone(Doing::Lifted, "C12".into())]));
            save(&name("suspects"), at(vec![Command::SetStage(Stage::Suspects)]));
        }
    }
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn the_handout() {
    use joulemark::window::handout::{HandoutCommand as C, Tool};
    for (tag, size, bench) in [("large", LARGE, Bench::Dark), ("small", SMALL, Bench::Light)] {
        let name = |what: &str| format!("handout-{what}-{tag}");
        let at = |more: Vec<C>| {
            let mut window = crate::handout::presented();
            window.set_size(size.into());
            window.state_mut().apply(Command::SetBench(bench));
            window.state_mut().apply(Command::SetStage(Stage::Handout));
            window.run_steps(4);
            for command in more {
                window.state_mut().apply(Command::Handout(command));
                window.run_steps(3);
            }
            window
        };
        save(
            &name("no-lesson"),
            with(common::session(), size, vec![Command::SetBench(bench), Command::SetStage(Stage::Handout)]),
        );
        save(&name("no-step"), at(vec![C::New]));
        save(&name("step"), at(vec![]));
        save(&name("callout"), at(vec![C::Select(Some(0))]));
        let tools = Tool::ALL.into_iter().skip(1).map(|(tool, _)| C::AddInMiddle(tool)).collect();
        save(&name("every-mark"), at(tools));
        save(&name("frame"), at(vec![C::Step(1)]));
        save(&name("words"), at(vec![C::Step(2), C::Preview(true)]));
        save(&name("closer"), at(vec![C::ZoomBy(2.5), C::Tool(Tool::Loop)]));
        save(&name("present"), at(vec![C::Present]));
        save(&name("present-more"), at(vec![C::Present, C::Turn(joulemark::window::handout::present::Turn::Next)]));
        save(&name("present-frame"), at(vec![C::Step(1), C::Present]));
        save(&name("present-words"), at(vec![C::Step(2), C::Present]));
    }
}
