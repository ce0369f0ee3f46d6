//! From a hot spot in board millimetres to the parts that may be under it, with probabilities and reasons.
//!
//! One density per hypothesis: where would the centre of heat be seen if this part were the short? A part is a uniform
//! density over its footprint, something off the drawing a uniform density over the board, both blurred by the spot's
//! and the alignment's uncertainty. Bayes' rule then does the rest, and a large part pays for its size by itself.

mod calibration;
mod earlier;
mod group;
pub(crate) mod pairs;
mod position;
mod prior;
mod reach;
mod words;

pub use calibration::{Calibration, Considered, probabilities};
pub use earlier::{EarlierCases, EarlierPart, TABLE_CASES, smoothed};
pub use reach::reach;

use crate::{
    HotSpot, Rise, Scene, SpotAnswer, SpotRole, Suspect,
    board::{Board, Face, Footprint, JoinedRail, Part},
    ledger::{LedgerSolution, SpotEvidence},
    located::Evidence,
};
use pairs::Pair;
use position::Blur;
use prior::Priors;

/// Suspects below this probability are not listed, unless they share a group with one that is.
const LEAST_LISTED: f64 = 0.005;

/// What a reason may need to know beyond the part.
pub(crate) struct Context<'a> {
    pub(crate) scene: &'a Scene<'a>,
    pub(crate) joined: &'a [JoinedRail],
    pub(crate) unit: joulemark_frames::Unit,
    pub(crate) injected_from_s: f64,
    pub(crate) calibration: Calibration,
    pub(crate) earlier: &'a EarlierCases,
}

/// A part with the numbers for one hot spot.
struct Hypothesis<'a> {
    face: &'a Face,
    part: &'a Part,
    probability: f64,
    evidence: Evidence,
}

/// Answers for all hot spots, in their order.
pub(crate) fn answers(
    hot_spots: &[HotSpot],
    context: &Context<'_>,
    solution: Option<&LedgerSolution>,
) -> Vec<SpotAnswer> {
    hot_spots
        .iter()
        .enumerate()
        .map(|(i, spot)| {
            let evidence = solution.and_then(|s| s.evidence.get(i));
            let role = solution.and_then(|s| s.roles.get(i)).copied().unwrap_or_default();
            answer(spot, context, evidence, role)
        })
        .collect()
}

/// Answer for one hot spot.
fn answer(spot: &HotSpot, context: &Context<'_>, evidence: Option<&SpotEvidence>, role: SpotRole) -> SpotAnswer {
    let scene = context.scene;
    let board = scene.board;
    let Some(face) = board.face(scene.face) else { return SpotAnswer::default() };
    let mm_per_px = scene.alignment.mm_per_px(spot.centre_px);
    let blur = Blur::of(spot, mm_per_px);
    let priors = Priors::of_board(board, context.joined, context.earlier);
    let board_density = 1.0 / face.outline_area_mm2();
    let mut hypotheses: Vec<Hypothesis<'_>> = Vec::new();
    for part in &face.parts {
        let footprint = Footprint::from(part);
        let density = position::density_per_mm2(&footprint, spot.centre_mm, &blur);
        let prior = priors.parts.get(part.designator.as_str()).copied().unwrap_or_default();
        hypotheses.push(Hypothesis {
            face,
            part,
            probability: 0.0,
            evidence: Evidence {
                distance_mm: footprint.distance_mm(spot.centre_mm),
                log_bayes_position: (density / board_density).max(f64::MIN_POSITIVE).ln(),
                prior: prior.weight,
                on_rail: prior.on_rail,
            },
        });
    }
    hypotheses.extend(behind(board, face, spot, &blur, &priors, board_density));
    let pairs = pairs::pairs(&hypotheses, scene.face, spot, mm_per_px, (&blur, board_density));
    let considered = considered(&hypotheses, &pairs, evidence, priors.off_drawing);
    let shares = probabilities(&considered, &context.calibration);
    let nothing_probability = nothing(spot.q_value).max(role_share(role));
    let something = 1.0 - nothing_probability;
    for (hypothesis, share) in hypotheses.iter_mut().zip(&shares) {
        hypothesis.probability = something * share;
    }
    let of_pairs = shares.iter().skip(hypotheses.len()).map(|share| something * share);
    let mut pairs = pairs::share_out(&mut hypotheses, &pairs, of_pairs);
    pairs.retain(|pair| pair.probability >= LEAST_LISTED);
    let off_drawing = something * shares.last().copied().unwrap_or(0.0);
    hypotheses.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let groups = group::groups(&hypotheses, off_drawing);
    let listed: Vec<&Hypothesis<'_>> = hypotheses
        .iter()
        .filter(|h| h.probability >= LEAST_LISTED || groups.contains_key(h.part.designator.as_str()))
        .collect();
    let mut answer = SpotAnswer {
        off_drawing_probability: off_drawing,
        nothing_probability,
        role,
        considered,
        pairs,
        suspects: listed
            .iter()
            .map(|h| Suspect {
                part: h.part.designator.clone(),
                face: h.face.name.clone(),
                probability: h.probability,
                group: groups.get(h.part.designator.as_str()).cloned().unwrap_or_default(),
                because: Vec::new(),
                evidence: h.evidence,
            })
            .collect(),
    };
    // What is too small to list goes to "off the drawing", so that the shares sum to 1.
    let listed_share: f64 = answer.suspects.iter().map(|s| s.probability).sum();
    answer.off_drawing_probability = (1.0 - nothing_probability - listed_share).max(0.0);
    for i in 0..answer.suspects.len() {
        let reasons = words::reasons(spot, context, &answer, i);
        answer.suspects[i].because = reasons;
    }
    answer
}

/// The same hypotheses as numbers, with what the templates say of them, then pairs of them, and last something off the drawing.
fn considered(
    hypotheses: &[Hypothesis<'_>],
    pairs: &[Pair],
    evidence: Option<&SpotEvidence>,
    off_drawing: f64,
) -> Vec<Considered> {
    let fitted = evidence.filter(|e| !e.parts.is_empty());
    let best_alone = fitted.and_then(SpotEvidence::best_gain).unwrap_or_default();
    let best = fitted.iter().flat_map(|e| &e.pairs).map(|p| p.log_gain).fold(best_alone, f64::max);
    let template = |h: &Hypothesis<'_>| {
        let parts = &fitted?.parts;
        let own = parts.iter().find(|p| p.part == h.part.designator && p.face == h.face.name);
        // Parts too far from the spot to be fitted are no hypotheses there.
        Some(own.map_or(f64::NEG_INFINITY, |p| p.log_gain - best))
    };
    let parts = hypotheses.iter().map(|h| Considered {
        parts: vec![h.part.designator.clone()],
        prior: h.evidence.prior,
        distance_mm: h.evidence.distance_mm,
        log_position: h.evidence.log_bayes_position,
        log_template: template(h),
    });
    let template_of_pair = |names: &[String; 2]| {
        let own = fitted?.pairs.iter().find(|p| p.parts == *names || [&p.parts[1], &p.parts[0]] == names.each_ref());
        Some(own.map_or(f64::NEG_INFINITY, |p| p.log_gain - best))
    };
    let pairs = pairs.iter().map(|pair| {
        let [a, b] = pair.parts.map(|h| &hypotheses[h]);
        let names = [a, b].map(|h| h.part.designator.clone());
        Considered {
            prior: pair.prior,
            distance_mm: a.evidence.distance_mm.max(b.evidence.distance_mm),
            log_position: pair.log_position,
            log_template: template_of_pair(&names),
            parts: names.into(),
        }
    });
    let off_drawing = Considered {
        parts: Vec::new(),
        prior: off_drawing,
        distance_mm: 0.0,
        log_position: 0.0,
        log_template: fitted.map(|e| e.off_drawing - best),
    };
    parts.chain(pairs).chain([off_drawing]).collect()
}

/// Parts on the face behind, seen through the board: heat arrives broader and later, so their density is wider.
fn behind<'a>(
    board: &'a Board,
    face: &Face,
    spot: &HotSpot,
    blur: &Blur,
    priors: &Priors<'_>,
    board_density: f64,
) -> Vec<Hypothesis<'a>> {
    let Some(through) = &face.through else { return Vec::new() };
    let Some(far) = board.face(&through.face) else { return Vec::new() };
    let wide = blur.through_board();
    far.parts
        .iter()
        .map(|part| {
            let seen = through.seen(part);
            let footprint = Footprint::from(&seen);
            let density = position::density_per_mm2(&footprint, spot.centre_mm, &wide);
            let prior = priors.parts.get(part.designator.as_str()).copied().unwrap_or_default();
            Hypothesis {
                face: far,
                part,
                probability: 0.0,
                evidence: Evidence {
                    distance_mm: footprint.distance_mm(spot.centre_mm),
                    log_bayes_position: (density / board_density).max(f64::MIN_POSITIVE).ln(),
                    prior: prior.weight * prior::BEHIND,
                    on_rail: prior.on_rail,
                },
            }
        })
        .collect()
}

/// Probability that a spot of that role is not the short: the track that feeds it warms with it, and so does the probe's
/// contact (common practice, no published source). Discounted, not masked: the short may lie under the probe.
fn role_share(role: SpotRole) -> f64 {
    match role {
        SpotRole::OnPath { .. } => 0.9,
        SpotRole::AtProbe => 0.8,
        SpotRole::End | SpotRole::Own => 0.0,
    }
}

/// Probability that the spot is chance after all, from its adjusted p-value: even prior odds and the bound
/// `-e p ln p` on the Bayes factor (Sellke, Bayarri & Berger, Am. Stat. 55 (2001) 62), valid for p < 1/e.
fn nothing(p: f64) -> f64 {
    let p = p.clamp(1e-300, 0.367);
    let bayes_factor = -std::f64::consts::E * p * p.ln();
    bayes_factor / (1.0 + bayes_factor)
}

/// The rise in words, for reasons and reports; relative takes have no kelvin.
pub(crate) fn rise_words(rise: &Rise, unit: joulemark_frames::Unit) -> String {
    format!("{} {}", words::with_error(rise.end, rise.end_se), crate::words::unit(unit))
}
