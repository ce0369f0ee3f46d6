//! From the places of marks to the places on a view.

use super::{Anchored, Space};

/// A view that marks can be drawn on: screen, paper or picture.
pub trait Placing {
    /// Where a place of a space lies on the view; `None` where the view does not show that space.
    fn place(&self, space: &Space, at: Anchored) -> Option<[f32; 2]>;
    /// The place of a space under a point of the view; `None` where the view does not show that space.
    fn anchor(&self, space: &Space, at: [f32; 2]) -> Option<Anchored>;
    /// The view's own space: what a new mark on it is measured in.
    fn space(&self) -> Space;
    /// The view: left, top, width, height.
    fn rect(&self) -> [f32; 4];
    /// Height of ordinary words on it.
    fn words_size(&self) -> f32;
    /// Width of words at a size.
    fn words_width(&self, text: &str, size: f32) -> f32;
}
