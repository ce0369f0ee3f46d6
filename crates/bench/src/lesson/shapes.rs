//! From marks to lines and words: the one way in which marks are drawn on the screen, in a picture and on paper.
//!
//! Every line is drawn twice, its edge first, so that it is seen on any ground and in a print without colour.

use super::{
    Anchored, Mark, Space, What,
    mark::{Line, Style, Tone, Weight},
    place::Placing,
};
use crate::report::drawing::{Anchor, Ink, Shape};

const WHITE: Ink = [255; 3];
const BLACK: Ink = [0; 3];
/// Corners of a round line.
const ROUND: usize = 48;
/// Width of an ordinary line over the height of words.
const LINE_SHARE: f32 = 0.16;
/// The edge reaches so far beyond the line on either side, over the height of words.
const EDGE_SHARE: f32 = 0.09;
/// How much of the surroundings is left in the dark.
const DIMMED: f32 = 0.62;
/// How much of the ground words on a plate hide.
const PLATE: f32 = 0.82;

/// What a mark looks like on a view; nothing where the view does not show its space.
pub fn shapes(mark: &Mark, view: &dyn Placing) -> Vec<Shape> {
    let pen = Pen::new(mark.style, view.words_size());
    let place = |at: Anchored| view.place(&mark.space, at);
    let mut out = Vec::new();
    match &mark.what {
        What::Callout { at, label, number, text } => {
            let (Some(at), Some(label)) = (place(*at), place(*label)) else { return out };
            let radius = 0.95 * view.words_size();
            if let Some(edge) = towards(label, at, radius) {
                pen.line(&mut out, &[edge, at], false);
                pen.dot(&mut out, at, 0.22 * view.words_size());
            }
            pen.disc(&mut out, label, radius, &number.to_string());
            if !text.is_empty() {
                // Beside the disc: on its right, or on its left where the view ends.
                let gap = radius + 0.4 * view.words_size();
                let [left, _, width, _] = view.rect();
                let wide = pen.plate_width(view, text);
                let fits = label[0] + gap + wide <= left + width || label[0] - gap - wide < left;
                let x = if fits { label[0] + gap } else { label[0] - gap - wide };
                pen.plate(&mut out, view, [x, label[1]], text);
            }
        }
        What::Arrow { from, to } => {
            let (Some(from), Some(to)) = (place(*from), place(*to)) else { return out };
            pen.arrow(&mut out, from, to);
        }
        What::Loop { middle, half } => {
            if let Some(ring) = ring(view, &mark.space, *middle, *half) {
                pen.line(&mut out, &ring, true);
            }
        }
        What::Text { at, text } => {
            let Some(at) = place(*at) else { return out };
            pen.plate(&mut out, view, at, text);
        }
        What::Measure { from, to } => {
            let (Some(a), Some(b)) = (place(*from), place(*to)) else { return out };
            pen.line(&mut out, &[a, b], false);
            for end in [a, b] {
                pen.line(&mut out, &tick(a, b, end, 0.6 * view.words_size()), false);
            }
            let middle = [f32::midpoint(a[0], b[0]), f32::midpoint(a[1], b[1])];
            let at = [middle[0] + 0.7 * view.words_size(), middle[1] - view.words_size()];
            pen.plate(&mut out, view, at, &length(&mark.space, *from, *to));
        }
        What::Dim { middle, half } => {
            if let Some(hole) = ring(view, &mark.space, *middle, *half) {
                out.push(Shape::Shade { rect: view.rect(), hole, ink: BLACK, opacity: DIMMED });
            }
        }
    }
    out
}

/// The length of a measuring line in words: millimetres, pixels, or both axes of a curve.
pub fn length(space: &Space, from: Anchored, to: Anchored) -> String {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    match space {
        Space::Board(_) => format!("{:.1} mm", dx.hypot(dy)),
        Space::Frame(_) => format!("{:.0} px", dx.hypot(dy)),
        Space::Curve(_) => format!("{:.1} s, {:.2} up", dx.abs(), dy),
    }
}

/// An ellipse on the view. Its axes are those of its space.
fn ring(view: &dyn Placing, space: &Space, middle: Anchored, half: [f64; 2]) -> Option<Vec<[f32; 2]>> {
    let corner = |i: usize| {
        let (sin, cos) = (std::f64::consts::TAU * i as f64 / ROUND as f64).sin_cos();
        view.place(space, [middle[0] + half[0] * cos, middle[1] + half[1] * sin])
    };
    (0..ROUND).map(corner).collect()
}

struct Pen {
    ink: Ink,
    edge_ink: Ink,
    width: f32,
    edge: f32,
    size: f32,
    broken: bool,
}

impl Pen {
    fn new(style: Style, size: f32) -> Self {
        let (ink, edge_ink) = match style.tone {
            Tone::Light => (WHITE, BLACK),
            Tone::Dark => (BLACK, WHITE),
        };
        let heavy = match style.weight {
            Weight::Thin => 0.6,
            Weight::Normal => 1.0,
            Weight::Heavy => 1.8,
        };
        let (width, edge) = (heavy * LINE_SHARE * size, EDGE_SHARE * size);
        Self { ink, edge_ink, width, edge, size, broken: style.line == Line::Dashed }
    }

    /// The edge is whole even where the line is broken: that is what carries it over any ground.
    fn line(&self, out: &mut Vec<Shape>, points: &[[f32; 2]], closed: bool) {
        let points = points.to_vec();
        let dash = self.broken.then_some(3.0 * self.width);
        let edge = self.width + 2.0 * self.edge;
        for (width, ink, dash) in [(edge, self.edge_ink, None), (self.width, self.ink, dash)] {
            out.push(Shape::Line { points: points.clone(), closed, width, ink, opacity: 1.0, dash });
        }
    }

    fn arrow(&self, out: &mut Vec<Shape>, from: [f32; 2], to: [f32; 2]) {
        let head = 0.9 * self.size + self.width;
        let (dx, dy) = (from[0] - to[0], from[1] - to[1]);
        let long = dx.hypot(dy);
        if long <= 0.0 || !long.is_finite() {
            return;
        }
        let (ux, uy) = (dx / long, dy / long);
        let barb = |side: f32| {
            let (sin, cos) = (side * 0.45_f32).sin_cos();
            [to[0] + head * (ux * cos - uy * sin), to[1] + head * (ux * sin + uy * cos)]
        };
        let barbs = [barb(1.0), to, barb(-1.0)];
        // Edges of both first, or the head's edge would cut the shaft.
        let mut lines = Vec::new();
        self.line(&mut lines, &[from, to], false);
        let whole = Self { broken: false, ..*self };
        whole.line(&mut lines, &barbs, false);
        lines.swap(1, 2);
        out.extend(lines);
    }

    fn dot(&self, out: &mut Vec<Shape>, at: [f32; 2], radius: f32) {
        filled(out, at, radius + self.edge, self.edge_ink);
        filled(out, at, radius, self.ink);
    }

    fn disc(&self, out: &mut Vec<Shape>, at: [f32; 2], radius: f32, text: &str) {
        self.dot(out, at, radius);
        let size = if text.len() > 2 { 0.8 * self.size } else { self.size };
        out.push(Shape::Words {
            text: text.to_owned(),
            at: [at[0], at[1] + 0.36 * size],
            size,
            bold: true,
            anchor: Anchor::Middle,
            ink: self.edge_ink,
        });
    }

    /// Width of the longest line.
    fn plate_width(&self, view: &dyn Placing, text: &str) -> f32 {
        text.lines().map(|l| view.words_width(l, self.size)).fold(0.0, f32::max)
    }

    /// Words on a plate of the other tone, their left end and their middle at a place; lines end where the text's do.
    /// Words of a place in sight stay in sight.
    fn plate(&self, out: &mut Vec<Shape>, view: &dyn Placing, [x, y]: [f32; 2], text: &str) {
        let lines: Vec<&str> = text.lines().collect();
        let leading = 1.35 * self.size;
        let wide = self.plate_width(view, text);
        let (pad, height) = (0.3 * self.size, leading * lines.len() as f32);
        let [left, above, width, below] = view.rect();
        let (right, below) = (left + width, above + below);
        let in_sight = (left..=right).contains(&x) && (above..=below).contains(&y);
        let x = if in_sight { x.min(right - wide - pad).max(left + pad) } else { x };
        let top = if in_sight { (y - height / 2.0).min(below - height).max(above) } else { y - height / 2.0 };
        let rect = [x - pad, top, wide + 2.0 * pad, height];
        out.push(Shape::Fill { rect, ink: self.edge_ink, opacity: PLATE });
        for (i, line) in lines.iter().enumerate() {
            let at = [x, top + leading * (i as f32 + 0.5) + 0.36 * self.size];
            let (text, ink) = ((*line).to_owned(), self.ink);
            out.push(Shape::Words { text, at, size: self.size, bold: true, anchor: Anchor::Start, ink });
        }
    }
}

/// A filled disc: a ring of half the radius whose line is as wide as the radius.
fn filled(out: &mut Vec<Shape>, [x, y]: [f32; 2], radius: f32, ink: Ink) {
    let corner = |i: usize| {
        let (sin, cos) = (std::f32::consts::TAU * i as f32 / ROUND as f32).sin_cos();
        [x + radius / 2.0 * cos, y + radius / 2.0 * sin]
    };
    let points = (0..ROUND).map(corner).collect();
    out.push(Shape::Line { points, closed: true, width: radius, ink, opacity: 1.0, dash: None });
}

/// The point at a distance from `from` on the way to `to`; `None` where they are nearer than that.
fn towards(from: [f32; 2], to: [f32; 2], distance: f32) -> Option<[f32; 2]> {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let long = dx.hypot(dy);
    (long > distance).then(|| [from[0] + dx / long * distance, from[1] + dy / long * distance])
}

/// A short line across the end of another.
fn tick(a: [f32; 2], b: [f32; 2], [x, y]: [f32; 2], half: f32) -> [[f32; 2]; 2] {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let long = dx.hypot(dy).max(f32::MIN_POSITIVE);
    let (nx, ny) = (-dy / long * half, dx / long * half);
    [[x + nx, y + ny], [x - nx, y - ny]]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten points a millimetre, ten points from the corner.
    struct Flat;

    impl Placing for Flat {
        fn place(&self, space: &Space, [x, y]: Anchored) -> Option<[f32; 2]> {
            (*space == self.space()).then_some([(10.0 + 10.0 * x) as f32, (10.0 + 10.0 * y) as f32])
        }

        fn anchor(&self, space: &Space, [x, y]: [f32; 2]) -> Option<Anchored> {
            (*space == self.space()).then_some([f64::from(x - 10.0) / 10.0, f64::from(y - 10.0) / 10.0])
        }

        fn space(&self) -> Space {
            Space::Board("top".into())
        }

        fn rect(&self) -> [f32; 4] {
            [0.0, 0.0, 200.0, 100.0]
        }

        fn words_size(&self) -> f32 {
            10.0
        }

        fn words_width(&self, text: &str, size: f32) -> f32 {
            0.5 * size * text.len() as f32
        }
    }

    fn drawn(what: What) -> Vec<Shape> {
        shapes(&Mark { space: Flat.space(), what, style: Style::default(), reveal: 0 }, &Flat)
    }

    fn words(shapes: &[Shape]) -> Vec<&str> {
        shapes
            .iter()
            .filter_map(|s| if let Shape::Words { text, .. } = s { Some(text.as_str()) } else { None })
            .collect()
    }

    #[test]
    fn a_measuring_line_says_its_length() {
        let shapes = drawn(What::Measure { from: [1.0, 1.0], to: [4.0, 5.0] });
        assert_eq!(words(&shapes), ["5.0 mm"]);
        let Some(Shape::Line { points, .. }) = shapes.first() else { panic!("{shapes:?}") };
        assert_eq!(points, &[[20.0, 20.0], [50.0, 60.0]]);
    }

    #[test]
    fn a_callout_carries_number_and_words_and_reaches_its_place() {
        let shapes = drawn(What::Callout { at: [1.0, 1.0], label: [9.0, 1.0], number: 7, text: "hot\nhere".into() });
        assert_eq!(words(&shapes), ["7", "hot", "here"]);
        let reaches =
            shapes.iter().any(|s| matches!(s, Shape::Line { points, .. } if points.last() == Some(&[20.0, 20.0])));
        assert!(reaches, "{shapes:?}");
    }

    #[test]
    fn words_near_the_edge_stay_in_sight() {
        let plate = |what| {
            let shapes = drawn(what);
            let found = shapes.iter().find_map(|s| if let Shape::Fill { rect, .. } = s { Some(*rect) } else { None });
            found.unwrap()
        };
        // The view is 200 wide; ten letters are 50, and 3 on either side.
        let [x, y, w, h] = plate(What::Text { at: [18.5, 0.0], text: "ten letter".into() });
        assert!((x + w - 200.0).abs() < 1e-3 && (w - 56.0).abs() < 1e-3 && y >= 0.0 && h > 10.0, "{x} {y} {w} {h}");
        // A callout's go to the other side of its disc: at 190, less 9.5 + 4 + 50 + 3.
        let [x, ..] = plate(What::Callout { at: [1.0, 5.0], label: [18.0, 5.0], number: 1, text: "ten letter".into() });
        assert!((x - 123.5).abs() < 1e-3, "{x}");
    }

    #[test]
    fn every_line_has_an_edge_of_the_other_tone() {
        for what in [
            What::Arrow { from: [0.0, 0.0], to: [9.0, 4.0] },
            What::Loop { middle: [5.0, 5.0], half: [2.0, 1.0] },
            What::Measure { from: [0.0, 0.0], to: [9.0, 4.0] },
        ] {
            let shapes = drawn(what);
            let inks =
                |wanted: Ink| shapes.iter().filter(|s| matches!(s, Shape::Line { ink, .. } if *ink == wanted)).count();
            assert_eq!(inks(WHITE), inks(BLACK));
            assert!(inks(WHITE) > 0);
        }
    }

    #[test]
    fn a_dimmed_view_keeps_its_hole() {
        let shapes = drawn(What::Dim { middle: [5.0, 5.0], half: [2.0, 1.0] });
        let [Shape::Shade { rect, hole, .. }] = &shapes[..] else { panic!("{shapes:?}") };
        assert_eq!(*rect, Flat.rect());
        let wide =
            hole.iter().map(|p| p[0]).fold(f32::MIN, f32::max) - hole.iter().map(|p| p[0]).fold(f32::MAX, f32::min);
        assert!((wide - 40.0).abs() < 0.01, "{wide}");
    }

    #[test]
    fn a_mark_of_another_space_is_not_drawn() {
        let what = What::Arrow { from: [0.0, 0.0], to: [9.0, 4.0] };
        let mark = Mark { space: Space::Frame("inject 1".into()), what, style: Style::default(), reveal: 0 };
        assert!(shapes(&mark, &Flat).is_empty());
    }
}
