//! What all scenarios share: laminate, surfaces, camera pose, sensor, schedule.

use joulemark_frames::{CountsLaw, Timeline};
use nalgebra::{Matrix3, Point2};
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

use super::{
    super::{
        Behind, Camera, Copper, Disturbances, Drive, Paint, Plate, Sensor, Setup, Source, SourceAt, Surroundings,
        rectangle,
    },
    layout::Layout,
    package::Package,
    supply::Supply,
};
use crate::{
    board::{Footprint, Part},
    plate::ThinPlate,
};

/// Picture size of the practice camera.
pub const WIDTH_PX: usize = 160;
/// Picture size of the practice camera.
pub const HEIGHT_PX: usize = 120;
const RATE_HZ: f64 = 9.0;
const FRAMES_DURING: usize = 135;
/// Pulses need time: some twelve of them.
const FRAMES_OF_PULSES: usize = 270;
/// From one pulse to the next, chosen so that a recording never ends with a whole one.
const PERIOD_S: f64 = 2.4;

/// Coarse counts keep the files small. The noise of half a count and more still dithers the rounding: it adds 0.02 K of its
/// own to the noise and bends nothing (rounding's systematic error falls as exp(-2 pi^2 sigma^2), 0.3 % of a count).
const COUNTS: CountsLaw = CountsLaw { gain_k_per_count: 0.08, offset_k: 265.15 };

/// FR-4 of 1.6 mm without copper. In-plane 1.059 W/mK: Sarvar, Poole, Witting, J. Electron. Mater. 19 (1990) 1345;
/// 1850 kg/m3 (from memory) and 1000 J/kgK (NIST, G-10). Loss of 10 W/(m2 K) a face: still air with radiation.
const LAMINATE: ThinPlate = ThinPlate {
    sheet_w_per_k: 1.059 * 1.6e-3,
    areal_capacity_j_per_m2k: 1850.0 * 1000.0 * 1.6e-3,
    loss_w_per_m2k: 20.0,
};

/// Across 5 mm of still air (0.026 W/mK) plus radiation of about 6 W/(m2 K) between two dull boards.
const GAP_W_PER_M2K: f64 = 0.026 / 5e-3 + 6.0;

/// The generator of a scenario's own draws (layout, pose, short), apart from the recording's noise.
pub fn scenario_rng(seed: u64, scenario: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream((1 << 32) + scenario);
    rng
}

/// How current flows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// On, and it stays on.
    Step,
    /// On and off in turn.
    Pulses,
}

/// What makes a setup from a laid-out face.
pub struct Stage<'a> {
    /// Name of the take.
    pub name: &'a str,
    /// The face in the picture.
    pub layout: Layout,
    /// Index of the faulty part.
    pub culprit: Option<usize>,
    /// Parts that take power, with their ohms in series (the culprit's own included).
    pub ohms: Vec<(usize, f64)>,
    /// Parts that share a power that is not the short's: index and watts.
    pub idle_watts: Vec<(usize, f64)>,
    /// The supply.
    pub supply: Supply,
    /// Whether another board lies 5 mm behind.
    pub stacked: bool,
    /// Noise from frame to frame.
    pub netd_k: f64,
    /// Drift of the level.
    pub drift_k: f64,
    /// How current flows.
    pub course: Course,
}

impl<'a> Stage<'a> {
    /// A step of current into a part that is shorted, on a single board.
    pub fn shorted(name: &'a str, layout: Layout, culprit: usize, supply: Supply) -> Self {
        Self {
            name,
            layout,
            culprit: Some(culprit),
            ohms: vec![(culprit, supply.board_ohms)],
            idle_watts: Vec::new(),
            supply,
            stacked: false,
            netd_k: 0.04,
            drift_k: 0.05,
            course: Course::Step,
        }
    }

    /// The setup, ready to simulate.
    pub fn setup(mut self) -> Setup {
        let outline = self.layout.outline();
        let board_mm = outline[2];
        let camera = pose(board_mm, self.layout.rng());
        let frames_before = self.layout.rng().random_range(45..=50);
        let (mut timeline, drive) = schedule(frames_before, self.course, self.layout.rng());
        self.supply.read_into(&mut timeline, self.layout.rng());
        let paints = surfaces(&mut self.layout);
        let copper = copper(board_mm, self.layout.rng());

        // Pads are parts of the drawing but no bodies, so indices shift.
        let mut bodies = Vec::new();
        let mut body_of = Vec::new();
        for (part, package) in self.layout.parts() {
            body_of.push(bodies.len());
            bodies.extend(package.body(&part.designator, Footprint::from(part)));
        }
        let (amps, _) = self.supply.amps();
        let series = self.ohms.iter().map(|&(part, ohms)| (part, amps * amps * ohms));
        let sources = series
            .chain(self.idle_watts.iter().copied())
            .map(|(part, watts)| Source { at: SourceAt::Body(body_of[part]), watts, drive })
            .collect();
        let one_side = ThinPlate { loss_w_per_m2k: LAMINATE.loss_w_per_m2k / 2.0, ..LAMINATE };
        let [w, h] = board_mm;
        Setup {
            name: self.name.to_owned(),
            plate: Plate {
                outline,
                cell_mm: 0.5,
                base: if self.stacked { one_side } else { LAMINATE },
                copper,
                // The other board's planes spread heat as this one's do: one plane of 35 um, 85 % covered.
                behind: self.stacked.then_some(Behind {
                    base: ThinPlate { sheet_w_per_k: one_side.sheet_w_per_k + 401.0 * 0.85 * 35e-6, ..one_side },
                    between_w_per_m2k: GAP_W_PER_M2K,
                }),
            },
            bodies,
            sources,
            paints,
            surroundings: Surroundings::default(),
            camera,
            sensor: Sensor {
                netd_k: self.netd_k,
                fixed_pattern_k: 0.03,
                column_stripes_k: 0.02,
                column_wander_k: 0.01,
                drift_k: self.drift_k,
                ..Sensor::ideal(COUNTS)
            },
            disturbances: Disturbances::default(),
            timeline,
            pair_points_mm: vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
            click_sigma_px: 0.3,
            culprit: self.culprit.map(|part| body_of[part]),
        }
    }
}

/// The board nearly fills the picture, slightly turned and slightly out of square.
fn pose(board_mm: [f64; 2], rng: &mut ChaCha8Rng) -> Camera {
    let px_per_mm = 1.0 / rng.random_range(0.42..0.47);
    let (sin, cos) = rng.random_range(-4.0_f64..4.0).to_radians().sin_cos();
    let centre = Point2::new(
        (WIDTH_PX as f64 - 1.0) / 2.0 + rng.random_range(-2.0..2.0),
        (HEIGHT_PX as f64 - 1.0) / 2.0 + rng.random_range(-4.0..4.0),
    );
    let tilt = [rng.random_range(-2e-4..2e-4), rng.random_range(-2e-4..2e-4)];
    Camera {
        width_px: WIDTH_PX,
        height_px: HEIGHT_PX,
        image_from_board: image_from_board(board_mm, [px_per_mm * cos, px_per_mm * sin], tilt, [centre.x, centre.y]),
        blur_sigma_px: 0.8,
        samples_per_px: 3,
    }
}

/// Pixels from millimetres: the board's middle at `centre_px`, turned and scaled by `turn` (pixels per millimetre times cosine
/// and sine), `tilt` per millimetre.
pub fn image_from_board(board_mm: [f64; 2], turn: [f64; 2], tilt: [f64; 2], centre_px: [f64; 2]) -> Matrix3<f64> {
    let shift = |x: f64, y: f64| Matrix3::new(1.0, 0.0, x, 0.0, 1.0, y, 0.0, 0.0, 1.0);
    let turned = Matrix3::new(turn[0], -turn[1], 0.0, turn[1], turn[0], 0.0, tilt[0], tilt[1], 1.0);
    shift(centre_px[0], centre_px[1]) * turned * shift(-board_mm[0] / 2.0, -board_mm[1] / 2.0)
}

/// Frame times with a few milliseconds of jitter; current starts somewhere between two frames.
fn schedule(frames_before: usize, course: Course, rng: &mut ChaCha8Rng) -> (Timeline, Drive) {
    let frames_during = if course == Course::Pulses { FRAMES_OF_PULSES } else { FRAMES_DURING };
    let mut timeline = Timeline::steady(frames_before + frames_during, RATE_HZ);
    for time_s in &mut timeline.time_s {
        // Logs keep milliseconds.
        *time_s = ((*time_s + rng.random_range(0.0..0.008)) * 1e3).round() / 1e3;
    }
    timeline.inject_from(frames_before);
    let (last, first) = (timeline.time_s[frames_before - 1], timeline.time_s[frames_before]);
    let on_s = last + rng.random_range(0.2..0.8) * (first - last);
    let drive = match course {
        Course::Step => Drive::Step { on_s, off_s: f64::INFINITY },
        Course::Pulses => Drive::Pulses { on_s, off_s: f64::INFINITY, period_s: PERIOD_S, duty: 0.5 },
    };
    for (on, time_s) in timeline.injecting.iter_mut().zip(&timeline.time_s) {
        *on = drive.is_on(*time_s);
    }
    (timeline, drive)
}

/// An inner plane almost as large as the board, and two outer pours.
fn copper(board_mm: [f64; 2], rng: &mut ChaCha8Rng) -> Vec<Copper> {
    let [w, h] = board_mm;
    let mut copper =
        vec![Copper { area: rectangle(w / 2.0, h / 2.0, w - 1.0, h - 1.0), thickness_um: 35.0, coverage: 0.85 }];
    for _ in 0..2 {
        let area = rectangle(
            rng.random_range(0.25..0.75) * w,
            rng.random_range(0.25..0.75) * h,
            rng.random_range(0.2..0.4) * w,
            rng.random_range(0.2..0.4) * h,
        );
        copper.push(Copper { area, thickness_um: 35.0, coverage: 0.5 });
    }
    copper
}

/// Solder fillets beyond the ends of two-ended parts, bare pads, and silk lettering in free places.
pub fn surfaces(layout: &mut Layout) -> Vec<Paint> {
    let mut paints = Vec::new();
    for (part, package) in layout.parts() {
        let two_ended = !matches!(
            package,
            Package::Qfn4
                | Package::Qfn5
                | Package::Inductor4040
                | Package::PlugHeader
                | Package::ShieldedSocket
                | Package::TestPad
        );
        if *package == Package::TestPad {
            paints.push(Paint { area: Footprint::from(part), emissivity: package.traits().emissivity });
        } else if two_ended {
            let longer = Part { width_mm: part.width_mm + 0.5, ..part.clone() };
            paints.push(Paint { area: Footprint::from(&longer), emissivity: 0.2 });
        }
    }
    for _ in 0..12 {
        if let Some([x, y]) = layout.free_place(1.0) {
            // White lacquer, 0.8 to 0.95 (Bramson 1968), a little below the mask.
            paints.push(Paint { area: rectangle(x, y, 1.6, 0.25), emissivity: 0.87 });
        }
    }
    paints
}
