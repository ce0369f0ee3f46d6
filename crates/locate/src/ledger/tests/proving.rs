//! A table over random boards, for those who change the ledger. All results are simulated.

use super::*;
use crate::simulate::proving::{Kind, Tier, build};

#[test]
#[ignore = "prints a table over random boards: SEEDS=20"]
fn proving_table() {
    let seeds: u64 = std::env::var("SEEDS").map_or(10, |s| s.parse().unwrap());
    let kinds = [
        Kind::Tier(Tier::Strong),
        Kind::Tier(Tier::Medium),
        Kind::Tier(Tier::Faint),
        Kind::Tier(Tier::Pulsed),
        Kind::Shiny,
        Kind::FeedPath,
    ];
    for kind in kinds {
        let (mut found, mut first, mut best, mut off, mut within, mut hinted) = (0, 0, 0, 0, 0, 0);
        let mut ratios = Vec::new();
        for seed in 0..seeds {
            let board = build(kind, seed);
            let Ok(alignment) = Alignment::fit(&board.simulated.pairs) else { continue };
            let scene = Scene {
                board: &board.board,
                face: &board.face,
                rail: &board.rail,
                alignment: &alignment,
                lead_ohms: board.lead_ohms,
                injection_mm: board.injection_mm,
            };
            let Some(solution) = ledger_of(&board.simulated.take, &scene, None) else {
                println!("{kind} {seed}: no hot spot");
                continue;
            };
            let truth = &board.simulated.truth;
            let part = truth.part.clone().unwrap();
            found += 1;
            print(
                &format!(
                    "{kind} {seed}: {part} {:.4} W, {:.2} mm/px, {:.2} K",
                    truth.watts, board.mm_per_px, board.size_k
                ),
                &solution,
            );
            let Some(ledger) = &solution.ledger else { continue };
            first += usize::from(ledger.entries.first().is_some_and(|e| e.part == part));
            hinted += usize::from(ledger.hints.iter().any(|h| h.starts_with(&format!("{part} itself"))));
            // The spot that is no path and no probe, where roles are known.
            let spot = solution
                .roles
                .iter()
                .position(|r| matches!(r, SpotRole::End))
                .or_else(|| solution.roles.iter().position(|r| *r == SpotRole::Own))
                .unwrap_or(0);
            let evidence = &solution.evidence[spot];
            let top = evidence.parts.first();
            best += usize::from(top.is_some_and(|p| p.part == part));
            off += usize::from(evidence.off_drawing > top.map_or(f64::NEG_INFINITY, |p| p.log_gain));
            if let Some(entry) = ledger.entries.iter().find(|e| e.part == part) {
                within += usize::from((entry.watts - truth.watts).abs() <= 1.96 * entry.watts_se);
                ratios.push(entry.watts / truth.watts);
            }
        }
        ratios.sort_by(f64::total_cmp);
        let at = |share: f64| ratios.get((share * (ratios.len() as f64 - 1.0)) as usize).copied().unwrap_or(f64::NAN);
        println!(
            "TABLE {kind}: {found} of {seeds} with hot spots; first entry {first}, best evidence {best}, off drawing above {off}, within 95 % \
             {within} of {}, bare hint {hinted}; watts over truth 5 % {:.2} median {:.2} 95 % {:.2}",
            ratios.len(),
            at(0.05),
            at(0.5),
            at(0.95)
        );
    }
}
