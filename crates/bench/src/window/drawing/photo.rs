//! The photo below the drawing: squared up from four of its points, loaded once, drawn as a mesh.

use std::path::{Path, PathBuf};

use egui::{ColorImage, Mesh, TextureHandle, TextureOptions, pos2};
use joulemark_locate::{
    align::{Alignment, AlignmentKind, PointPair},
    board::Photo,
};
use nalgebra::Point2;

use super::view::UiFromBoard;

/// The longest side that is kept, in pixels: finer than any part needs, and what every graphics card takes.
const MOST_PX: u32 = 4096;
/// Largest picture that is decoded, in bytes.
const MOST_BYTES: u64 = 1 << 30;
/// The mesh has this many cells each way: perspective between its corners bends by less than a screen point.
const CELLS: usize = 32;
/// Share of the squared-up rectangle that is shown around it, so that what lies beside the board is seen.
const AROUND: f64 = 0.5;

/// Which picture point lies where on the face.
pub fn squaring(photo: &Photo) -> Result<Alignment, String> {
    let [w, h] = [photo.width_mm, photo.height_mm];
    if !(w.is_finite() && h.is_finite() && w > 0.0 && h > 0.0) {
        return Err("give both lengths in millimetres, above zero".to_owned());
    }
    let mm = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let pair = |(px, mm): (&[f64; 2], &[f64; 2])| PointPair { x_px: px[0], y_px: px[1], x_mm: mm[0], y_mm: mm[1] };
    let pairs: Vec<PointPair> = photo.corners_px.iter().zip(&mm).map(pair).collect();
    Alignment::fit_kind(AlignmentKind::Homography, &pairs).map_err(|e| e.to_string())
}

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

/// A picture that was read: its size as filed and its pixels, reduced where it is very large.
#[derive(Clone)]
pub struct Loaded {
    /// Where from.
    pub path: PathBuf,
    /// Columns and rows of the file.
    pub size_px: [u32; 2],
    /// Pixels to show.
    pub image: ColorImage,
}

impl std::fmt::Debug for Loaded {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Loaded").field("path", &self.path).field("size_px", &self.size_px).finish_non_exhaustive()
    }
}

/// Reads a picture file.
///
/// # Errors
/// One line: file, what is wrong, what to do.
pub fn load(path: &Path) -> anyhow::Result<Loaded> {
    let bad = |e: &dyn std::fmt::Display| {
        crate::case::BadInput::at(
            path,
            "",
            format!("cannot be read as a picture: {e}"),
            "give a PNG, JPEG, BMP or WebP",
        )
    };
    let mut reader =
        image::ImageReader::open(path).and_then(image::ImageReader::with_guessed_format).map_err(|e| bad(&e))?;
    let mut limits = image::Limits::default();
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let picture = reader.decode().map_err(|e| bad(&e))?;
    let size_px = [picture.width(), picture.height()];
    let picture = if size_px[0].max(size_px[1]) > MOST_PX {
        picture.resize(MOST_PX, MOST_PX, image::imageops::FilterType::Triangle)
    } else {
        picture
    };
    let shown = [picture.width() as usize, picture.height() as usize];
    let image = ColorImage::from_rgba_unmultiplied(shown, &picture.to_rgba8());
    Ok(Loaded { path: path.to_owned(), size_px, image })
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
        let texture =
            self.texture.get_or_insert_with(|| ctx.load_texture("photo", loaded.image.clone(), TextureOptions::LINEAR));
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

    /// Worked by hand: x_px = 100 u / (1 + u), y_px = 100 v / (1 + u) with u = x/10 mm, v = y/10 mm sends the corners
    /// (0,0), (10,0), (10,10), (0,10) mm to (0,0), (50,0), (50,50), (0,100) px, and (5, 5) mm to 50/1.5 = 33.33 px.
    #[test]
    fn squaring_up_agrees_with_a_perspective_worked_by_hand() {
        let photo = Photo {
            file: "p.png".into(),
            corners_px: [[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 100.0]],
            width_mm: 10.0,
            height_mm: 10.0,
        };
        let squaring = squaring(&photo).unwrap();
        let px = squaring.to_image(Point2::new(5.0, 5.0));
        // Four exact pairs: only rounding of the solver remains.
        assert!((px.x - 100.0 / 3.0).abs() < 1e-9 && (px.y - 100.0 / 3.0).abs() < 1e-9, "{px}");
        let mm = squaring.to_board(Point2::new(100.0 * 0.2 / 1.2, 100.0 * 0.7 / 1.2));
        assert!((mm.x - 2.0).abs() < 1e-9 && (mm.y - 7.0).abs() < 1e-9, "{mm}");
    }

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
