//! The program's own time per frame while a 640 x 512 recording is scrubbed.

use std::{sync::Arc, time::Instant};

use joulemark::window::{app::App, command::Command, screen::Layer, session::Session, session::TakeView};
use joulemark_frames::{CountsLaw, Samples, Stack, Take, Timeline, Unit};
use ndarray::Array3;

use crate::common;

/// Design section 12: at most 8 ms, median.
const BUDGET_MS: f64 = 8.0;

/// Layout, views, texture values and tessellation; the graphics card's own work is not the program's.
#[test]
#[ignore = "timing: run alone and with --release, which is what the figure is stated for"]
fn scrubbing_stays_within_its_budget() {
    let frames = 60;
    let samples = Array3::from_shape_fn((frames, 512, 640), |(t, y, x)| (29_700 + (t * 7 + y * 3 + x) % 400) as u16);
    let mut timeline = Timeline::steady(frames, 10.0);
    timeline.inject_from(20);
    let take = Take {
        name: common::TAKE.into(),
        stack: Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN),
        unit: Unit::Kelvin,
        timeline,
        notes: Vec::new(),
    };
    let small = common::session();
    let inputs = small.view().expect("a view").inputs.clone();
    let board = Arc::new(common::board());
    // The answer of the small case stands in, so that rings, suspects and the curve are drawn too.
    let located = small.view().and_then(|v| v.located.clone());
    let view = TakeView::new(Arc::new(take), located, inputs, &board);
    let session = Session::new(Some("/tmp/buoy".into()), small.document.clone(), board).with_view(view);
    let mut window = common::window(App::with_session(session), [1440.0, 900.0]);
    window.state_mut().apply(Command::SetLayer(Layer::Frame));
    window.run();
    let mut times_ms: Vec<f64> = (0..frames)
        .map(|frame| {
            window.state_mut().apply(Command::SetFrame(frame));
            step_ms(&mut window)
        })
        .collect();
    times_ms.sort_by(f64::total_cmp);
    let median = times_ms[times_ms.len() / 2];
    println!(
        "median {median:.2} ms, slowest {:.2} ms per frame while scrubbing 640 x 512",
        times_ms[times_ms.len() - 1]
    );
    assert!(median <= BUDGET_MS, "{median:.2} ms");
}

/// The drawing bench and the map with 500 parts: what panning and zooming cost.
#[test]
#[ignore = "timing: run alone and with --release, which is what the figure is stated for"]
fn five_hundred_parts_pan_and_zoom_within_the_budget() {
    let mut board = common::board();
    let part = board.faces[0].parts[0].clone();
    board.faces[0].parts = (0..500)
        .map(|i| joulemark_locate::board::Part {
            designator: format!("C{}", i + 1),
            x_mm: 1.5 + f64::from(i % 25) * 0.85,
            y_mm: 1.5 + f64::from(i / 25) * 0.75,
            width_mm: 0.6,
            height_mm: 0.3,
            ..part.clone()
        })
        .collect();
    let board = Arc::new(board);
    let samples = Array3::from_shape_fn((4, 512, 640), |(t, y, x)| (29_700 + (t * 7 + y * 3 + x) % 400) as u16);
    let take = Take {
        name: common::TAKE.into(),
        stack: Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN),
        unit: Unit::Kelvin,
        timeline: Timeline::steady(4, 10.0),
        notes: Vec::new(),
    };
    let small = common::session();
    let inputs = small.view().expect("a view").inputs.clone();
    let located = small.view().and_then(|v| v.located.clone());
    let view = TakeView::new(Arc::new(take), located, inputs, &board);
    for (what, draws) in [("map", false), ("drawing bench", true)] {
        let session = Session::new(None, small.document.clone(), Arc::clone(&board)).with_view(view.clone());
        let mut window = common::window(App::with_session(session), [1440.0, 900.0]);
        window.state_mut().apply(Command::SetLayer(Layer::Frame));
        if draws {
            window.state_mut().apply(Command::Draw(joulemark::window::drawing::Draw::Open));
        }
        window.run();
        let middle = egui::pos2(700.0, 400.0);
        let mut times_ms: Vec<f64> = (0..120)
            .map(|i| {
                // Scrolling zooms in and out again; moving the pointer passes over parts.
                let delta = egui::vec2(0.0, if i % 40 < 20 { 12.0 } else { -12.0 });
                window.event(egui::Event::PointerMoved(middle + egui::vec2(i as f32, 0.0)));
                let (unit, modifiers) = (egui::MouseWheelUnit::Point, egui::Modifiers::NONE);
                let (phase, source) = (egui::TouchPhase::Move, egui::MouseWheelSource::Unknown);
                window.event(egui::Event::MouseWheel { unit, delta, phase, modifiers, source });
                step_ms(&mut window)
            })
            .collect();
        times_ms.sort_by(f64::total_cmp);
        let (median, most) = (times_ms[times_ms.len() / 2], times_ms[times_ms.len() - 1]);
        println!("{what}, 500 parts, 640 x 512: median {median:.2} ms, slowest {most:.2} ms a frame while zooming");
        assert!(median <= BUDGET_MS, "{what}: {median:.2} ms");
    }
}

/// One frame of the program, tessellation included, in milliseconds.
fn step_ms(window: &mut egui_kittest::Harness<'_, App>) -> f64 {
    let since = Instant::now();
    window.step();
    let shapes = window.output().shapes.clone();
    let meshes = window.ctx.tessellate(shapes, 1.0);
    assert!(!meshes.is_empty());
    since.elapsed().as_secs_f64() * 1e3
}
