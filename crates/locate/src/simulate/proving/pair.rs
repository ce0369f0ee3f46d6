//! Pairs of takes around a repair, whose story is known.
//!
//! The take before is a proving board with a fault; the take after shows the same board once more, with other noise, other clicks and, by
//! seed, a camera that was put back a little elsewhere or another camera altogether. Parallel loads and second shorts are in both takes, as
//! they are on a bench, and draw the same current in both.

use joulemark_frames::{CountsLaw, Stack};
use nalgebra::Matrix3;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

use super::{Kind, ProvingBoard, Tier, build, picture_size, spoil::log_uniform};
use crate::{
    repair_check::{Bench, VerdictKind},
    simulate::{Source, SourceAt, simulate},
};

/// What happened between the takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Story {
    /// The short is gone and the rail draws next to nothing.
    Repaired,
    /// The short is gone, and healthy parts go on drawing 8 to 45 % of the current.
    RepairedUnderLoad,
    /// Nobody did anything, and the short is gone.
    Healed,
    /// The part was replaced in vain, or another one was; everything is as before.
    Untouched,
    /// The same, filmed with 0.6 to 1.5 times the volts.
    OtherVolts,
    /// The same part shorts the rail with 1.3 to 3 times the ohms.
    Weaker,
    /// The first of two parallel shorts is gone, the lesser one is left.
    SecondShort,
    /// Another part, 3 mm away or more, shorts the rail now.
    Moved,
    /// The short is there, and the leads touched nothing.
    LooseLeads,
}

/// How the take after was filmed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Filmed {
    /// By the same camera from the same place.
    Same,
    /// By the same camera, put back some pixels aside and turned a little.
    PutBack,
    /// By a camera of another size, blur and noise in another pose, set to another emissivity.
    OtherCamera,
}

/// A pair with its truth.
#[derive(Clone, Debug)]
pub struct Pair {
    /// What happened.
    pub story: Story,
    /// How the second take was filmed.
    pub filmed: Filmed,
    /// How warm the fault was.
    pub tier: Tier,
    /// The take before.
    pub before: ProvingBoard,
    /// The take after.
    pub after: ProvingBoard,
    /// Readings and repairs on record.
    pub bench: Bench,
}

/// Places that are another place than the fault lie this far away at least, millimetres.
const APART_MM: f64 = 3.0;
/// What the take after is drawn with.
const AFTER: u64 = 500_000;

impl Story {
    /// All.
    pub const ALL: [Self; 9] = [
        Self::Repaired,
        Self::RepairedUnderLoad,
        Self::Healed,
        Self::Untouched,
        Self::OtherVolts,
        Self::Weaker,
        Self::SecondShort,
        Self::Moved,
        Self::LooseLeads,
    ];

    /// The verdict of somebody who knows; `None` where nobody can tell from takes and readings.
    pub fn right(self) -> Option<VerdictKind> {
        match self {
            Self::Repaired | Self::RepairedUnderLoad => Some(VerdictKind::Cleared),
            Self::Healed => Some(VerdictKind::GoneWithoutRepair),
            Self::Untouched | Self::OtherVolts | Self::Weaker => Some(VerdictKind::StillThere),
            Self::SecondShort | Self::Moved => Some(VerdictKind::Moved),
            Self::LooseLeads => None,
        }
    }

    /// Whether the rail is still shorted.
    pub fn shorted(self) -> bool {
        !matches!(self, Self::Repaired | Self::RepairedUnderLoad | Self::Healed)
    }

    /// Whether the part of the first take still shorts it.
    pub fn same_part(self) -> bool {
        matches!(self, Self::Untouched | Self::OtherVolts | Self::Weaker | Self::LooseLeads)
    }
}

/// A third of the boards is faint, a sixth strong.
pub fn tier(seed: u64) -> Tier {
    match seed % 6 {
        0 | 3 => Tier::Faint,
        1 => Tier::Strong,
        _ => Tier::Medium,
    }
}

/// Seeds from `first` on whose pictures have at most so many columns: large ones take the room of four others and say the same.
pub fn seeds(first: u64, most_columns: usize) -> impl Iterator<Item = u64> {
    (first..).filter(move |&seed| picture_size(Kind::Tier(tier(seed)), seed).0 <= most_columns)
}

/// Builds a pair; `None` where the board has no other part far enough away for the story.
pub fn pair(story: Story, seed: u64) -> Option<Pair> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream((1 << 34) + story as u64);
    let tier = tier(seed);
    let mut before = build(Kind::Tier(tier), seed);
    let culprit = before.setup.culprit?;
    let short = before.setup.sources.iter().find(|s| matches!(s.at, SourceAt::Body(b) if b == culprit)).copied()?;

    // What else draws current in both takes, as a share of the short's.
    let beside = match story {
        Story::RepairedUnderLoad => rng.random_range(0.09..0.8),
        Story::SecondShort => rng.random_range(0.2..0.6),
        _ => 0.0,
    };
    if beside > 0.0 {
        let count = if story == Story::SecondShort { 1 } else { rng.random_range(1..=3) };
        for _ in 0..count {
            let at = SourceAt::Body(elsewhere(&before, &mut rng)?);
            before.setup.sources.push(Source { at, watts: beside / f64::from(count) * short.watts, ..short });
        }
        draw_amps(&mut before, 1.0 + beside);
        before.simulated = simulate(&before.setup, seed);
    }

    let mut after = before.clone();
    let amps = match story {
        Story::Repaired | Story::Healed | Story::LooseLeads => 0.0,
        Story::RepairedUnderLoad | Story::SecondShort => beside / (1.0 + beside),
        Story::Untouched | Story::OtherVolts => 1.0,
        Story::Weaker => 1.0 / rng.random_range(1.3..3.0),
        Story::Moved => rng.random_range(0.6..1.5),
    };
    let sources = &mut after.setup.sources;
    let own = |s: &Source| matches!(s.at, SourceAt::Body(b) if b == culprit);
    match story {
        Story::Repaired | Story::Healed | Story::LooseLeads => sources.clear(),
        Story::RepairedUnderLoad | Story::SecondShort => sources.retain(|s| !own(s)),
        Story::Untouched | Story::OtherVolts => {}
        Story::Weaker => sources.iter_mut().for_each(|s| s.watts *= amps),
        Story::Moved => {
            let other = elsewhere(&before, &mut rng)?;
            for source in sources.iter_mut() {
                source.watts *= amps;
                if own(source) {
                    source.at = SourceAt::Body(other);
                }
            }
        }
    }
    if amps > 0.0 {
        draw_amps(&mut after, amps);
    } else {
        leak_only(&mut after);
    }
    if story == Story::OtherVolts {
        let factor = rng.random_range(0.6..1.5);
        turn_up(&mut after, factor);
    }
    let filmed = [Filmed::Same, Filmed::PutBack, Filmed::OtherCamera][rng.random_range(0..3)];
    let setting = film_again(&mut after, filmed, &mut rng);
    after.simulated = simulate(&after.setup, seed + AFTER);
    // The camera corrects by the setting: whatever it shows is so much further from the surroundings.
    let law = after.setup.sensor.law;
    let ambient_k = after.setup.surroundings.ambient_k;
    let law = CountsLaw {
        gain_k_per_count: setting * law.gain_k_per_count,
        offset_k: ambient_k + setting * (law.offset_k - ambient_k),
    };
    let take = &mut after.simulated.take;
    take.stack = Stack::new(take.stack.samples().clone(), law);
    let bench = readings(story, &before, amps, &mut rng);
    Some(Pair { story, filmed, tier, before, after, bench })
}

/// A body far enough from the fault, any of them.
fn elsewhere(board: &ProvingBoard, rng: &mut ChaCha8Rng) -> Option<usize> {
    let bodies = &board.setup.bodies;
    let at = bodies[board.setup.culprit?].footprint.centre_mm;
    let far: Vec<usize> =
        (0..bodies.len()).filter(|&b| (bodies[b].footprint.centre_mm - at).norm() > APART_MM).collect();
    (!far.is_empty()).then(|| far[rng.random_range(0..far.len())])
}

/// This many times the amps flow at the same volts at the board; the supply makes up for the leads' drop.
fn draw_amps(board: &mut ProvingBoard, factor: f64) {
    let lead_ohms = board.lead_ohms.unwrap_or(0.0);
    let t = &mut board.setup.timeline;
    for i in (0..t.len()).filter(|&i| t.injecting[i]) {
        let Some(amps) = t.amps[i] else { continue };
        let drop = (factor - 1.0) * amps * lead_ohms;
        t.amps[i] = Some(factor * amps);
        for volts in [&mut t.volts[i], &mut t.set_volts[i]].into_iter().flatten() {
            *volts += drop;
        }
    }
}

/// More or less volts: amps follow, watts go with the square.
fn turn_up(board: &mut ProvingBoard, factor: f64) {
    let t = &mut board.setup.timeline;
    for value in t.amps.iter_mut().chain(&mut t.volts).chain(&mut t.set_volts).flatten() {
        *value *= factor;
    }
    board.setup.sources.iter_mut().for_each(|s| s.watts *= factor * factor);
}

/// Half a milliamp at the ceiling.
fn leak_only(board: &mut ProvingBoard) {
    let t = &mut board.setup.timeline;
    for i in (0..t.len()).filter(|&i| t.injecting[i]) {
        (t.volts[i], t.amps[i]) = (t.set_volts[i], Some(0.0005));
    }
}

/// Poses and cameras; gives what the emissivity setting multiplies readings by.
fn film_again(board: &mut ProvingBoard, filmed: Filmed, rng: &mut ChaCha8Rng) -> f64 {
    let camera = &mut board.setup.camera;
    let shift = |x: f64, y: f64| Matrix3::new(1.0, 0.0, x, 0.0, 1.0, y, 0.0, 0.0, 1.0);
    let turned = |deg: f64, scale: f64| {
        let (sin, cos) = deg.to_radians().sin_cos();
        Matrix3::new(scale * cos, -scale * sin, 0.0, scale * sin, scale * cos, 0.0, 0.0, 0.0, 1.0)
    };
    let middle = |width: usize, height: usize| [(width as f64 - 1.0) / 2.0, (height as f64 - 1.0) / 2.0];
    let [x, y] = middle(camera.width_px, camera.height_px);
    match filmed {
        Filmed::Same => 1.0,
        Filmed::PutBack => {
            let aside = [rng.random_range(-4.0..4.0), rng.random_range(-4.0..4.0)];
            let turn = turned(rng.random_range(-2.0..2.0), rng.random_range(0.97..1.03));
            camera.image_from_board =
                shift(x + aside[0], y + aside[1]) * turn * shift(-x, -y) * camera.image_from_board;
            1.0
        }
        Filmed::OtherCamera => {
            let sizes = [(160, 120), (256, 192), (320, 240)];
            let others: Vec<_> = sizes.into_iter().filter(|s| s.0 != camera.width_px).collect();
            let (width, height) = others[rng.random_range(0..others.len())];
            let scale = rng.random_range(0.8..1.02) * width as f64 / camera.width_px as f64;
            let deg = rng.random_range(-6.0..6.0) + if rng.random_bool(0.3) { 180.0 } else { 0.0 };
            let [new_x, new_y] = middle(width, height);
            camera.image_from_board =
                shift(new_x, new_y) * turned(deg, scale) * shift(-x, -y) * camera.image_from_board;
            (camera.width_px, camera.height_px) = (width, height);
            camera.blur_sigma_px = rng.random_range(0.5..1.6);
            board.setup.sensor.netd_k = rng.random_range(0.03..0.08);
            // From a setting of 0.95 to one of 0.8, and the other way round.
            log_uniform(rng, 0.84, 1.19)
        }
    }
}

/// What the meter reads is true; on a third of the boards nobody measured.
fn readings(story: Story, before: &ProvingBoard, amps: f64, rng: &mut ChaCha8Rng) -> Bench {
    let wrong = matches!(story, Story::Untouched | Story::OtherVolts) && rng.random_bool(0.5);
    let other = elsewhere(before, rng).filter(|_| wrong).map(|b| before.setup.bodies[b].designator.clone());
    let part = other.or_else(|| before.simulated.truth.part.clone());
    let repaired = if story == Story::Healed { Vec::new() } else { part.into_iter().collect() };
    let ohms: f64 = rng.random_range(0.1..2.0);
    // Silicon does not conduct at the little voltage of a meter: healthy loads read as nothing.
    let (ohms_after, diode_after) = match story {
        Story::Repaired | Story::RepairedUnderLoad | Story::Healed => {
            (log_uniform(rng, 300.0, 50e3), rng.random_range(0.15..0.6))
        }
        Story::LooseLeads => (1.02 * ohms, 0.003),
        _ => (ohms / amps, 0.002 / amps),
    };
    let mut bench = Bench { repaired, ..Bench::default() };
    match rng.random_range(0..3) {
        0 => {}
        1 => (bench.ohms_before, bench.ohms_after) = (Some(ohms), Some(ohms_after)),
        _ => (bench.diode_before, bench.diode_after) = (Some(0.002), Some(diode_after)),
    }
    bench
}
