//! A board of our own for the ledger's tests: known plate, bodies and watts.

use joulemark_frames::{CountsLaw, Timeline};
use nalgebra::Matrix3;

use crate::{
    board::{Board, Face, Footprint, Part, PartKind, Rail},
    plate::ThinPlate,
    simulate::{
        Body, Camera, Copper, Disturbances, Drive, Plate, Sensor, Setup, Side, Source, SourceAt, Surroundings,
        rectangle,
    },
};

pub(super) const FRAMES_BEFORE: usize = 45;
pub(super) const RATE_HZ: f64 = 9.0;
/// Where the probe touches.
pub(super) const MARK_MM: [f64; 2] = [15.0, 10.0];

/// A part with what the simulator has to know of it.
pub(super) struct Mounted {
    pub(super) part: Part,
    pub(super) k_per_w: f64,
    pub(super) j_per_k: f64,
    pub(super) emissivity: f64,
    pub(super) end_caps: Option<(f64, f64)>,
}

pub(super) fn capacitor(designator: &str, x_mm: f64, y_mm: f64) -> Mounted {
    Mounted {
        part: Part {
            designator: designator.into(),
            kind: PartKind::Capacitor,
            x_mm,
            y_mm,
            width_mm: 1.6,
            height_mm: 0.8,
            rails: vec!["V5".into()],
            ..Part::default()
        },
        k_per_w: 28.0,
        // 1.6 x 0.8 x 0.8 mm of 2.6 J/(cm3 K).
        j_per_k: 2.66e-3,
        emissivity: 0.9,
        end_caps: Some((0.18, 0.2)),
    }
}

/// 60 x 40 mm with one plane of 35 um, 85 % copper: 0.0136 W/K.
pub(super) fn plate() -> Plate {
    Plate {
        outline: vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]],
        cell_mm: 0.5,
        base: ThinPlate { sheet_w_per_k: 1.059 * 1.6e-3, areal_capacity_j_per_m2k: 2960.0, loss_w_per_m2k: 20.0 },
        copper: vec![Copper { area: rectangle(30.0, 20.0, 60.0, 40.0), thickness_um: 35.0, coverage: 0.85 }],
        behind: None,
    }
}

pub(super) fn step() -> Drive {
    Drive::Step { on_s: (FRAMES_BEFORE as f64 - 0.5) / RATE_HZ, off_s: f64::INFINITY }
}

/// Filmed at 160 x 120 pixels and 9 Hz, 45 frames before and 135 during; `watts` name parts by index.
pub(super) fn setup(mounted: &[Mounted], watts: &[(usize, f64)], drive: Drive) -> Setup {
    let mut timeline = Timeline::steady(FRAMES_BEFORE + 135, RATE_HZ);
    for frame in 0..timeline.len() {
        timeline.injecting[frame] = drive.is_on(timeline.time_s[frame]);
    }
    let scale = 1.0 / 0.45;
    Setup {
        name: "workshop".into(),
        plate: plate(),
        bodies: mounted
            .iter()
            .map(|m| Body {
                designator: m.part.designator.clone(),
                footprint: Footprint::from(&m.part),
                side: Side::Front,
                capacity_j_per_k: m.j_per_k,
                to_plate_w_per_k: 1.0 / m.k_per_w,
                to_air_w_per_k: 1e-4,
                emissivity: m.emissivity,
                end_caps: m.end_caps,
            })
            .collect(),
        sources: watts.iter().map(|&(i, watts)| Source { at: SourceAt::Body(i), watts, drive }).collect(),
        paints: Vec::new(),
        surroundings: Surroundings::default(),
        camera: Camera {
            width_px: 160,
            height_px: 120,
            image_from_board: Matrix3::new(scale, 0.0, 13.0, 0.0, scale, 15.0, 0.0, 0.0, 1.0),
            blur_sigma_px: 0.8,
            samples_per_px: 3,
        },
        sensor: Sensor { netd_k: 0.04, ..Sensor::ideal(CountsLaw { gain_k_per_count: 0.01, offset_k: 273.15 }) },
        disturbances: Disturbances::default(),
        timeline,
        pair_points_mm: vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]],
        click_sigma_px: 0.3,
        culprit: watts.first().map(|w| w.0),
    }
}

pub(super) fn board(mounted: &[Mounted]) -> Board {
    Board {
        name: "Workshop".into(),
        faces: vec![Face {
            name: "top".into(),
            outline: plate().outline,
            parts: mounted.iter().map(|m| m.part.clone()).collect(),
            ..Face::default()
        }],
        rails: vec![Rail { name: "V5".into(), nominal_volts: Some(5.0) }],
    }
}
