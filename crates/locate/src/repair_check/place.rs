//! What one take shows at a place of the face: its rise, and how much warmer it is than the ring around it.
//!
//! Heat that was made elsewhere passes a place smoothly. In a plate without sources it solves Laplace's equation, where the mean over a circle
//! is the value in its middle (mean value property; Evans, Partial Differential Equations, section 2.2.2, from memory): the ring takes such
//! heat off, and what is left was made at the place itself. Loss to the air and storage leave a little of it, and so do surfaces of unlike
//! emissivity and parts that warm later than the board under them; that much of the ring's rise counts as error.

use nalgebra::{Point2, Vector2};
use ndarray::Array2;

use super::Side;

/// Places that the scatter is learnt from are this many sizes away from hot spots.
const AWAY: f64 = 4.0;
/// So many of them make a scatter.
const LEAST_PLACES: usize = 12;
/// Normal consistency of the median absolute deviation.
const MAD_TO_SIGMA: f64 = 1.4826;
/// Radii of the ring in sizes of the place's Gaussian; a Gaussian of heat is down to 1 % of its height at three of them.
pub(super) const RING: [f64; 2] = [3.0, 4.5];
/// Less of the ring than this in the picture and on the board is no ring.
const LEAST_RING: f64 = 0.55;
/// Of heat that passes, this share may stay after the ring is taken off: emissivities of solder mask and packages lie between 0.8 and
/// 0.95, and a part follows the board under it by so much less.
const PASSING_SHARE: f64 = 0.08;

/// A value with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// In the take's unit.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

impl Measured {
    /// Both multiplied by a factor of no error.
    pub fn times(self, factor: f64) -> Self {
        Self { value: factor * self.value, se: factor.abs() * self.se }
    }

    /// The lower and upper end of the values within so many standard errors.
    pub fn within(self, errors: f64) -> (f64, f64) {
        (self.value - errors * self.se, self.value + errors * self.se)
    }
}

/// Value of a map between its pixels; `None` outside.
pub(super) fn between(map: &Array2<f32>, at: Point2<f64>) -> Option<f64> {
    let (height, width) = map.dim();
    let (x0, y0) = (at.x.floor(), at.y.floor());
    if !(x0 >= 0.0 && y0 >= 0.0 && x0 + 1.0 < width as f64 && y0 + 1.0 < height as f64) {
        return None;
    }
    let (fx, fy) = (at.x - x0, at.y - y0);
    let (x, y) = (x0 as usize, y0 as usize);
    let v = |dy: usize, dx: usize| f64::from(map[[y + dy, x + dx]]);
    let value = (1.0 - fy) * ((1.0 - fx) * v(0, 0) + fx * v(0, 1)) + fy * ((1.0 - fx) * v(1, 0) + fx * v(1, 1));
    value.is_finite().then_some(value)
}

/// Mean rise under a Gaussian at a place of the face, with its standard error from the pixels' own. `None` where more than a tenth of it is
/// outside the picture.
pub(super) fn mean_at(side: &Side<'_>, at_mm: Point2<f64>, sigma_mm: f64) -> Option<Measured> {
    let alignment = side.scene.alignment;
    let maps = &side.located.maps;
    let centre = alignment.to_image(at_mm);
    let mm_per_px = alignment.mm_per_px(centre);
    let reach = (2.5 * sigma_mm / mm_per_px).ceil().max(1.0) as i64;
    let (height, width) = maps.rise.dim();
    let (mut sum, mut variance, mut weights, mut lost) = (0.0, 0.0, 0.0, 0.0);
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let (x, y) = (centre.x.round() as i64 + dx, centre.y.round() as i64 + dy);
            let there = alignment.to_board(Point2::new(x as f64, y as f64));
            let w = (-0.5 * (there - at_mm).norm_squared() / (sigma_mm * sigma_mm)).exp();
            let inside = x >= 0 && y >= 0 && (x as usize) < width && (y as usize) < height;
            let read = |map: &Array2<f32>| f64::from(map[[y as usize, x as usize]]);
            match inside.then(|| (read(&maps.rise), read(&maps.rise_se))) {
                Some((rise, se)) if rise.is_finite() && se.is_finite() => {
                    sum += w * rise;
                    variance += w * w * se * se;
                    weights += w;
                }
                _ => lost += w,
            }
        }
    }
    (weights > 0.0 && lost < 0.1 * (weights + lost))
        .then(|| Measured { value: sum / weights, se: variance.sqrt() / weights })
}

/// Mean rise over the ring around a place, with its standard error from the pixels'. `None` where too little of it is on the board and in the
/// picture.
fn ring_at(side: &Side<'_>, at_mm: Point2<f64>, sigma_mm: f64) -> Option<Measured> {
    let face = side.scene.board.face(side.scene.face)?;
    let maps = &side.located.maps;
    // A sample a pixel along the circles; they lie closer than the pixels, so that no error is told from their number.
    let step_mm = side.scene.alignment.mm_per_px(side.scene.alignment.to_image(at_mm)).min(sigma_mm);
    let [inner, outer] = RING.map(|r| r * sigma_mm);
    let circles = ((outer - inner) / step_mm).round().max(1.0) as usize;
    let (mut sum, mut errors, mut inside, mut all) = (0.0, 0.0, 0, 0);
    for c in 0..=circles {
        let radius = inner + (outer - inner) * c as f64 / circles as f64;
        let count = (std::f64::consts::TAU * radius / step_mm).ceil().clamp(8.0, 120.0) as usize;
        for i in 0..count {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / count as f64).sin_cos();
            let p = at_mm + radius * Vector2::new(cos, sin);
            all += 1;
            let px = side.scene.alignment.to_image(p);
            let read = |map: &Array2<f32>| between(map, px);
            if let (true, Some(rise), Some(se)) = (face.outline_contains(p), read(&maps.rise), read(&maps.rise_se)) {
                sum += rise;
                errors += se;
                inside += 1;
            }
        }
    }
    let n = f64::from(inside);
    (n > 0.0 && n >= LEAST_RING * f64::from(all)).then(|| Measured { value: sum / n, se: errors / n / n.sqrt() })
}

/// Rise at a place and rise of its own, as filmed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    pub(super) rise: Measured,
    /// The rise less the ring's; `None` where the ring is not in the picture.
    pub(super) own: Option<Measured>,
}

/// What means of one size scatter by on the board where nothing warms, drift included.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Scatter {
    rise: Option<f64>,
    own: Option<f64>,
}

impl Place {
    /// `None` where too much of it is outside the picture.
    pub(super) fn at(side: &Side<'_>, at_mm: Point2<f64>, sigma_mm: f64, scatter: Scatter) -> Option<Self> {
        let rise = mean_at(side, at_mm, sigma_mm)?;
        let own = ring_at(side, at_mm, sigma_mm).map(|ring| {
            let noise = rise.se.hypot(ring.se).max(scatter.own.unwrap_or(0.0));
            Measured { value: rise.value - ring.value, se: noise.hypot(PASSING_SHARE * ring.value) }
        });
        Some(Self { rise: Measured { se: rise.se.max(scatter.rise.unwrap_or(0.0)), ..rise }, own })
    }
}

impl Scatter {
    /// Learnt from places of the board away from hot spots and from `site_mm`.
    pub(super) fn of(side: &Side<'_>, sigma_mm: f64, site_mm: Point2<f64>) -> Self {
        let Some(face) = side.scene.board.face(side.scene.face) else { return Self::default() };
        let Some((low, high)) = bounds(&face.outline) else { return Self::default() };
        let step = 2.0 * sigma_mm;
        let spots: Vec<Point2<f64>> = side.located.hot_spots.iter().map(|s| s.centre_mm).chain([site_mm]).collect();
        let nearest = |p: Point2<f64>| spots.iter().map(|s| (p - s).norm()).fold(f64::INFINITY, f64::min);
        let mut places: Vec<(f64, Point2<f64>)> = (0..=((high.y - low.y) / step) as usize)
            .flat_map(|j| (0..=((high.x - low.x) / step) as usize).map(move |i| (i, j)))
            .map(|(i, j)| low + Vector2::new(i as f64, j as f64) * step)
            .filter(|p| face.outline_contains(*p))
            .map(|p| (nearest(p), p))
            .filter(|(distance, _)| *distance > AWAY * sigma_mm)
            .collect();
        // The half that is farthest from the spots: heat that spread is no noise.
        places.sort_by(|a, b| b.0.total_cmp(&a.0));
        places.truncate((places.len() / 2).max(LEAST_PLACES));
        let found: Vec<Place> =
            places.iter().filter_map(|(_, p)| Place::at(side, *p, sigma_mm, Self::default())).collect();
        Self {
            rise: spread(found.iter().map(|p| p.rise.value).collect()),
            own: spread(found.iter().filter_map(|p| p.own).map(|o| o.value).collect()),
        }
    }
}

/// Standard deviation from the median absolute deviation; `None` of too few values.
fn spread(mut values: Vec<f64>) -> Option<f64> {
    if values.len() < LEAST_PLACES {
        return None;
    }
    let middle = median(&mut values);
    let mut off: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    Some(MAD_TO_SIGMA * median(&mut off))
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

pub(super) fn bounds(outline: &[[f64; 2]]) -> Option<(Point2<f64>, Point2<f64>)> {
    let fold = |axis: usize, pick: fn(f64, f64) -> f64| outline.iter().map(|p| p[axis]).reduce(pick);
    Some((Point2::new(fold(0, f64::min)?, fold(1, f64::min)?), Point2::new(fold(0, f64::max)?, fold(1, f64::max)?)))
}
