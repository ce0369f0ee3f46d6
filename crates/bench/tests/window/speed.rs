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
            let since = Instant::now();
            window.step();
            let shapes = window.output().shapes.clone();
            let meshes = window.ctx.tessellate(shapes, 1.0);
            assert!(!meshes.is_empty());
            since.elapsed().as_secs_f64() * 1e3
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
