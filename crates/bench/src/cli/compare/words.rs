//! What `joulemark compare` prints.

use std::fmt::Write as _;

use joulemark_frames::Unit;
use joulemark_locate::repair_check::{AgainstGood, RepairCheck, Scaling};

/// Most parts in the table.
const MOST_PARTS: usize = 8;

fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Kelvin => "K",
        Unit::Relative => "relative",
    }
}

fn with_error(value: f64, se: f64) -> String {
    format!("{value:.3} \u{b1}{se:.3}")
}

/// A repair check between takes of these names.
pub(super) fn repair(check: &RepairCheck, [before, after]: [&str; 2]) -> String {
    let mut text = format!("Repair check: {before} before, {after} after\n\nVerdict: {}\n", check.verdict.kind.words());
    for reason in check.verdict.because.iter().chain(&check.notes) {
        let _ = writeln!(text, "  {reason}");
    }
    if let Scaling::ToPower(factor) = check.electrical.scaling {
        let _ = writeln!(text, "  rises after are brought to the power before: times {factor:.3}");
    }
    let unit = unit(check.unit);
    if !check.spots.is_empty() {
        let _ = writeln!(
            text,
            "\nHot spots of either take, {unit}\npart      at, mm          seen    before          after           change"
        );
        for s in &check.spots {
            let seen = match (s.index_before, s.index_after) {
                (Some(_), Some(_)) => "both",
                (Some(_), None) => "before",
                _ => "after",
            };
            let rises = s.rise.map_or_else(
                || "outside one of the pictures".to_owned(),
                |r| {
                    let (b, a) = (with_error(r.before, r.before_se), with_error(r.after, r.after_se));
                    format!("{b:<14}  {a:<14}  {}", with_error(r.change().value, r.change().se))
                },
            );
            let at = format!("{:.2}, {:.2}", s.at_mm.x, s.at_mm.y);
            let part = s.part.as_deref().unwrap_or("nobody");
            let _ = writeln!(text, "{part:<8}  {at:<14}  {seen:<6}  {rises}");
        }
    }
    if !check.parts.is_empty() {
        let _ = writeln!(
            text,
            "\nMean rise over parts, {unit} (largest changes)\npart      before          after           change"
        );
        for p in check.parts.iter().take(MOST_PARTS) {
            let (b, a) = (with_error(p.before, p.before_se), with_error(p.after, p.after_se));
            let change = with_error(p.after - p.before, p.before_se.hypot(p.after_se));
            let _ = writeln!(text, "{:<8}  {b:<14}  {a:<14}  {change}", p.part);
        }
    }
    text
}

/// A board against a good one, takes of these names.
pub(super) fn against_good(found: &AgainstGood, [here, good]: [&str; 2]) -> String {
    let mut text = format!("Against a good board: {here} here, {good} on the good board\n\n");
    for told in found.told.iter().chain(&found.notes) {
        let _ = writeln!(text, "  {told}");
    }
    if !found.parts.is_empty() {
        let _ = writeln!(
            text,
            "\nMean rise over parts, {} (largest excess)\npart      here            good board      excess",
            unit(found.unit)
        );
        let more = found.parts.iter().filter(|p| p.more).count();
        for p in found.parts.iter().take(MOST_PARTS.max(more)) {
            let (h, g) = (with_error(p.here.value, p.here.se), with_error(p.good.value, p.good.se));
            let mark = if p.more { "  warms more" } else { "" };
            let excess = with_error(p.excess.value, p.excess.se);
            let _ = writeln!(text, "{:<8}  {h:<14}  {g:<14}  {excess:<14}{mark}", p.part);
        }
    }
    text
}
