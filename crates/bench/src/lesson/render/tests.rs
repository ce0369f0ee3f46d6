//! Views of a small made-up take and board, checked against values worked by hand.

use joulemark_frames::{CountsLaw, Samples, Stack, Take, Timeline, Unit};
use joulemark_locate::{
    align::{Alignment, PointPair},
    board::{Board, Face, Part, Photo},
};

use super::*;
use crate::{
    layer::{Layer, ranges::Ranges},
    lesson::{Mark, Plays, Space, Step, Zoom, mark, place::Placing},
    photo::Loaded,
    report::typeface::Fonts,
};

/// Four frames of 16 by 8 pixels at centikelvin; pixel (5, 2) warms by 1 K a frame. Two pixels are a millimetre.
struct Bench {
    take: Take,
    board: Board,
    alignment: Alignment,
    ranges: Ranges,
    photo: Loaded,
}

impl Bench {
    fn new(unit: Unit) -> Self {
        let counts = ndarray::Array3::from_shape_fn((4, 8, 16), |(t, y, x)| {
            29_815 + if (x, y) == (5, 2) { 100 * t as u16 } else { 0 }
        });
        let mut timeline = Timeline::steady(4, 2.0);
        timeline.inject_from(2);
        let stack = Stack::new(Samples::U16(counts), CountsLaw::CENTIKELVIN);
        let take = Take { name: "inject 1".into(), stack, unit, timeline, notes: Vec::new() };
        let part = Part {
            designator: "C12".into(),
            x_mm: 2.5,
            y_mm: 1.0,
            width_mm: 2.0,
            height_mm: 1.0,
            rails: vec!["V12".into()],
            ..Part::default()
        };
        let face = Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [8.0, 0.0], [8.0, 4.0], [0.0, 4.0]],
            parts: vec![part],
            photo: Some(Photo {
                file: "top.png".into(),
                corners_px: [[-0.5, -0.5], [79.5, -0.5], [79.5, 39.5], [-0.5, 39.5]],
                width_mm: 8.0,
                height_mm: 4.0,
            }),
            ..Face::default()
        };
        let board = Board { name: "Buoy radio".into(), faces: vec![face], rails: Vec::new() };
        let pair = |x_px: f64, y_px: f64| PointPair { x_px, y_px, x_mm: x_px / 2.0, y_mm: y_px / 2.0 };
        let pairs = [pair(0.0, 0.0), pair(14.0, 0.0), pair(14.0, 6.0), pair(0.0, 6.0)];
        let alignment = Alignment::of(&pairs, None).unwrap();
        let ranges = Ranges::measure(&take, None);
        // Left half black, right half white.
        let image = image::RgbaImage::from_fn(80, 40, |x, _| image::Rgba([if x < 40 { 0 } else { 255 }; 4].map(|v| v)));
        let mut image = image;
        image.pixels_mut().for_each(|p| p.0[3] = 255);
        let photo = Loaded { path: "top.png".into(), size_px: [80, 40], image };
        Self { take, board, alignment, ranges, photo }
    }

    fn with<T>(&self, ask: impl FnOnce(&Sources<'_>) -> T) -> T {
        let take = |name: &str| {
            (name == "inject 1").then_some(TakeSeen {
                take: &self.take,
                located: None,
                alignment: Some(&self.alignment),
                face: "top",
                ranges: &self.ranges,
                clipped: &[],
                simulated: true,
            })
        };
        let photo = |face: &str| (face == "top").then_some(&self.photo);
        ask(&Sources { board: &self.board, rail: "V12", take: &take, photo: &photo })
    }

    fn render(&self, view: &View) -> Result<Rendered, Missing> {
        self.with(|sources| render(view, sources, &area()))
    }
}

fn area() -> Area {
    Area {
        rect: [0.0, 0.0, 400.0, 240.0],
        words_size: 10.0,
        dots: 1.0,
        inks: Inks::PAPER,
        fonts: Fonts::shared().unwrap(),
    }
}

fn view(shows: Shows) -> View {
    View { shows, ..View::default() }
}

fn frame(frame: usize) -> View {
    view(Shows::Map { take: "inject 1".into(), layer: Layer::Frame, frame, outlines: true, answer: false })
}

fn said(shapes: &[Shape]) -> Vec<&str> {
    let words = |s: &'_ Shape| matches!(s, Shape::Words { .. });
    shapes
        .iter()
        .filter(|s| words(s))
        .map(|s| if let Shape::Words { text, .. } = s { text.as_str() } else { "" })
        .collect()
}

#[test]
fn a_frame_has_its_pixels_scale_bar_time_and_unit() {
    let bench = Bench::new(Unit::Kelvin);
    let rendered = bench.render(&frame(3)).unwrap();
    let picture = rendered.picture.unwrap();
    assert_eq!(picture.image.dimensions(), (16, 8));
    // The room is 400 - 54 by 240 - 35 units; 16 by 8 pixels fill its width.
    assert_eq!(picture.rect, [0.0, 3.0, 346.0, 173.0]);
    let hot = picture.image.get_pixel(5, 2);
    assert!(picture.image.pixels().filter(|p| *p == hot).count() == 1, "one pixel is warm");
    let said = said(&rendered.shapes);
    // 346 units are 8 mm; a quarter of it is 2 mm.
    assert!(said.contains(&"2 mm") && said.contains(&"1.5 s, current on") && said.contains(&"\u{b0}C"), "{said:?}");
    assert!(said.contains(&"Current frame, inject 1, simulated recording"), "{said:?}");
    assert!(rendered.alt.contains("simulated"), "{}", rendered.alt);
}

#[test]
fn places_go_both_ways_in_pixels_and_millimetres() {
    let bench = Bench::new(Unit::Kelvin);
    let placing = bench.render(&frame(0)).unwrap().placing;
    let frame_space = Space::Frame("inject 1".into());
    let board = Space::Board("top".into());
    // Pixel (5, 2) is 5.5 pixels from the left edge, of 346/16 units each.
    let unit = 346.0 / 16.0;
    let at = placing.place(&frame_space, [5.0, 2.0]).unwrap();
    assert!((at[0] - 5.5 * unit).abs() < 1e-3 && (at[1] - 3.0 - 2.5 * unit).abs() < 1e-3, "{at:?}");
    let same = placing.place(&board, [2.5, 1.0]).unwrap();
    assert!((same[0] - at[0]).abs() < 1e-2 && (same[1] - at[1]).abs() < 1e-2, "{same:?} {at:?}");
    let back = placing.anchor(&board, at).unwrap();
    assert!((back[0] - 2.5).abs() < 1e-4 && (back[1] - 1.0).abs() < 1e-4, "{back:?}");
    assert_eq!(placing.space(), board);
    for strange in [Space::Frame("other".into()), Space::Board("bottom".into()), Space::Curve("inject 1".into())] {
        assert!(placing.place(&strange, [1.0, 1.0]).is_none() && placing.anchor(&strange, [1.0, 1.0]).is_none());
    }
}

#[test]
fn a_zoom_keeps_the_point_under_the_pointer() {
    let bench = Bench::new(Unit::Kelvin);
    let placing = bench.render(&frame(0)).unwrap().placing;
    let middle = [173.0, 3.0 + 86.5];
    let Zoom { middle: at, across } = placing.zoom(middle, 2.0).unwrap();
    assert!((across - 8.0).abs() < 1e-6 && (at[0] - 7.5).abs() < 1e-5 && (at[1] - 3.5).abs() < 1e-5, "{at:?} {across}");
    let zoomed = bench.render(&View { zoom: Some(Zoom { middle: [7.5, 3.5], across: 8.0 }), ..frame(0) }).unwrap();
    assert_eq!(zoomed.picture.unwrap().image.width(), 8);
}

#[test]
fn a_relative_take_says_no_kelvin() {
    let bench = Bench::new(Unit::Relative);
    let rendered = bench.render(&frame(3)).unwrap();
    let said = said(&rendered.shapes);
    assert!(said.contains(&"relative") && !said.iter().any(|s| s.ends_with('K') || s.contains('\u{b0}')), "{said:?}");
}

#[test]
fn what_is_missing_is_said_in_one_sentence() {
    let bench = Bench::new(Unit::Kelvin);
    let map =
        |take: &str, layer, answer| view(Shows::Map { take: take.into(), layer, frame: 0, outlines: false, answer });
    let told = |view: View| bench.render(&view).unwrap_err().to_string();
    for (view, wanted) in [
        (map("inject 3", Layer::Frame, false), "'inject 3' is not in this case"),
        (map("inject 1", Layer::Rise, false), "Rise of take 'inject 1' can be shown only after Locate"),
        (map("inject 1", Layer::Frame, true), "Hot spots and suspects"),
        (frame(4), "has 4 frames"),
        (view(Shows::Drawing { face: "bottom".into(), rail: None }), "'bottom' is not on this board"),
        (view(Shows::Photo { face: "bottom".into(), outlines: true }), "'bottom'"),
        (view(Shows::Curve { take: "inject 1".into(), at_px: [99.0, 2.0], fit: false }), "outside the picture"),
        (view(Shows::Curve { take: "inject 1".into(), at_px: [5.0, 2.0], fit: true }), "only after Locate"),
    ] {
        let said = told(view);
        assert!(said.contains(wanted) && said.ends_with('.') && said.lines().count() == 1, "{said}");
    }
}

#[test]
fn a_curve_runs_through_the_frames_values() {
    let bench = Bench::new(Unit::Kelvin);
    let curve = view(Shows::Curve { take: "inject 1".into(), at_px: [5.2, 1.8], fit: false });
    let rendered = bench.render(&View { range: Some((24.0, 29.0)), ..curve }).unwrap();
    let space = Space::Curve("inject 1".into());
    // 29815 centikelvin are 25.00 degrees Celsius; the fourth frame is 1.5 s and 3 K later.
    let ends = [[0.0, 25.0], [1.5, 28.0]].map(|at| rendered.placing.place(&space, at).unwrap());
    let through = rendered.shapes.iter().any(|s| match s {
        Shape::Line { points, .. } if points.len() == 4 => {
            let near = |a: [f32; 2], b: [f32; 2]| (a[0] - b[0]).abs() < 0.01 && (a[1] - b[1]).abs() < 0.01;
            near(points[0], ends[0]) && near(points[3], ends[1])
        }
        _ => false,
    });
    assert!(through, "{ends:?}");
    assert!(said(&rendered.shapes).contains(&"value, \u{b0}C"));
}

#[test]
fn a_drawing_names_its_parts_and_crosses_those_of_the_rail() {
    let bench = Bench::new(Unit::Kelvin);
    let shows = |rail: Option<&str>| view(Shows::Drawing { face: "top".into(), rail: rail.map(str::to_owned) });
    let plain = bench.render(&shows(None)).unwrap();
    let crossed = bench.render(&shows(Some("V12"))).unwrap();
    assert!(said(&plain.shapes).contains(&"C12"));
    assert_eq!(crossed.shapes.len(), plain.shapes.len() + 2, "two lines of a cross");
    assert!(crossed.alt.contains("rail V12"));
}

#[test]
fn a_photo_lies_squared_up_under_the_outlines() {
    let bench = Bench::new(Unit::Kelvin);
    let rendered = bench.render(&view(Shows::Photo { face: "top".into(), outlines: true })).unwrap();
    let Pixels { image, rect, smooth } = rendered.picture.unwrap();
    assert!(smooth);
    let pixel = |x_mm: f64| {
        let [x, y] = rendered.placing.place(&Space::Board("top".into()), [x_mm, 2.0]).unwrap();
        image.get_pixel((x - rect[0]) as u32, (y - rect[1]) as u32).0[0]
    };
    assert_eq!([pixel(3.8), pixel(4.2)], [0, 255]);
}

#[test]
fn a_step_is_its_view_under_its_marks_and_no_mark_leaves_the_picture() {
    let bench = Bench::new(Unit::Kelvin);
    let mark = |what, reveal| Mark { space: Space::Board("top".into()), what, style: mark::Style::default(), reveal };
    let arrow = What::Arrow { from: [-50.0, 1.0], to: [2.5, 1.0] };
    let callout = What::Callout { at: [2.5, 1.0], label: [4.0, 2.0], number: 1, text: "warm".into() };
    let plays = Some(Plays { from: 0, to: 3, speed: 1.0 });
    let step = Step { view: frame(3), marks: vec![mark(arrow, 0), mark(callout, 1)], plays, ..Step::default() };
    let lesson = Lesson { steps: vec![step], ..Lesson::default() };
    let drawn = |revealed| bench.with(|s| step_drawing(&lesson, 0, revealed, s, &area()).unwrap());
    let (before, after) = (drawn(0), drawn(1));
    assert!(!said(&before.shapes).contains(&"warm") && said(&after.shapes).contains(&"warm"));
    assert!(after.alt.contains("callout 1: warm") && !before.alt.contains("callout"), "{}", after.alt);
    let out = after.shapes.iter().any(|s| matches!(s, Shape::Line { points, .. } if points.iter().any(|p| p[0] < 0.0)));
    assert!(!out, "a line leaves the picture");
}
