//! What is simulated: plate, bodies on it, sources, surfaces, camera, sensor and disturbances.

use joulemark_frames::{CountsLaw, Timeline};
use nalgebra::Matrix3;

use super::{Disturbances, Drive};
use crate::{
    board::{Footprint, Part},
    plate::ThinPlate,
};

/// Everything that one simulated recording is made from. Millimetres are those of the face in the picture.
#[derive(Clone, Debug)]
pub struct Setup {
    /// Name of the take.
    pub name: String,
    /// The laminate with its copper.
    pub plate: Plate,
    /// Lumped bodies on the plate: parts.
    pub bodies: Vec<Body>,
    /// Where heat is made.
    pub sources: Vec<Source>,
    /// Surfaces painted over the solder mask: pads, silk, bare copper. Later ones cover earlier ones, bodies cover all.
    pub paints: Vec<Paint>,
    /// Temperatures around.
    pub surroundings: Surroundings,
    /// Geometry and blur.
    pub camera: Camera,
    /// Noise and counts.
    pub sensor: Sensor,
    /// What moves although nothing is injected.
    pub disturbances: Disturbances,
    /// Frame times and supply readings; times strictly increasing.
    pub timeline: Timeline,
    /// Points that the user marks on both picture and drawing.
    pub pair_points_mm: Vec<[f64; 2]>,
    /// Standard deviation of one marked picture coordinate.
    pub click_sigma_px: f64,
    /// Index of the faulty body.
    pub culprit: Option<usize>,
}

/// The laminate.
#[derive(Clone, Debug)]
pub struct Plate {
    /// Corners of the board; the grid covers their bounding box and cells outside the outline carry no heat.
    pub outline: Vec<[f64; 2]>,
    /// Size of a grid cell.
    pub cell_mm: f64,
    /// Laminate without copper. With `behind` set, this is the front half only.
    pub base: ThinPlate,
    /// Copper in addition.
    pub copper: Vec<Copper>,
    /// A second plate behind: the back half of a thick laminate, or the other board of a stack.
    pub behind: Option<Behind>,
}

/// A second plate of the same outline behind the first.
#[derive(Clone, Copy, Debug)]
pub struct Behind {
    /// What it is made of.
    pub base: ThinPlate,
    /// Conductance between the plates per area, W/(m2 K): `k / d` of what lies between, or the air gap's.
    pub between_w_per_m2k: f64,
}

/// A copper area.
#[derive(Clone, Copy, Debug)]
pub struct Copper {
    /// Where.
    pub area: Footprint,
    /// Thickness of all layers together, micrometres.
    pub thickness_um: f64,
    /// Share of the area that is copper, 0 to 1.
    pub coverage: f64,
}

/// The plate that a body sits on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// In the picture.
    #[default]
    Front,
    /// On the plate behind, not in the picture; on the front plate's unseen side when there is no plate behind.
    Back,
}

/// A part as one lumped body of one temperature.
#[derive(Clone, Debug)]
pub struct Body {
    /// Designator.
    pub designator: String,
    /// Where it sits and what it covers in the picture.
    pub footprint: Footprint,
    /// Which plate it sits on.
    pub side: Side,
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f64,
    /// Conductance to the plate, spread evenly under the footprint, W/K.
    pub to_plate_w_per_k: f64,
    /// Conductance to the air, W/K.
    pub to_air_w_per_k: f64,
    /// Emissivity of its top.
    pub emissivity: f64,
    /// Bare metal ends: share of the length at each end along the part's own x, and their emissivity.
    pub end_caps: Option<(f64, f64)>,
}

/// Where heat is made.
#[derive(Clone, Copy, Debug)]
pub struct Source {
    /// Body or place.
    pub at: SourceAt,
    /// Watts while on.
    pub watts: f64,
    /// When.
    pub drive: Drive,
}

/// A body by index, or a point of the front plate in millimetres.
#[derive(Clone, Copy, Debug)]
pub enum SourceAt {
    /// Index into [`Setup::bodies`].
    Body(usize),
    /// The grid cell at this point.
    Point([f64; 2]),
}

/// A surface with its own emissivity at the plate's temperature.
#[derive(Clone, Copy, Debug)]
pub struct Paint {
    /// Where.
    pub area: Footprint,
    /// Emissivity.
    pub emissivity: f64,
}

/// Temperatures around the board.
#[derive(Clone, Copy, Debug)]
pub struct Surroundings {
    /// Air, board and bench before injection, kelvin.
    pub ambient_k: f64,
    /// What shiny surfaces reflect, kelvin.
    pub reflected_k: f64,
    /// Emissivity of the solder mask.
    pub mask_emissivity: f64,
    /// Emissivity of the bench around the board.
    pub bench_emissivity: f64,
}

impl Default for Surroundings {
    fn default() -> Self {
        Self { ambient_k: 295.15, reflected_k: 293.15, mask_emissivity: 0.9, bench_emissivity: 0.95 }
    }
}

/// Geometry and blur.
#[derive(Clone, Copy, Debug)]
pub struct Camera {
    /// Columns.
    pub width_px: usize,
    /// Rows.
    pub height_px: usize,
    /// Pixels from millimetres, homogeneous.
    pub image_from_board: Matrix3<f64>,
    /// Standard deviation of the lens's Gaussian point spread; the pixel's own area comes on top.
    pub blur_sigma_px: f64,
    /// Samples of the scene per pixel and axis, before lens and pixel blur them; 3 is plenty, 2 is faster.
    pub samples_per_px: usize,
}

/// Noise and counts.
#[derive(Clone, Copy, Debug)]
pub struct Sensor {
    /// White noise from frame to frame (noise-equivalent temperature difference), kelvin.
    pub netd_k: f64,
    /// Fixed offset per pixel, standard deviation in kelvin.
    pub fixed_pattern_k: f64,
    /// Fixed offset per column, standard deviation in kelvin.
    pub column_stripes_k: f64,
    /// How far a column's offset has walked by the end of the take, standard deviation in kelvin.
    pub column_wander_k: f64,
    /// How far a row's offset has walked by the end of the take, standard deviation in kelvin.
    pub row_wander_k: f64,
    /// How far a pixel's own offset has drifted by the end of the take (slow non-uniformity drift: smooth in time, white in
    /// space), standard deviation in kelvin.
    pub pixel_drift_k: f64,
    /// How far the level of the whole picture drifts over the take: slope and slow swing, kelvin.
    pub drift_k: f64,
    /// Smooth blotches that come and go slowly, standard deviation over picture and time in kelvin.
    pub blotches_k: f64,
    /// Kelvin from counts.
    pub law: CountsLaw,
}

impl Sensor {
    /// A perfect sensor with the given law.
    pub fn ideal(law: CountsLaw) -> Self {
        Self {
            netd_k: 0.0,
            fixed_pattern_k: 0.0,
            column_stripes_k: 0.0,
            column_wander_k: 0.0,
            row_wander_k: 0.0,
            pixel_drift_k: 0.0,
            drift_k: 0.0,
            blotches_k: 0.0,
            law,
        }
    }
}

/// An upright rectangle by centre and size, millimetres.
pub fn rectangle(x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64) -> Footprint {
    Footprint::from(&Part { x_mm, y_mm, width_mm, height_mm, ..Part::default() })
}

/// The Joule heat of a track, as point sources every `spacing_mm` along a line through `points_mm`; half a grid cell is
/// fine enough. Together they make `watts_per_mm` times the line's length.
pub fn feed_path(points_mm: &[[f64; 2]], watts_per_mm: f64, spacing_mm: f64, drive: Drive) -> Vec<Source> {
    let mut sources = Vec::new();
    for leg in points_mm.windows(2) {
        let along = [leg[1][0] - leg[0][0], leg[1][1] - leg[0][1]];
        let length_mm = along[0].hypot(along[1]);
        let pieces = (length_mm / spacing_mm).ceil().max(1.0);
        sources.extend((0..pieces as usize).map(|i| {
            let share = (i as f64 + 0.5) / pieces;
            let at = [leg[0][0] + share * along[0], leg[0][1] + share * along[1]];
            Source { at: SourceAt::Point(at), watts: watts_per_mm * length_mm / pieces, drive }
        }));
    }
    sources
}
