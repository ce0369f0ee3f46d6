//! Packages of parts: size, kind, and how they hold and pass on heat.
//!
//! Sizes are the usual outline dimensions in millimetres. Heat capacities per volume and conductances to the board are
//! round numbers of plausible size, from memory and without a published source (alumina alone is Incropera table A.2,
//! 3970 kg/m3 x 765 J/kgK): they make a practice case, they are no statement about any part.

use super::super::{Body, Side};
use crate::board::{Footprint, PartKind};

/// A package.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Package {
    Capacitor1005,
    Capacitor1608,
    Capacitor2012,
    Capacitor3216,
    Resistor1005,
    Resistor1608,
    Resistor3216,
    Ferrite1608,
    Fuse3216,
    Inductor4040,
    Sod123,
    SmaDiode,
    Sot23,
    Qfn4,
    Qfn5,
    Soic8,
    CrystalCan,
    PlugHeader,
    ShieldedSocket,
    TestPad,
}

/// What the layout and the simulator need to know of a package.
#[derive(Clone, Copy, Debug)]
pub struct Traits {
    /// Letters of the designator.
    pub prefix: &'static str,
    /// Kind on the drawing.
    pub kind: PartKind,
    /// Along the part's own x, its ends or leads included.
    pub width_mm: f64,
    /// Along the part's own y.
    pub height_mm: f64,
    /// Above the board.
    tall_mm: f64,
    /// Heat capacity per volume, J/(mm3 K).
    j_per_mm3k: f64,
    /// Conductance to the board, W/K.
    pub to_plate_w_per_k: f64,
    /// Emissivity of its top.
    pub emissivity: f64,
    /// Bare metal ends; see [`Body::end_caps`].
    end_caps: Option<(f64, f64)>,
}

const CERAMIC: f64 = 2.6e-3;
const ALUMINA: f64 = 3970.0 * 765.0 * 1e-9;
const FERRITE: f64 = 3.4e-3;
const MOULDED: f64 = 1.7e-3;
const PLASTIC: f64 = 1.6e-3;
/// Dull solder, 0.1 to 0.3 by the project's page of published checks (there from memory).
const SOLDER: f64 = 0.2;

impl Package {
    /// Its properties.
    pub fn traits(self) -> Traits {
        use PartKind as K;
        let make = |prefix, kind, [width_mm, height_mm, tall_mm]: [f64; 3], j_per_mm3k, to_plate_w_per_k| Traits {
            prefix,
            kind,
            width_mm,
            height_mm,
            tall_mm,
            j_per_mm3k,
            to_plate_w_per_k,
            emissivity: 0.9,
            end_caps: None,
        };
        let ends = |share, base: Traits| Traits { end_caps: Some((share, SOLDER)), ..base };
        let metal = |base: Traits| Traits { emissivity: 0.15, ..base };
        match self {
            Self::Capacitor1005 => ends(0.2, make("C", K::Capacitor, [1.0, 0.5, 0.5], CERAMIC, 0.025)),
            Self::Capacitor1608 => ends(0.18, make("C", K::Capacitor, [1.6, 0.8, 0.8], CERAMIC, 0.035)),
            Self::Capacitor2012 => ends(0.18, make("C", K::Capacitor, [2.0, 1.25, 1.0], CERAMIC, 0.05)),
            Self::Capacitor3216 => ends(0.15, make("C", K::Capacitor, [3.2, 1.6, 1.6], CERAMIC, 0.06)),
            Self::Resistor1005 => ends(0.2, make("R", K::Resistor, [1.0, 0.5, 0.35], ALUMINA, 0.025)),
            Self::Resistor1608 => ends(0.18, make("R", K::Resistor, [1.6, 0.8, 0.45], ALUMINA, 0.035)),
            Self::Resistor3216 => ends(0.15, make("R", K::Resistor, [3.2, 1.6, 0.6], ALUMINA, 0.06)),
            Self::Ferrite1608 => ends(0.18, make("FB", K::Ferrite, [1.6, 0.8, 0.8], FERRITE, 0.035)),
            Self::Fuse3216 => ends(0.18, make("F", K::Fuse, [3.2, 1.6, 0.6], ALUMINA, 0.05)),
            Self::Inductor4040 => make("L", K::Inductor, [4.0, 4.0, 2.0], FERRITE, 0.06),
            Self::Sod123 => ends(0.15, make("D", K::Diode, [3.7, 1.6, 1.1], MOULDED, 0.025)),
            Self::SmaDiode => ends(0.12, make("D", K::Diode, [5.0, 2.6, 2.2], MOULDED, 0.045)),
            Self::Sot23 => ends(0.22, make("Q", K::Transistor, [2.4, 2.9, 1.0], MOULDED, 0.02)),
            Self::Qfn4 => make("U", K::Ic, [4.0, 4.0, 0.9], MOULDED, 0.15),
            Self::Qfn5 => make("U", K::Ic, [5.0, 5.0, 0.9], MOULDED, 0.2),
            Self::Soic8 => ends(0.17, make("U", K::Ic, [6.0, 4.9, 1.6], MOULDED, 0.05)),
            Self::CrystalCan => metal(make("Y", K::Crystal, [3.2, 2.5, 0.8], 3.0e-3, 0.03)),
            Self::PlugHeader => make("J", K::Connector, [12.0, 5.0, 5.0], PLASTIC, 0.08),
            Self::ShieldedSocket => metal(make("J", K::Connector, [8.0, 6.0, 3.0], PLASTIC, 0.1)),
            Self::TestPad => Traits { emissivity: 0.05, ..make("TP", K::TestPoint, [1.2, 1.2, 0.0], MOULDED, 0.0) },
        }
    }

    /// The lumped body, or none for what is only a pad of the board.
    pub fn body(self, designator: &str, footprint: Footprint) -> Option<Body> {
        let t = self.traits();
        // 10 W/(m2 K) from top and sides: still air with radiation, common practice.
        let skin_mm2 = t.width_mm * t.height_mm + 2.0 * (t.width_mm + t.height_mm) * t.tall_mm;
        (t.tall_mm > 0.0).then(|| Body {
            designator: designator.to_owned(),
            footprint,
            side: Side::Front,
            capacity_j_per_k: t.width_mm * t.height_mm * t.tall_mm * t.j_per_mm3k,
            to_plate_w_per_k: t.to_plate_w_per_k,
            to_air_w_per_k: 10.0 * skin_mm2 * 1e-6,
            emissivity: t.emissivity,
            end_caps: t.end_caps,
        })
    }
}
