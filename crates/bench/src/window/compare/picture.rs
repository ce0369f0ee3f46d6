//! Pictures laid onto the board: a take through its own alignment, and the difference map.

use egui::{
    Color32, ColorImage, Context, Mesh, Painter, Rect, Shape, TextureHandle, TextureId, TextureOptions, epaint::Vertex,
    pos2,
};
use joulemark_locate::repair_check::Difference;
use nalgebra::Point2;

use super::super::{drawing::view::UiFromBoard, session::TakeView};
use crate::theme::ramp;

/// Cells of the mesh that bends a picture onto the board. Within one, the projection is as good as straight.
const COLUMNS: u32 = 32;
const ROWS: u32 = 24;
/// A difference below this many standard errors is drawn faint.
const CLEAR_ERRORS: f32 = 2.0;
/// How much of its colour a faint one keeps.
const FAINT: f32 = 0.3;
/// Share of the cells that lie within the colours' ends.
const WITHIN: f64 = 0.999;

/// Draws a take's picture where its alignment puts it on the board.
pub(super) fn take(painter: &Painter, texture: TextureId, view: &TakeView, map: UiFromBoard) {
    let Some(alignment) = &view.alignment else {
        return;
    };
    let shape = view.take.stack.shape();
    let (width, height) = (shape.width_px as f64, shape.height_px as f64);
    let mut mesh = Mesh::with_texture(texture);
    for row in 0..=ROWS {
        for column in 0..=COLUMNS {
            let (u, v) = (f64::from(column) / f64::from(COLUMNS), f64::from(row) / f64::from(ROWS));
            // A pixel's centre is its number: the picture reaches half a pixel beyond.
            let mm = alignment.to_board(Point2::new(u * width - 0.5, v * height - 0.5));
            let pos = map.to_ui([mm.x, mm.y]);
            mesh.vertices.push(Vertex { pos, uv: pos2(u as f32, v as f32), color: Color32::WHITE });
        }
    }
    let finite = |i: u32| mesh.vertices[i as usize].pos.is_finite();
    let mut indices = Vec::new();
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            let a = row * (COLUMNS + 1) + column;
            let corners = [a, a + 1, a + COLUMNS + 1, a + COLUMNS + 2];
            if corners.iter().all(|&i| finite(i)) {
                indices.extend([corners[0], corners[1], corners[2], corners[1], corners[3], corners[2]]);
            }
        }
    }
    mesh.indices = indices;
    painter.add(Shape::mesh(mesh));
}

/// The difference map as a texture, rebuilt only when it shows something else.
#[derive(Default)]
pub struct DifferenceTexture {
    of: Option<(u64, u64)>,
    handle: Option<TextureHandle>,
    /// The difference at either end of the colours.
    most: f32,
}

impl std::fmt::Debug for DifferenceTexture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("DifferenceTexture").field("of", &self.of).finish_non_exhaustive()
    }
}

impl DifferenceTexture {
    /// Draws it, and returns the difference at the end of the colours.
    pub(super) fn show(
        &mut self,
        painter: &Painter,
        serials: (u64, u64),
        difference: &Difference,
        map: UiFromBoard,
    ) -> f32 {
        if self.of != Some(serials) {
            self.most = most(difference);
            self.load(painter.ctx(), difference);
            self.of = Some(serials);
        }
        if let Some(handle) = &self.handle {
            let (rows, columns) = difference.rise.dim();
            let half = difference.step_mm / 2.0;
            let [x, y] = difference.origin_mm;
            let end = [x + (columns as f64 - 0.5) * difference.step_mm, y + (rows as f64 - 0.5) * difference.step_mm];
            let place = Rect::from_min_max(map.to_ui([x - half, y - half]), map.to_ui(end));
            let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            painter.image(handle.id(), place, whole, Color32::WHITE);
        }
        self.most
    }

    fn load(&mut self, ctx: &Context, difference: &Difference) {
        let (rows, columns) = difference.rise.dim();
        let table = ramp::of_differences();
        let pixels = difference.rise.iter().zip(&difference.se).map(|(&d, &se)| colour(d, se, self.most, &table));
        let image = ColorImage::new([columns, rows], pixels.collect());
        match &mut self.handle {
            Some(handle) => handle.set(image, TextureOptions::NEAREST),
            None => self.handle = Some(ctx.load_texture("difference", image, TextureOptions::NEAREST)),
        }
    }
}

/// Nothing lies in the middle of the colours; what is within its error is faint.
fn colour(difference: f32, se: f32, most: f32, table: &[Color32; 256]) -> Color32 {
    if !difference.is_finite() {
        return Color32::TRANSPARENT;
    }
    let at = ((difference / most + 1.0) * 127.5).clamp(0.0, 255.0) as usize;
    if difference.abs() < CLEAR_ERRORS * se { table[at].gamma_multiply(FAINT) } else { table[at] }
}

/// The largest difference but for a few cells.
fn most(difference: &Difference) -> f32 {
    let mut sizes: Vec<f32> = difference.rise.iter().map(|d| d.abs()).filter(|d| d.is_finite()).collect();
    sizes.sort_by(f32::total_cmp);
    let at = ((sizes.len().max(1) - 1) as f64 * WITHIN).round() as usize;
    sizes.get(at).copied().filter(|m| *m > 0.0).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theme::ramp::ColourScale;

    #[test]
    fn what_is_within_its_error_is_faint_and_zero_lies_in_the_middle() {
        let table = ColourScale::Grey.table();
        assert_eq!(colour(1.0, 0.1, 1.0, &table), table[255]);
        assert_eq!(colour(-1.0, 0.1, 1.0, &table), table[0]);
        assert_eq!(colour(0.0, 0.0, 1.0, &table), table[127]);
        assert!(colour(0.1, 0.1, 1.0, &table).a() < 100);
        assert_eq!(colour(f32::NAN, 0.1, 1.0, &table).a(), 0);
    }

    #[test]
    fn an_empty_difference_still_has_a_range() {
        let nothing = ndarray::Array2::from_elem((2, 2), f32::NAN);
        let difference = Difference {
            origin_mm: [0.0; 2],
            step_mm: 1.0,
            rise: nothing.clone(),
            se: nothing.clone(),
            before: nothing.clone(),
            after: nothing,
        };
        assert_eq!(most(&difference), 1.0);
    }
}
