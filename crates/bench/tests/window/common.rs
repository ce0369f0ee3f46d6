//! A small simulated case for the window's tests: one part of a buoy radio warms, located by the real pipeline.
#![allow(dead_code, reason = "each test file uses its own part of this")]

use std::sync::{Arc, OnceLock};

use egui_kittest::Harness;
use joulemark::{
    case::{Case, TakeEntry},
    theme,
    window::{
        app::App,
        document::Document,
        session::{Inputs, Session, TakeView},
    },
};
use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack, Take, Timeline, Unit};
use joulemark_locate::{
    Located, Scene, Settings,
    align::{Alignment, PointPair},
    board::{Board, Face, Part, PartKind, Rail},
    locate,
};
use ndarray::Array3;

/// Columns and rows of the simulated picture.
pub const WIDTH: usize = 96;
const HEIGHT: usize = 72;
/// Frames before and during injection.
const BEFORE: usize = 40;
const DURING: usize = 80;
/// Millimetres per pixel.
const MM_PER_PX: f64 = 0.25;
/// Name of the take.
pub const TAKE: &str = "inject 1";

/// The drawing: capacitors on V12 and a regulator, C12 in the middle.
pub fn board() -> Board {
    let part = |designator: &str, kind, x_mm, y_mm, width_mm, height_mm, rails: &[&str]| Part {
        designator: designator.into(),
        kind,
        x_mm,
        y_mm,
        width_mm,
        height_mm,
        rails: rails.iter().map(|r| (*r).to_owned()).collect(),
        ..Part::default()
    };
    use PartKind::{Capacitor, Ic, Inductor};
    let mut coil = part("L3", Inductor, 18.0, 13.0, 3.0, 3.0, &["V12", "V5"]);
    coil.series = true;
    Board {
        name: "Buoy radio".into(),
        faces: vec![Face {
            name: "top".into(),
            outline: vec![[1.0, 1.0], [23.0, 1.0], [23.0, 17.0], [1.0, 17.0]],
            parts: vec![
                part("C12", Capacitor, 9.0, 7.0, 1.6, 0.8, &["V12"]),
                part("C13", Capacitor, 13.0, 7.0, 1.6, 0.8, &["V12"]),
                part("C14", Capacitor, 5.0, 12.0, 1.6, 0.8, &["V12"]),
                part("C20", Capacitor, 19.0, 5.0, 1.0, 0.5, &["V5"]),
                part("U5", Ic, 12.0, 12.5, 4.0, 4.0, &["V12", "V5"]),
                coil,
            ],
            ..Face::default()
        }],
        rails: vec![
            Rail { name: "V12".into(), nominal_volts: Some(12.0) },
            Rail { name: "V5".into(), nominal_volts: Some(5.0) },
        ],
    }
}

/// Four corners, exact.
pub fn pairs() -> Vec<PointPair> {
    [(4.0, 4.0), (92.0, 4.0), (92.0, 68.0), (4.0, 68.0)]
        .map(|(x_px, y_px)| PointPair { x_px, y_px, x_mm: x_px * MM_PER_PX, y_mm: y_px * MM_PER_PX })
        .to_vec()
}

/// Uniform noise of the given standard deviation from a small congruential generator, the same in every run.
struct Noise(u64);

impl Noise {
    fn next(&mut self, sigma: f64) -> f64 {
        // Sum of four uniforms: near enough to normal for a test picture.
        let mut sum = 0.0;
        for _ in 0..4 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (self.0 >> 11) as f64 / (1_u64 << 53) as f64 - 0.5;
        }
        sum * sigma / (4.0_f64 / 12.0).sqrt()
    }
}

/// Frames in which C12 warms by `rise_k` with a time constant of 3 s, at 10 frames a second, with 50 mK of noise.
pub fn take(rise_k: f64, unit: Unit) -> Take {
    let frames = BEFORE + DURING;
    let mut noise = Noise(7);
    let mut timeline = Timeline::steady(frames, 10.0);
    timeline.inject_from(BEFORE);
    for i in 0..frames {
        let on = i >= BEFORE;
        timeline.volts[i] = Some(if on { 0.28 } else { 0.0 });
        timeline.amps[i] = Some(if on { 0.95 } else { 0.0 });
    }
    // C12 at 9.0, 7.0 mm.
    let (x0, y0) = (9.0 / MM_PER_PX, 7.0 / MM_PER_PX);
    let samples = Array3::from_shape_fn((frames, HEIGHT, WIDTH), |(t, y, x)| {
        let (dx, dy) = (x as f64 - x0, y as f64 - y0);
        let texture = 1.5 * ((x as f64 / 9.0).sin() * (y as f64 / 7.0).cos());
        let since = (t as f64 - BEFORE as f64).max(0.0) / 10.0;
        let rise = rise_k * (1.0 - (-since / 3.0).exp()) * (-(dx * dx + dy * dy) / (2.0 * 3.0 * 3.0)).exp();
        ((297.0 + texture + rise + noise.next(0.05)) / 0.01).round() as u16
    });
    let law = if unit == Unit::Kelvin { CountsLaw::CENTIKELVIN } else { CountsLaw::IDENTITY };
    Take { name: TAKE.into(), stack: Stack::new(Samples::U16(samples), law), unit, timeline, notes: Vec::new() }
}

fn located(take: &Take) -> Located {
    let alignment = Alignment::fit(&pairs()).expect("exact pairs");
    let board = board();
    let scene = Scene {
        board: &board,
        face: "top",
        rail: "V12",
        alignment: &alignment,
        lead_ohms: Some(0.05),
        injection_mm: None,
    };
    locate(take, &scene, &Settings::default(), &NoProgress).expect("locates")
}

/// The document of the case.
pub fn document() -> Document {
    Document {
        case: Case {
            version: joulemark::case::VERSION,
            name: "Buoy radio, serial 0417".into(),
            board: "board.ron".into(),
            rail: "V12".into(),
            lead_ohms: Some(0.05),
            takes: vec![TakeEntry {
                name: TAKE.into(),
                frames: "frames.tif".into(),
                counts: Some(CountsLaw::CENTIKELVIN),
                face: "top".into(),
                pairs: pairs(),
                ..TakeEntry::default()
            }],
            ..Case::default()
        },
        ..Document::default()
    }
}

fn build(take: Take, locate: bool) -> Session {
    let document = document();
    let inputs = Inputs::of(&document, TAKE).expect("the take is there");
    let board = Arc::new(board());
    let located = locate.then(|| Arc::new(located(&take)));
    let view = TakeView::new(Arc::new(take), located, inputs, &board);
    Session::new(Some("/tmp/buoy".into()), document, board).with_view(view)
}

/// The case, located once for all tests of a file.
pub fn session() -> Session {
    static ONCE: OnceLock<Session> = OnceLock::new();
    ONCE.get_or_init(|| build(take(2.0, Unit::Kelvin), true)).clone()
}

/// The same with a relative take.
pub fn relative_session() -> Session {
    build(take(2.0, Unit::Relative), true)
}

/// The same without any warming.
pub fn blank_session() -> Session {
    build(take(0.0, Unit::Kelvin), true)
}

/// Read, but not located.
pub fn unlocated_session() -> Session {
    build(take(2.0, Unit::Kelvin), false)
}

/// A window of the given size around an app.
pub fn window(app: App, size: [f32; 2]) -> Harness<'static, App> {
    Harness::builder()
        .with_size(size)
        .with_max_steps(30)
        .with_context_setup(theme::install)
        .build_ui_state(|ui, app: &mut App| app.ui(ui), app)
}

/// A large window around the located case.
pub fn opened() -> Harness<'static, App> {
    window(App::with_session(session()), [1440.0, 900.0])
}

/// Runs frames until something is so; background work gets time to finish.
pub fn wait(window: &mut Harness<'static, App>, so: impl Fn(&App) -> bool) {
    let until = std::time::Instant::now() + std::time::Duration::from_secs(60);
    while !so(window.state()) {
        let late = std::time::Instant::now() >= until;
        assert!(!late, "it never became so; fault: {:?}", window.state().screen.fault);
        window.step();
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    window.run_steps(2);
}

/// States in the open form what a count means in the bundled case; neither file nor form knows it.
pub fn type_law_of_the_bundled_case(window: &mut Harness<'_, App>) {
    use egui_kittest::kittest::Queryable;

    window.get_by_label("gain and offset").click();
    window.run();
    for (field, text) in [("Gain, kelvin per count", "0.08"), ("Offset, kelvin at count zero", "265.15")] {
        window.get_by_label(field).focus();
        window.run();
        window.get_by_label(field).type_text(text);
        window.run();
    }
}
