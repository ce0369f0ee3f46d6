//! Zoom and pan. Pixel centres lie at integers, so a picture of `w` columns spans -0.5 to w - 0.5.

use egui::{Pos2, Rect, Vec2, pos2, vec2};
use joulemark_frames::StackShape;

/// Closest zoom, in screen points per pixel.
const MOST_POINTS_PER_PX: f32 = 80.0;
/// Part of the canvas that a fitted picture may take, leaving room for rings at the edge.
const FIT_SHARE: f32 = 0.97;

/// What part of the picture is on screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapView {
    /// The picture point in the middle of the canvas.
    pub centre_px: [f64; 2],
    /// Screen points per pixel.
    pub points_per_px: f32,
}

/// Scroll distance, in points, that zooms by a factor of e.
const SCROLL_POINTS_PER_E: f32 = 240.0;

/// The factor by which wheel, touchpad or pinch ask to zoom in this frame.
pub fn zoom_asked(ui: &egui::Ui) -> f32 {
    ui.input(|i| (i.smooth_scroll_delta().y / SCROLL_POINTS_PER_E).exp() * i.zoom_delta())
}

impl MapView {
    /// The whole picture.
    pub fn fit(shape: StackShape, canvas: Vec2) -> Self {
        let (w, h) = (shape.width_px.max(1) as f32, shape.height_px.max(1) as f32);
        Self {
            centre_px: [(f64::from(w) - 1.0) / 2.0, (f64::from(h) - 1.0) / 2.0],
            points_per_px: (FIT_SHARE * (canvas.x / w).min(canvas.y / h)).max(0.01),
        }
    }

    /// Zooms by a factor so that the picture point under `anchor` stays there.
    pub fn zoom(&mut self, factor: f32, anchor: Pos2, canvas: Rect, shape: StackShape) {
        let before = UiFromImage::new(self, canvas).to_image(anchor);
        let least = Self::fit(shape, canvas.size()).points_per_px * 0.5;
        self.points_per_px = (self.points_per_px * factor).clamp(least, MOST_POINTS_PER_PX.max(least));
        let after = UiFromImage::new(self, canvas).to_image(anchor);
        self.centre_px[0] += before[0] - after[0];
        self.centre_px[1] += before[1] - after[1];
        self.keep_in(shape);
    }

    /// Moves the picture by a distance on screen.
    pub fn pan(&mut self, delta_in_ui: Vec2, shape: StackShape) {
        self.centre_px[0] -= f64::from(delta_in_ui.x / self.points_per_px);
        self.centre_px[1] -= f64::from(delta_in_ui.y / self.points_per_px);
        self.keep_in(shape);
    }

    /// The picture can never be pushed off the canvas entirely.
    pub fn keep_in(&mut self, shape: StackShape) {
        self.centre_px[0] = self.centre_px[0].clamp(0.0, shape.width_px.max(1) as f64 - 1.0);
        self.centre_px[1] = self.centre_px[1].clamp(0.0, shape.height_px.max(1) as f64 - 1.0);
    }
}

/// From picture points to screen points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UiFromImage {
    origin_in_ui: Pos2,
    centre_px: [f64; 2],
    /// Screen points per pixel.
    pub points_per_px: f32,
}

impl UiFromImage {
    /// The mapping of a view on a canvas.
    pub fn new(view: &MapView, canvas: Rect) -> Self {
        Self { origin_in_ui: canvas.center(), centre_px: view.centre_px, points_per_px: view.points_per_px }
    }

    /// A picture point on screen.
    pub fn to_ui(&self, [x_px, y_px]: [f64; 2]) -> Pos2 {
        let at = vec2((x_px - self.centre_px[0]) as f32, (y_px - self.centre_px[1]) as f32);
        self.origin_in_ui + at * self.points_per_px
    }

    /// A screen point in the picture.
    pub fn to_image(&self, at: Pos2) -> [f64; 2] {
        let d = (at - self.origin_in_ui) / self.points_per_px;
        [self.centre_px[0] + f64::from(d.x), self.centre_px[1] + f64::from(d.y)]
    }

    /// Where the whole picture lies on screen.
    pub fn picture(&self, shape: StackShape) -> Rect {
        Rect::from_min_max(
            self.to_ui([-0.5, -0.5]),
            self.to_ui([shape.width_px as f64 - 0.5, shape.height_px as f64 - 0.5]),
        )
    }
}

/// The pixel at a picture point, `[column, row]`, when it lies within the picture.
pub fn pixel_at([x_px, y_px]: [f64; 2], shape: StackShape) -> Option<[usize; 2]> {
    let (x, y) = (x_px.round(), y_px.round());
    let inside = x >= 0.0 && y >= 0.0 && x < shape.width_px as f64 && y < shape.height_px as f64;
    inside.then_some([x as usize, y as usize])
}

/// The smallest rectangle around points, grown to a least size.
pub fn around(points: &[Pos2], least: f32) -> Rect {
    let rect = Rect::from_points(points);
    let grow = ((vec2(least, least) - rect.size()) / 2.0).max(Vec2::ZERO);
    if points.is_empty() { Rect::from_center_size(pos2(0.0, 0.0), Vec2::ZERO) } else { rect.expand2(grow) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPE: StackShape = StackShape { frames: 1, height_px: 120, width_px: 160 };

    fn canvas() -> Rect {
        Rect::from_min_size(pos2(40.0, 60.0), vec2(800.0, 500.0))
    }

    #[test]
    fn there_and_back() {
        let mut view = MapView::fit(SHAPE, canvas().size());
        view.zoom(3.0, pos2(200.0, 100.0), canvas(), SHAPE);
        let map = UiFromImage::new(&view, canvas());
        for at in [[0.0, 0.0], [12.25, 99.5], [159.0, 119.0]] {
            let back = map.to_image(map.to_ui(at));
            // Screen points are f32: a thousandth of a pixel is what they can carry at this size.
            assert!((back[0] - at[0]).abs() < 1e-3 && (back[1] - at[1]).abs() < 1e-3, "{at:?} became {back:?}");
        }
    }

    #[test]
    fn pixel_centres_lie_at_integers() {
        let view = MapView { centre_px: [0.0, 0.0], points_per_px: 10.0 };
        let map = UiFromImage::new(&view, canvas());
        assert_eq!(map.to_ui([0.0, 0.0]), canvas().center());
        assert_eq!(map.picture(SHAPE).min, canvas().center() - vec2(5.0, 5.0));
        assert_eq!(pixel_at([0.49, -0.49], SHAPE), Some([0, 0]));
        assert_eq!(pixel_at([-0.51, 0.0], SHAPE), None);
        assert_eq!(pixel_at([159.4, 119.4], SHAPE), Some([159, 119]));
        assert_eq!(pixel_at([159.6, 0.0], SHAPE), None);
    }

    #[test]
    fn zooming_keeps_the_point_under_the_cursor() {
        let mut view = MapView::fit(SHAPE, canvas().size());
        let anchor = pos2(300.0, 200.0);
        let before = UiFromImage::new(&view, canvas()).to_image(anchor);
        view.zoom(2.5, anchor, canvas(), SHAPE);
        let after = UiFromImage::new(&view, canvas()).to_image(anchor);
        assert!((before[0] - after[0]).abs() < 1e-3 && (before[1] - after[1]).abs() < 1e-3);
    }

    #[test]
    fn the_picture_cannot_be_lost() {
        let mut view = MapView::fit(SHAPE, canvas().size());
        view.pan(vec2(1e6, -1e6), SHAPE);
        assert_eq!(view.centre_px, [0.0, 119.0]);
        view.zoom(1e-9, canvas().center(), canvas(), SHAPE);
        assert!(view.points_per_px > 0.1);
    }
}
