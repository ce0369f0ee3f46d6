//! What boards and parts are usually made of, where nobody stated it. None of it is a statement about any one board; the
//! ledger's errors allow for it.

use nalgebra::Point2;

use crate::{
    board::{Face, Footprint, Part, PartKind},
    plate::ThinPlate,
};

/// FR-4 of 1.6 mm, 1850 kg/m3 (from memory) x 1000 J/kgK (NIST, G-10), published checks section 2, J/(m2 K).
const BOARD_J_PER_M2K: f64 = 1850.0 * 1000.0 * 1.6e-3;
/// FR-4 in plane, 1.059 W/mK (Sarvar, Poole, Witting, J. Electron. Mater. 19 (1990) 1345) x 1.6 mm.
const BARE_SHEET_W_PER_K: f64 = 1.059 * 1.6e-3;
/// Copper at 300 K, Incropera & DeWitt table A.1 (from memory): W/(m K) and J/(m3 K).
const COPPER_W_PER_MK: f64 = 401.0;
const COPPER_J_PER_M3K: f64 = 8933.0 * 385.0;
/// Ceramics and mouldings hold 1.7 to 3 J/(cm3 K) (alumina 3.0: Incropera table A.2; the rest from memory), J/(m3 K).
const PARTS_J_PER_M3K: f64 = 2.2e6;
/// Capacitors and diodes are nearly as tall as they are wide, other two-ended parts and coils half, flat packages a
/// millimetre (from memory).
const TALL_SHARE: f64 = 0.85;
const HEIGHT_SHARE: f64 = 0.5;
const HEIGHT_RANGE_MM: (f64, f64) = (0.3, 2.5);
const FLAT_MM: f64 = 1.0;
/// Parts within this distance of the heat share its capacity: as far as heat gets in the usual ten or twenty seconds.
const AROUND_MM: f64 = 10.0;
/// Both faces to still air, with radiation: common practice, no published source, W/(m2 K).
const LOSS_W_PER_M2K: f64 = 20.0;
/// Solder mask, mouldings and ceramics: 0.85 to 0.95, from memory (published checks, section 4).
pub(super) const MASK_EMISSIVITY: f64 = 0.9;
/// Parts with two soldered ends: a third of them is bare solder of 0.1 to 0.3 (same place, from memory).
const TWO_ENDED_EMISSIVITY: f64 = 0.68;
/// Bare metal: between bright tin (0.06) and dull solder.
pub(super) const BARE_METAL: f64 = 0.1;

/// Emissivity of a part as stated, or as its kind usually has it.
pub(super) fn emissivity(part: &Part) -> f64 {
    part.emissivity.unwrap_or(match part.kind {
        PartKind::Capacitor | PartKind::Resistor | PartKind::Ferrite | PartKind::Fuse | PartKind::Diode => {
            TWO_ENDED_EMISSIVITY
        }
        _ => MASK_EMISSIVITY,
    })
}

/// Boards of all sheet conductances, with the parts around the heat spread over them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Boards {
    parts_j_per_m2k: f64,
}

impl Boards {
    pub(super) fn around(face: &Face, around_mm: Point2<f64>) -> Self {
        let parts_j_per_k: f64 = face
            .parts
            .iter()
            .filter(|p| (Point2::new(p.x_mm, p.y_mm) - around_mm).norm() < AROUND_MM)
            .map(heat_capacity_j_per_k)
            .sum();
        Self { parts_j_per_m2k: parts_j_per_k / (std::f64::consts::PI * (AROUND_MM * 1e-3).powi(2)) }
    }

    /// The board of a sheet conductance: what bare laminate does not conduct is copper, and weighs what copper weighs.
    pub(super) fn board(&self, sheet_w_per_k: f64) -> ThinPlate {
        let copper_m = (sheet_w_per_k - BARE_SHEET_W_PER_K).max(0.0) / COPPER_W_PER_MK;
        ThinPlate {
            sheet_w_per_k,
            areal_capacity_j_per_m2k: BOARD_J_PER_M2K + self.parts_j_per_m2k + COPPER_J_PER_M3K * copper_m,
            loss_w_per_m2k: LOSS_W_PER_M2K,
        }
    }
}

/// Heat capacity of a part by its size.
pub(super) fn heat_capacity_j_per_k(part: &Part) -> f64 {
    Footprint::from(part).area_mm2() * height_mm(part) * 1e-9 * PARTS_J_PER_M3K
}

fn height_mm(part: &Part) -> f64 {
    match part.kind {
        PartKind::TestPoint => 0.0,
        PartKind::Ic | PartKind::Transistor | PartKind::Crystal | PartKind::Module | PartKind::Shield => FLAT_MM,
        PartKind::Capacitor | PartKind::Diode => by_width(part, TALL_SHARE),
        _ => by_width(part, HEIGHT_SHARE),
    }
}

fn by_width(part: &Part, share: f64) -> f64 {
    (share * part.width_mm.min(part.height_mm)).clamp(HEIGHT_RANGE_MM.0, HEIGHT_RANGE_MM.1)
}
