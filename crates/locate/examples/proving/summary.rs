//! The figures to reach (design, section 12) beside those that were reached.

use joulemark_locate::simulate::proving::{Kind, Tier};

use crate::{record::Record, reliability};

/// Tiers: recall and probabilities.
pub fn tiers(records: &[Record]) {
    println!("\n{:<58} {:>8} {:>8} {:>7}", "figure (simulated boards)", "wanted", "found", "boards");
    let large: Vec<&Record> = records.iter().filter(|r| r.size_k >= 1.0).collect();
    let tier = |tier: Tier| records.iter().filter(move |r| r.kind == Kind::Tier(tier).to_string());
    let faint: Vec<&Record> = tier(Tier::Faint).filter(|r| r.netd_k <= 0.05).collect();
    let pulsed: Vec<&Record> = tier(Tier::Pulsed).collect();
    let pulsed_quiet: Vec<&Record> = tier(Tier::Pulsed).filter(|r| r.netd_k <= 0.05).collect();
    recall("rise of 1 K and more", &large, 98.0, 99.0);
    recall("rise of 0.1-0.5 K, noise of 30-50 mK", &faint, 85.0, 95.0);
    recall("pulsed, amplitude 10-50 mK, noise of 30-50 mK", &pulsed_quiet, 90.0, 96.0);
    recall("the same, noise of 30-80 mK", &pulsed, 90.0, 96.0);
    if let Some((error, brier)) = reliability::figures(records) {
        row("reliability error, ten equal bins", "<= 0.05", format!("{error:.3}"), records.len(), error <= 0.05);
        row("Brier score of the first suspect", "<= 0.12", format!("{brier:.3}"), records.len(), brier <= 0.12);
    }
}

fn recall(what: &str, records: &[&Record], first: f64, in_three: f64) {
    for (n, wanted, place) in [(1, first, "first"), (3, in_three, "among the first three")] {
        if !records.is_empty() {
            let hits = records.iter().filter(|r| r.outcome.within(n)).count();
            let found = 100.0 * hits as f64 / records.len() as f64;
            let what = format!("{what}: {place}");
            row(&what, &format!(">= {wanted} %"), format!("{found:.1} %"), records.len(), found >= wanted);
        }
    }
}

fn row(what: &str, wanted: &str, found: String, boards: usize, reached: bool) {
    println!("{what:<58} {wanted:>8} {found:>8} {boards:>7} {}", if reached { "" } else { "short" });
}
