//! From a hot spot in board millimetres to the parts that may be under it, with probabilities and reasons.
//!
//! One density per hypothesis: where would the centre of heat be seen if this part were the short? A part is a uniform
//! density over its footprint, something off the drawing a uniform density over the board, both blurred by the spot's
//! and the alignment's uncertainty. Bayes' rule then does the rest, and a large part pays for its size by itself.

mod group;
mod position;
mod prior;
mod reach;
mod templates;
mod words;

pub use reach::reach;

use std::collections::BTreeMap;

use crate::{
    HotSpot, Rise, Scene, SpotAnswer, SpotRole, Suspect,
    board::{Board, Face, Footprint, JoinedRail, Part},
    ledger::{LedgerSolution, SpotEvidence},
    located::Evidence,
};
use position::Blur;

/// Suspects below this probability are not listed, unless they share a group with one that is.
const LEAST_LISTED: f64 = 0.005;

/// What a reason may need to know beyond the part.
pub(crate) struct Context<'a> {
    pub(crate) scene: &'a Scene<'a>,
    pub(crate) joined: &'a [JoinedRail],
    pub(crate) unit: joulemark_frames::Unit,
    pub(crate) injected_from_s: f64,
}

/// A part with the numbers for one hot spot.
struct Hypothesis<'a> {
    face: &'a Face,
    part: &'a Part,
    weight: f64,
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
    let blur = Blur::of(spot, scene.alignment.mm_per_px(spot.centre_px));
    let priors = prior::of_board(board, context.joined);
    let board_density = 1.0 / face.outline_area_mm2();
    let mut off_drawing = prior::OFF_DRAWING * board_density;
    let mut hypotheses: Vec<Hypothesis<'_>> = Vec::new();
    for part in &face.parts {
        let footprint = Footprint::from(part);
        let density = position::density_per_mm2(&footprint, spot.centre_mm, &blur);
        let prior = priors.get(part.designator.as_str()).copied().unwrap_or_default();
        hypotheses.push(Hypothesis {
            face,
            part,
            weight: prior.weight * density,
            evidence: Evidence {
                distance_mm: footprint.distance_mm(spot.centre_mm),
                log_bayes_position: (density / board_density).max(f64::MIN_POSITIVE).ln(),
                prior: prior.weight,
                on_rail: prior.on_rail,
            },
        });
    }
    hypotheses.extend(behind(board, face, spot, &blur, &priors, board_density));
    if let Some(evidence) = evidence {
        templates::weigh(&mut hypotheses, &mut off_drawing, evidence, board_density);
    }
    let something: f64 = off_drawing + hypotheses.iter().map(|h| h.weight).sum::<f64>();
    let nothing_probability = nothing(spot.q_value).max(role_share(role));
    let share = |weight: f64| (1.0 - nothing_probability) * weight / something;
    hypotheses.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let groups = group::groups(&hypotheses, off_drawing);
    let listed: Vec<&Hypothesis<'_>> = hypotheses
        .iter()
        .filter(|h| share(h.weight) >= LEAST_LISTED || groups.contains_key(h.part.designator.as_str()))
        .collect();
    let mut answer = SpotAnswer {
        off_drawing_probability: share(off_drawing),
        nothing_probability,
        role,
        suspects: listed
            .iter()
            .map(|h| Suspect {
                part: h.part.designator.clone(),
                face: h.face.name.clone(),
                probability: share(h.weight),
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
        let reasons = words::reasons(spot, context, &answer.suspects, i);
        answer.suspects[i].because = reasons;
    }
    answer
}

/// Parts on the face behind, seen through the board: heat arrives broader and later, so their density is wider.
fn behind<'a>(
    board: &'a Board,
    face: &Face,
    spot: &HotSpot,
    blur: &Blur,
    priors: &BTreeMap<&str, prior::Prior>,
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
            let prior = priors.get(part.designator.as_str()).copied().unwrap_or_default();
            Hypothesis {
                face: far,
                part,
                weight: prior.weight * prior::BEHIND * density,
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
