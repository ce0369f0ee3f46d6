//! Where places of the case lie on a view that was drawn.

use joulemark_locate::align::Alignment;
use nalgebra::Point2;

use super::Area;
use crate::{
    lesson::{Anchored, Space, place::Placing},
    report::typeface::Fonts,
};

/// A view that was drawn.
#[derive(Clone, Debug)]
pub struct ViewPlacing {
    rect: [f32; 4],
    words_size: f32,
    fonts: &'static Fonts,
    kind: Kind,
    flat: Flat,
}

/// From the view's own places to the drawing's, axis by axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flat {
    pub scale: [f64; 2],
    pub shift: [f64; 2],
}

impl Flat {
    /// What brings a window of the view's own places (left, top, right, bottom) onto a rectangle.
    pub fn onto([left, top, right, bottom]: [f64; 4], rect: [f32; 4]) -> Self {
        let [x, y, w, h] = rect.map(f64::from);
        let scale = [w / (right - left), h / (bottom - top)];
        Self { scale, shift: [x - left * scale[0], y - top * scale[1]] }
    }

    /// Where a place lies.
    pub fn at(&self, [x, y]: Anchored) -> [f32; 2] {
        [(x * self.scale[0] + self.shift[0]) as f32, (y * self.scale[1] + self.shift[1]) as f32]
    }

    fn back(&self, [x, y]: [f32; 2]) -> Anchored {
        [(f64::from(x) - self.shift[0]) / self.scale[0], (f64::from(y) - self.shift[1]) / self.scale[1]]
    }
}

/// What the view's own places are.
#[derive(Clone, Debug)]
pub enum Kind {
    /// There are none.
    Nothing,
    /// Pixels of a take, and the face in its picture where it is lined up.
    Map { take: String, face: Option<(String, Box<Alignment>)> },
    /// Millimetres of a face.
    Face(String),
    /// Seconds and values of a take.
    Curve(String),
}

impl ViewPlacing {
    /// A view of no picture.
    pub fn nothing(area: &Area) -> Self {
        Self::new(area, area.rect, Kind::Nothing, Flat { scale: [1.0; 2], shift: [0.0; 2] })
    }

    /// A view whose picture fills a rectangle.
    pub fn new(area: &Area, rect: [f32; 4], kind: Kind, flat: Flat) -> Self {
        Self { rect, words_size: area.words_size, fonts: area.fonts, kind, flat }
    }

    /// The view's own places: pixels of a map, millimetres of a drawing or photo, seconds and values of a curve.
    pub fn flat(&self) -> &Flat {
        &self.flat
    }

    /// The zoom that shows what is seen now about a point of the view, so many times as large.
    pub fn zoom(&self, about: [f32; 2], times: f64) -> Option<super::super::Zoom> {
        if matches!(self.kind, Kind::Nothing | Kind::Curve(_)) || !(times.is_finite() && times > 0.0) {
            return None;
        }
        let [x, y, w, h] = self.rect;
        let (at, middle) = (self.flat.back(about), self.flat.back([x + w / 2.0, y + h / 2.0]));
        let across = f64::from(w) / self.flat.scale[0];
        // The point under the pointer stays where it is.
        let middle = [0, 1].map(|i| at[i] + (middle[i] - at[i]) / times);
        Some(super::super::Zoom { middle, across: across / times })
    }
}

impl Placing for ViewPlacing {
    fn place(&self, space: &Space, at: Anchored) -> Option<[f32; 2]> {
        let own = match (&self.kind, space) {
            (Kind::Map { take, .. }, Space::Frame(of)) if take == of => at,
            (Kind::Map { face: Some((face, alignment)), .. }, Space::Board(of)) if face == of => {
                let px = alignment.to_image(Point2::from(at));
                [px.x, px.y]
            }
            (Kind::Face(face), Space::Board(of)) if face == of => at,
            (Kind::Curve(take), Space::Curve(of)) if take == of => at,
            _ => return None,
        };
        let placed = self.flat.at(own);
        placed.iter().all(|v| v.is_finite()).then_some(placed)
    }

    fn anchor(&self, space: &Space, at: [f32; 2]) -> Option<Anchored> {
        let own = self.flat.back(at);
        let anchored = match (&self.kind, space) {
            (Kind::Map { take, .. }, Space::Frame(of)) if take == of => own,
            (Kind::Map { face: Some((face, alignment)), .. }, Space::Board(of)) if face == of => {
                let mm = alignment.to_board(Point2::from(own));
                [mm.x, mm.y]
            }
            (Kind::Face(face), Space::Board(of)) if face == of => own,
            (Kind::Curve(take), Space::Curve(of)) if take == of => own,
            _ => return None,
        };
        anchored.iter().all(|v| v.is_finite()).then_some(anchored)
    }

    fn space(&self) -> Space {
        match &self.kind {
            Kind::Nothing => Space::Board(String::new()),
            Kind::Map { face: Some((face, _)), .. } | Kind::Face(face) => Space::Board(face.clone()),
            Kind::Map { take, face: None } => Space::Frame(take.clone()),
            Kind::Curve(take) => Space::Curve(take.clone()),
        }
    }

    fn rect(&self) -> [f32; 4] {
        self.rect
    }

    fn words_size(&self) -> f32 {
        self.words_size
    }

    fn words_width(&self, text: &str, size: f32) -> f32 {
        self.fonts.face(true).width(text, size)
    }
}
