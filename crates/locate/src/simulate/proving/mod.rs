//! Random boards for the proving run: a kind and a seed give one simulated board whose truth is known.
//!
//! Everything is drawn wide: size of board and picture, parts and the gaps between them, rails, the plate's constants,
//! how parts hold and pass on heat, blur, noise, rate, lengths, pose, click errors, and on every board a little of what
//! moves in every recording. A method that is tuned to one set of constants does not pass.

mod face;
mod film;
mod kind;
pub mod pair;
mod spoil;
#[cfg(test)]
mod tests;

pub use kind::{Disturbance, Kind, Nuisance, Tier};
pub use spoil::Site;

use nalgebra::Point2;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

use super::{
    Copper, Disturbances, Plate, Setup, SimulatedTake, Source, SourceAt, Surroundings, feed_path,
    power::{Target, simulate_to},
    rectangle,
    scenario::{stage::surfaces, supply::Supply},
};
use crate::{
    Scene,
    align::Alignment,
    board::{Board, Footprint},
    plate::ThinPlate,
};
use face::Drawn;
use spoil::{Around, log_uniform};

/// A simulated board whose truth is known.
#[derive(Clone, Debug)]
pub struct ProvingBoard {
    /// What it was made to show.
    pub kind: Kind,
    /// The seed that it was made from.
    pub seed: u64,
    /// The drawing.
    pub board: Board,
    /// The rail that current is injected into.
    pub rail: String,
    /// The face in the picture.
    pub face: String,
    /// Both leads together, where the user knows them.
    pub lead_ohms: Option<f64>,
    /// Where the user marked the probe.
    pub injection_mm: Option<Point2<f64>>,
    /// The recording, its truth and the marked pairs.
    pub simulated: SimulatedTake,
    /// What the recording was made from.
    pub setup: Setup,
    /// Where the disturbance sits, on disturbed boards.
    pub site: Option<Site>,
    /// Time from one pulse to the next, on pulsed boards.
    pub period_s: Option<f64>,
    /// Rise (pulsed: amplitude) of the hottest pixel, kelvin; zero on blank boards.
    pub size_k: f64,
    /// Millimetres per pixel at the fault, or at the board's middle.
    pub mm_per_px: f64,
    /// From the faulty part's edge to its nearest neighbour's, millimetres.
    pub gap_mm: Option<f64>,
}

impl ProvingBoard {
    /// What a user would state about it.
    pub fn scene<'a>(&'a self, alignment: &'a Alignment) -> Scene<'a> {
        Scene {
            board: &self.board,
            face: &self.face,
            rail: &self.rail,
            alignment,
            lead_ohms: self.lead_ohms,
            injection_mm: self.injection_mm,
        }
    }

    /// Whether a hot spot and the part named for it blame the disturbance instead of the fault: another part than the
    /// faulty one, and the spot within the disturbance's site (or simply elsewhere, when that is everywhere).
    pub fn blames_the_disturbance(&self, part: Option<&str>, spot_px: Point2<f64>, spot_mm: Point2<f64>) -> bool {
        if part.is_some() && part == self.simulated.truth.part.as_deref() {
            return false;
        }
        match &self.site {
            None => false,
            Some(Site::Pixels(pixels)) => {
                pixels.iter().any(|[x, y]| (Point2::new(*x as f64, *y as f64) - spot_px).norm() < 2.0)
            }
            Some(Site::Line { start_mm, end_mm, reach_mm }) => {
                let along = end_mm - start_mm;
                let share = ((spot_mm - start_mm).dot(&along) / along.norm_squared().max(1e-12)).clamp(0.0, 1.0);
                (start_mm + along * share - spot_mm).norm() <= *reach_mm
            }
            Some(Site::Everywhere) => {
                // A spot on the fault itself with the neighbour named is not the disturbance's doing.
                let fault = self.simulated.truth.centre_px.unwrap_or(Point2::new(f64::INFINITY, 0.0));
                (fault - spot_px).norm() > 4.0
            }
        }
    }
}

/// The generator of a proving board's own draws, apart from practice cases and from the recording's noise.
fn board_rng(kind: Kind, seed: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream((1 << 33) + ((kind.index() as u64) << 8));
    rng
}

/// Columns and rows of a proving board's picture, without building it.
pub fn picture_size(kind: Kind, seed: u64) -> (usize, usize) {
    let size = film::size(&mut board_rng(kind, seed));
    (size.width_px, size.height_px)
}

/// Builds a proving board. Takes from some tenths of a second to some seconds, by picture size.
pub fn build(kind: Kind, seed: u64) -> ProvingBoard {
    let mut rng = board_rng(kind, seed);
    let size = film::size(&mut rng);
    let mut drawn = face::draw(&mut rng, size.edge_mm);
    let board = drawn.board();
    let board_mm = drawn.layout.size_mm();
    let (mut setup, body_of) = still(&mut rng, size, &mut drawn, kind);
    let schedule = film::schedule(&mut rng, size, kind.pulsed());
    setup.timeline = schedule.timeline;
    let culprit = body_of[drawn.culprit].filter(|_| !kind.blank());
    setup.culprit = culprit;
    let fault_mm = culprit.map(|c| setup.bodies[c].footprint.centre_mm);
    let around = Around {
        board_mm,
        fault_mm,
        culprit,
        on_rail: drawn
            .layout
            .parts()
            .iter()
            .zip(&body_of)
            .filter(|((part, _), _)| part.rails.iter().any(|r| r == drawn.rail))
            .filter_map(|(_, body)| *body)
            .collect(),
    };
    let site = match kind {
        Kind::Disturbed(what) => Some(spoil::add_disturbance(&mut rng, &mut setup, &around, what)),
        Kind::Blank { nuisance, .. } => {
            spoil::add_nuisance(&mut rng, &mut setup, &around, nuisance);
            None
        }
        _ => None,
    };

    let lead_ohms: f64 = rng.random_range(0.05..0.2);
    let marked = rng.random_bool(0.5) || kind == Kind::FeedPath;
    let injection_mm = injection(&mut rng, &drawn, &around).filter(|_| marked);
    let size_k = size_of(&mut rng, kind);
    let mut board_ohms = log_uniform(&mut rng, 0.05, 2.0);
    if let Some(c) = culprit {
        let on = |at, watts| Source { at, watts, drive: schedule.drive };
        setup.sources.push(on(SourceAt::Body(c), 1.0));
        if let Some(ferrite) = drawn.ferrite.and_then(|f| body_of[f]) {
            setup.sources.push(on(SourceAt::Body(ferrite), rng.random_range(0.005..0.04)));
        }
        if let Some(at) = injection_mm {
            setup.sources.push(on(SourceAt::Point([at.x, at.y]), rng.random_range(0.0..0.02)));
        }
        if kind == Kind::Shiny {
            setup.bodies[c].emissivity = 0.1;
            setup.bodies[c].end_caps = None;
        }
        if let (Kind::FeedPath, Some(from), Some(to)) = (kind, injection_mm, fault_mm) {
            board_ohms = log_uniform(&mut rng, 0.02, 0.1);
            // A track of 35 um copper (0.49 milliohm a square at 20 degrees C, resistivity 1.72e-8 ohm m), 1 to 3 mm wide.
            let ohms_per_mm = 0.49e-3 / rng.random_range(1.0..3.0);
            let corner = if rng.random_bool(0.5) { [from.x, to.y] } else { [to.x, from.y] };
            let path = [[from.x, from.y], corner, [to.x, to.y]];
            let spacing_mm = setup.plate.cell_mm / 2.0;
            setup.sources.extend(feed_path(&path, ohms_per_mm / board_ohms, spacing_mm, schedule.drive));
        }
    }
    let mut log_rng = ChaCha8Rng::from_rng(&mut rng);
    let simulated = if let Some(c) = culprit {
        let target = match schedule.period_s {
            Some(period_s) => Target::Amplitude { kelvin: size_k, period_s },
            None => Target::Rise(size_k),
        };
        // A few per cent of the power heat planes and leads that no pixel shows.
        let unseen = rng.random_range(1.0..1.08);
        simulate_to(&mut setup, target, seed, |setup| {
            let short_w: f64 =
                setup.sources.iter().filter(|s| matches!(s.at, SourceAt::Body(b) if b == c)).map(|s| s.watts).sum();
            let all_w: f64 = setup.sources.iter().map(|s| s.watts).sum();
            let total_ohms = board_ohms * all_w / short_w;
            // Nobody injects more than a volt or five amps into a short: other ohms would have been met then.
            let amps = (unseen * all_w / total_ohms).sqrt().clamp(unseen * all_w, 5.0_f64.max(unseen * all_w));
            read(setup, unseen * all_w, amps, lead_ohms, &mut log_rng);
        })
    } else {
        leak(&mut rng, &mut setup, &around, schedule.drive, lead_ohms);
        super::simulate(&setup, seed)
    };
    let middle = Point2::new(board_mm[0] / 2.0, board_mm[1] / 2.0);
    ProvingBoard {
        kind,
        seed,
        board,
        rail: drawn.rail.into(),
        face: "top".into(),
        lead_ohms: rng.random_bool(0.8).then_some((lead_ohms * 1e3).round() / 1e3),
        injection_mm,
        site,
        period_s: schedule.period_s,
        size_k: if culprit.is_some() { size_k } else { 0.0 },
        mm_per_px: film::mm_per_px(&setup.camera, fault_mm.unwrap_or(middle)),
        gap_mm: culprit.and_then(|_| nearest_gap_mm(&drawn)),
        simulated,
        setup,
    }
}

/// Rise or amplitude to reach, kelvin.
fn size_of(rng: &mut ChaCha8Rng, kind: Kind) -> f64 {
    let (low, high) = match kind {
        Kind::Tier(Tier::Strong) => (10.0, 50.0),
        Kind::Tier(Tier::Medium) => (1.0, 5.0),
        Kind::Tier(Tier::Faint) => (0.1, 0.5),
        Kind::Tier(Tier::Pulsed) => (0.01, 0.05),
        Kind::Tier(Tier::Blank) | Kind::Blank { .. } => (1e-3, 2e-3),
        Kind::Disturbed(_) => (0.5, 5.0),
        Kind::Shiny => (1.0, 10.0),
        Kind::FeedPath => (2.0, 20.0),
    };
    log_uniform(rng, low, high)
}

/// Plate, bodies, surfaces and camera; no time passes yet. Also the body of each part, where it has one.
fn still(rng: &mut ChaCha8Rng, size: film::Size, drawn: &mut Drawn, kind: Kind) -> (Setup, Vec<Option<usize>>) {
    let board_mm = drawn.layout.size_mm();
    let [w, h] = board_mm;
    let thickness_m = rng.random_range(0.8e-3..2.0e-3);
    let base = ThinPlate {
        // In plane, glass-cloth laminates: 0.6 to 1.1 W/mK around the measured 1.059 (see the practice cases).
        sheet_w_per_k: rng.random_range(0.6..1.1) * thickness_m,
        areal_capacity_j_per_m2k: rng.random_range(1.6e6..2.1e6) * thickness_m,
        loss_w_per_m2k: rng.random_range(12.0..30.0),
    };
    let mut copper = Vec::new();
    for _ in 0..rng.random_range(0..=4) {
        copper.push(Copper {
            area: rectangle(w / 2.0, h / 2.0, w - 1.0, h - 1.0),
            thickness_um: if rng.random_bool(0.6) { 35.0 } else { 18.0 },
            coverage: rng.random_range(0.3..0.95),
        });
    }
    for _ in 0..rng.random_range(1..=4) {
        let (cx, cy) = (rng.random_range(0.2..0.8) * w, rng.random_range(0.2..0.8) * h);
        let area = rectangle(cx, cy, rng.random_range(0.1..0.4) * w, rng.random_range(0.1..0.4) * h);
        copper.push(Copper { area, thickness_um: 35.0, coverage: rng.random_range(0.3..0.9) });
    }
    let paints = surfaces(&mut drawn.layout);
    let mut bodies = Vec::new();
    let mut body_of = Vec::new();
    for (part, package) in drawn.layout.parts() {
        let body = package.body(&part.designator, Footprint::from(part)).map(|mut body| {
            body.capacity_j_per_k *= log_uniform(rng, 0.6, 1.6);
            body.to_plate_w_per_k *= log_uniform(rng, 0.5, 2.0);
            if part.emissivity.is_none() {
                body.emissivity = rng.random_range(0.8..0.95);
            }
            body
        });
        body_of.push(body.is_some().then_some(bodies.len()));
        bodies.extend(body);
    }
    let setup = Setup {
        name: kind.to_string(),
        plate: Plate {
            outline: drawn.layout.outline(),
            cell_mm: if w * h < 1500.0 {
                0.5
            } else if w * h < 4000.0 {
                0.7
            } else {
                0.9
            },
            base,
            copper,
            behind: None,
        },
        bodies,
        sources: Vec::new(),
        paints,
        surroundings: Surroundings {
            reflected_k: 295.15 + rng.random_range(-4.0..4.0),
            mask_emissivity: rng.random_range(0.85..0.95),
            ..Surroundings::default()
        },
        camera: film::pose(rng, size, board_mm),
        sensor: film::sensor(rng),
        disturbances: Disturbances::default(),
        timeline: joulemark_frames::Timeline::default(),
        pair_points_mm: film::marks(rng, board_mm),
        click_sigma_px: rng.random_range(0.3..1.0),
        culprit: None,
    };
    (setup, body_of)
}

/// Where the probe touches: a test pad, connector or part of the rail well away from the fault, where there is one.
fn injection(rng: &mut ChaCha8Rng, drawn: &Drawn, around: &Around) -> Option<Point2<f64>> {
    let parts = drawn.layout.parts().iter();
    let open: Vec<Point2<f64>> = parts
        .filter(|(part, _)| part.rails.iter().any(|r| r == drawn.rail))
        .map(|(part, _)| Point2::new(part.x_mm, part.y_mm))
        .filter(|at| around.fault_mm.is_none_or(|fault| (fault - at).norm() > 6.0))
        .collect();
    (!open.is_empty()).then(|| open[rng.random_range(0..open.len())])
}

/// A healthy rail: a fraction of a milliamp leaks through the parts that hang on it, which warms none of them by more than
/// some millikelvin. In half of the boards the log shows a short that is not in the picture.
fn leak(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around, drive: super::Drive, lead_ohms: f64) {
    let mut log_rng = ChaCha8Rng::from_rng(rng);
    let leak_amps = rng.random_range(0.1e-3..1e-3);
    let (volts, amps) = if rng.random_bool(0.5) {
        let amps = rng.random_range(0.2..1.0);
        (rng.random_range((amps * lead_ohms + 0.02_f64).min(0.29)..0.3), amps)
    } else {
        (0.3, leak_amps)
    };
    // Not all of it leaks in the picture.
    let watts = rng.random_range(0.2..0.8) * 0.3 * leak_amps / around.on_rail.len().max(1) as f64;
    setup.sources.extend(around.on_rail.iter().map(|&b| Source { at: SourceAt::Body(b), watts, drive }));
    let at_board = (volts - amps * lead_ohms).max(1e-3) * amps;
    read(setup, at_board, amps, lead_ohms, &mut log_rng);
}

/// Writes the readings of a supply that gives these watts to the board at these amps.
fn read(setup: &mut Setup, watts: f64, amps: f64, lead_ohms: f64, rng: &mut ChaCha8Rng) {
    let board_ohms = watts / (amps * amps);
    let set_volts = amps * (lead_ohms + board_ohms);
    Supply { set_volts, set_amps: (1.2 * amps).max(0.5), lead_ohms, board_ohms }.read_into(&mut setup.timeline, rng);
}

/// Free space around the faulty part.
fn nearest_gap_mm(drawn: &Drawn) -> Option<f64> {
    let parts = drawn.layout.parts();
    let fault = Footprint::from(&parts[drawn.culprit].0);
    let edge_points = |f: &Footprint| {
        let corners = f.corners_mm();
        (0..40).map(move |i| {
            let (a, b) = (corners[i / 10], corners[(i / 10 + 1) % 4]);
            a + (b - a) * ((i % 10) as f64 / 10.0)
        })
    };
    let others = parts.iter().enumerate().filter(|(i, _)| *i != drawn.culprit);
    others
        .map(|(_, (part, _))| {
            let other = Footprint::from(part);
            let there = edge_points(&fault).map(|p| other.distance_mm(p));
            there.chain(edge_points(&other).map(|p| fault.distance_mm(p))).fold(f64::INFINITY, f64::min)
        })
        .min_by(f64::total_cmp)
}
