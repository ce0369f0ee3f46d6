//! The photo below the drawing: squared up from four of its points, loaded once, drawn as a mesh.

use std::path::{Path, PathBuf};

use egui::{ColorImage, Mesh, TextureHandle, TextureOptions, pos2};
use joulemark_locate::board::Photo;
use nalgebra::Point2;

use super::view::UiFromBoard;
pub use crate::photo::{Loaded, load, squaring};

/// The mesh has this many cells each way: perspective between its corners bends by less than a screen point.
const CELLS: usize = 32;
/// Share of the squared-up rectangle that is shown around it, so that what lies beside the board is seen.
const AROUND: f64 = 0.5;

/// A photo as it comes, before it is squared up: the whole picture, a width of 100 mm.
pub fn unsquared(file: String, [width_px, height_px]: [u32; 2]) -> Photo {
    let [w, h] = [width_px, height_px].map(|v| f64::from(v.max(1)));
    let (right, low) = (w - 0.5, h - 0.5);
    Photo {
        file,
        corners_px: [[-0.5, -0.5], [right, -0.5], [right, low], [-0.5, low]],
        width_mm: 100.0,
        height_mm: super::snap::tidy(100.0 * h / w),
    }
}

/// Four clicked points in the order upper left, upper right, lower right, lower left, whatever order they came in:
/// by angle around their middle (y down), starting with the one nearest to the upper left.
pub fn in_order(mut corners: [[f64; 2]; 4]) -> [[f64; 2]; 4] {
    let middle = [0, 1].map(|i| corners.iter().map(|c| c[i]).sum::<f64>() / 4.0);
    corners.sort_by(|a, b| {
        let angle = |c: &[f64; 2]| (c[1] - middle[1]).atan2(c[0] - middle[0]);
        angle(a).total_cmp(&angle(b))
    });
    let sum = |c: &[f64; 2]| c[0] + c[1];
    let first = (0..4).min_by(|&a, &b| sum(&corners[a]).total_cmp(&sum(&corners[b]))).unwrap_or(0);
    corners.rotate_left(first);
    corners
}

/// A loaded picture on the graphics card.
#[derive(Default)]
pub struct Underlay {
    /// A picture that is being read because the drawing names it.
    pub asked: Option<PathBuf>,
    /// A picture that is being read because the user chose it.
    pub chosen: Option<PathBuf>,
    loaded: Option<Loaded>,
    texture: Option<TextureHandle>,
}

impl std::fmt::Debug for Underlay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Underlay").field("loaded", &self.loaded).finish_non_exhaustive()
    }
}

impl Underlay {
    /// Takes a picture in.
    pub fn set(&mut self, loaded: Loaded) {
        *self = Self { loaded: Some(loaded), ..Self::default() };
    }

    /// The picture that is there.
    pub fn path(&self) -> Option<&Path> {
        self.loaded.as_ref().map(|l| l.path.as_path())
    }

    /// The mesh that shows the photo squared up on the canvas.
    pub fn mesh(&mut self, ctx: &egui::Context, photo: &Photo, map: UiFromBoard) -> Option<Mesh> {
        let loaded = self.loaded.as_ref()?;
        let texture = self.texture.get_or_insert_with(|| {
            let size = [loaded.image.width() as usize, loaded.image.height() as usize];
            let image = ColorImage::from_rgba_unmultiplied(size, &loaded.image);
            ctx.load_texture("photo", image, TextureOptions::LINEAR)
        });
        let squaring = squaring(photo).ok()?;
        let [w, h] = loaded.size_px.map(f64::from);
        let mut mesh = Mesh::with_texture(texture.id());
        let mut seen = Vec::with_capacity((CELLS + 1) * (CELLS + 1));
        let along = |i: usize, length: f64| length * ((1.0 + 2.0 * AROUND) * i as f64 / CELLS as f64 - AROUND);
        for j in 0..=CELLS {
            for i in 0..=CELLS {
                let mm = [along(i, photo.width_mm), along(j, photo.height_mm)];
                let px = squaring.to_image(Point2::new(mm[0], mm[1]));
                let uv = [(px.x + 0.5) / w, (px.y + 0.5) / h];
                // A cell beyond the picture's edge has no pixels to show; half a cell over it is clamped.
                seen.push(uv.iter().all(|v| (-0.03..=1.03).contains(v)));
                mesh.vertices.push(egui::epaint::Vertex {
                    pos: map.to_ui(mm),
                    uv: pos2(uv[0] as f32, uv[1] as f32),
                    color: egui::Color32::WHITE,
                });
            }
        }
        let row = CELLS + 1;
        for j in 0..CELLS {
            for i in 0..CELLS {
                let at = [j * row + i, j * row + i + 1, (j + 1) * row + i, (j + 1) * row + i + 1];
                if at.iter().all(|&v| seen[v]) {
                    let [a, b, c, d] = at.map(|v| v as u32);
                    mesh.add_triangle(a, b, c);
                    mesh.add_triangle(b, c, d);
                }
            }
        }
        Some(mesh)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_may_be_clicked_in_any_order() {
        let wanted = [[10.0, 12.0], [90.0, 8.0], [95.0, 70.0], [5.0, 75.0]];
        for order in [[0, 1, 2, 3], [3, 1, 0, 2], [2, 3, 0, 1], [1, 0, 3, 2]] {
            assert_eq!(in_order(order.map(|i: usize| wanted[i])), wanted);
        }
    }

    #[test]
    fn lengths_must_be_above_zero() {
        let photo = Photo { width_mm: 0.0, ..unsquared("p".into(), [64, 32]) };
        assert!(squaring(&photo).unwrap_err().contains("above zero"));
        assert!(squaring(&unsquared("p".into(), [64, 32])).is_ok());
    }
}
