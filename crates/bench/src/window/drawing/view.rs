//! Zoom and pan of the drawing, in millimetres of the face.

use egui::{Pos2, Rect, Vec2, vec2};
use joulemark_locate::board::Face;

/// Bounds of the zoom, in screen points per millimetre.
const POINTS_PER_MM: std::ops::RangeInclusive<f32> = 0.2..=2000.0;
/// What an empty face shows, in millimetres.
const EMPTY_MM: [f64; 2] = [110.0, 80.0];

/// What part of a face is on screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawingView {
    /// The point of the face in the middle of the canvas.
    pub centre_mm: [f64; 2],
    /// Screen points per millimetre.
    pub points_per_mm: f32,
}

impl DrawingView {
    /// Everything on a face, its photo included.
    pub fn fit(face: Option<&Face>, canvas: Vec2) -> Self {
        let mut points: Vec<[f64; 2]> = Vec::new();
        if let Some(face) = face {
            points.extend(&face.outline);
            for part in &face.parts {
                let half = part.width_mm.max(part.height_mm) / 2.0;
                points.push([part.x_mm - half, part.y_mm - half]);
                points.push([part.x_mm + half, part.y_mm + half]);
            }
            if let Some(photo) = &face.photo {
                points.extend([[0.0, 0.0], [photo.width_mm, photo.height_mm]]);
            }
        }
        if points.len() < 2 {
            points = vec![[-5.0, -5.0], EMPTY_MM];
        }
        let bound = |i: usize, pick: fn(f64, f64) -> f64, start: f64| points.iter().map(|p| p[i]).fold(start, pick);
        let low = [0, 1].map(|i| bound(i, f64::min, f64::INFINITY));
        let high = [0, 1].map(|i| bound(i, f64::max, f64::NEG_INFINITY));
        let size = [0, 1].map(|i| ((high[i] - low[i]).max(0.1)) as f32);
        let fitted = 0.88 * (canvas.x / size[0]).min(canvas.y / size[1]);
        Self {
            centre_mm: [0, 1].map(|i| (low[i] + high[i]) / 2.0),
            points_per_mm: fitted.clamp(*POINTS_PER_MM.start(), *POINTS_PER_MM.end()),
        }
    }

    /// Zooms by a factor so that the point under `anchor` stays there.
    pub fn zoom(&mut self, factor: f32, anchor: Pos2, canvas: Rect) {
        let before = UiFromBoard::new(self, canvas).to_mm(anchor);
        self.points_per_mm = (self.points_per_mm * factor).clamp(*POINTS_PER_MM.start(), *POINTS_PER_MM.end());
        let after = UiFromBoard::new(self, canvas).to_mm(anchor);
        for i in 0..2 {
            self.centre_mm[i] += before[i] - after[i];
        }
    }

    /// Moves the drawing by a distance on screen.
    pub fn pan(&mut self, delta: Vec2) {
        self.centre_mm[0] -= f64::from(delta.x / self.points_per_mm);
        self.centre_mm[1] -= f64::from(delta.y / self.points_per_mm);
    }
}

/// From millimetres to screen points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UiFromBoard {
    origin_in_ui: Pos2,
    centre_mm: [f64; 2],
    /// Screen points per millimetre.
    pub points_per_mm: f32,
}

impl UiFromBoard {
    /// The mapping of a view on a canvas.
    pub fn new(view: &DrawingView, canvas: Rect) -> Self {
        Self { origin_in_ui: canvas.center(), centre_mm: view.centre_mm, points_per_mm: view.points_per_mm }
    }

    /// A point of the face on screen.
    pub fn to_ui(&self, [x, y]: [f64; 2]) -> Pos2 {
        let d = vec2((x - self.centre_mm[0]) as f32, (y - self.centre_mm[1]) as f32);
        self.origin_in_ui + d * self.points_per_mm
    }

    /// A screen point on the face.
    pub fn to_mm(&self, at: Pos2) -> [f64; 2] {
        let d = (at - self.origin_in_ui) / self.points_per_mm;
        [self.centre_mm[0] + f64::from(d.x), self.centre_mm[1] + f64::from(d.y)]
    }
}

#[cfg(test)]
mod tests {
    use egui::pos2;

    use super::*;

    #[test]
    fn zooming_keeps_the_point_under_the_cursor() {
        let canvas = Rect::from_min_size(pos2(10.0, 20.0), vec2(800.0, 500.0));
        let mut view = DrawingView::fit(None, canvas.size());
        let anchor = pos2(123.0, 321.0);
        let before = UiFromBoard::new(&view, canvas).to_mm(anchor);
        view.zoom(3.0, anchor, canvas);
        let after = UiFromBoard::new(&view, canvas).to_mm(anchor);
        // Screen points are f32: a micrometre or so is what they carry here.
        assert!((0..2).all(|i| (before[i] - after[i]).abs() < 1e-3), "{before:?} {after:?}");
    }
}
