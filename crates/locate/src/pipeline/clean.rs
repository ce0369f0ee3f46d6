//! The coefficient maps without the recording's faults.

use nalgebra::{DMatrix, Point2};
use rayon::prelude::*;

use super::Attempt;
use crate::{
    Repaired,
    clean::{self, LevelCourse, Texture},
    maps::{Holes, PixelNoise, Plane, Projection},
    model::ResponseModel,
    peaks::Regions,
    words,
};

/// Coefficient maps, cleaned, in units of the pixel noise.
pub(super) struct Cleaned {
    /// What the search works on: without what follows the emissivity texture.
    pub(super) searched: Vec<Plane>,
    /// What is measured: the texture is in it.
    pub(super) measured: Vec<Plane>,
    pub(super) before_slope: Plane,
    pub(super) nulls: Vec<Vec<Plane>>,
    pub(super) before: Plane,
    pub(super) level: Option<LevelCourse>,
}

impl Attempt<'_> {
    /// Undoes what can be undone on coefficient maps.
    pub(super) fn clean(
        &self,
        projection: Projection,
        basis: &DMatrix<f64>,
        model: &ResponseModel,
        noise: &PixelNoise,
        regions: &Regions,
        repairs: &mut Vec<Repaired>,
    ) -> Cleaned {
        let on = self.settings.repairs;
        let unit = words::unit(self.take.unit);
        let width = self.film.frames.shape().width_px;
        let vectors = model.vectors.ncols();
        let bad = noise.unusable.iter().filter(|b| **b).count();
        if on.pixels && bad > 0 {
            repairs.push(Repaired {
                what: "pixels",
                did: format!("{bad} stuck or far too noisy pixels were replaced by their neighbours"),
            });
        }
        let holes = if on.pixels { Holes::new(&noise.unusable, width) } else { Holes::default() };
        let level = if on.level {
            LevelCourse::read(self.film.frames, &projection.before, &regions.board, &noise.unusable)
        } else {
            None
        };
        if let Some(level) = level.as_ref().filter(|l| l.size() > f64::from(noise.typical) / 2.0) {
            repairs.push(Repaired {
                what: "level",
                did: format!(
                    "drift of the whole picture by {:.2} {unit} (rms), seen beside the board, was taken off",
                    level.size()
                ),
            });
        }
        let offsets = level.as_ref().map(|l| l.coefficients(basis));
        let mut before = projection.before;
        holes.mend(&mut before);
        let before = Plane::new(width, before);
        let mut planes: Vec<Plane> = projection
            .coefficients
            .into_par_iter()
            .enumerate()
            .map(|(k, mut values)| {
                if let Some(offset) = offsets.as_ref().map(|o| o[k] as f32).filter(|o| *o != 0.0) {
                    values.iter_mut().for_each(|v| *v -= offset);
                }
                holes.mend(&mut values);
                Plane::new(width, values)
            })
            .collect();
        let texture = || {
            let middle = Point2::new(width as f64 / 2.0, before.height as f64 / 2.0);
            let mm_per_px = self.scene.alignment.mm_per_px(middle);
            on.reflection.then(|| Texture::new(&before, &regions.board, mm_per_px)).flatten()
        };
        let level_out = || {
            if on.stripes
                && let Some(size) = clean::take_off_stripes(&mut planes, vectors, noise.typical)
            {
                repairs.push(Repaired {
                    what: "stripes",
                    did: format!(
                        "columns and rows that drift on their own (up to about {size:.2} {unit} in the maps) were levelled"
                    ),
                });
            }
            if on.motion
                && let Some(shift_px) = clean::take_off_sway(&mut planes, vectors, &before, noise.typical)
            {
                repairs.push(Repaired {
                    what: "motion",
                    did: format!(
                        "sway of the picture below a pixel ({shift_px:.2} px in the maps) was taken off by its own texture"
                    ),
                });
            }
            planes.par_iter_mut().for_each(|plane| {
                for (value, sigma) in plane.values.iter_mut().zip(&noise.sigma) {
                    *value /= sigma;
                }
            });
        };
        // The texture is one core's work, the maps are all cores'.
        let (texture, ()) = rayon::join(texture, level_out);
        let measured: Vec<Plane> = planes[..vectors].par_iter().cloned().collect();
        if let Some(texture) = texture {
            texture.take_off(&mut planes[..vectors]);
        }
        let mut rest = planes.split_off(vectors + 1).into_iter();
        let nulls = model.nulls.iter().map(|null| rest.by_ref().take(null.ncols()).collect()).collect();
        let before_slope = planes.split_off(vectors).remove(0);
        Cleaned { searched: planes, measured, before_slope, nulls, before, level }
    }
}
