//! The tables that are printed.

use std::collections::BTreeSet;

use joulemark_locate::simulate::proving::{Kind, Tier};

use crate::record::Record;

/// A suspect counts as an alarm from this probability on.
pub const ALARM: f64 = 0.2;

/// Per tier and picture size: how often the fault is first, among the first three, missed; what is found besides.
pub fn tiers(records: &[Record]) {
    println!(
        "{:<16} {:<9} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7} {:>8} {:>8} {:>6} {:>6}",
        "tier",
        "picture",
        "boards",
        "first",
        "in 3",
        "missed",
        "false",
        "last fr",
        "differ.",
        "off px",
        "off mm",
        "sim s",
        "loc s"
    );
    for kind in Tier::ALL.map(Kind::Tier) {
        let name = kind.to_string();
        let of_tier: Vec<&Record> = records.iter().filter(|r| r.kind == name).collect();
        let sizes: BTreeSet<(usize, String)> = of_tier.iter().map(|r| (r.width_px, r.size())).collect();
        for (_, size) in &sizes {
            let of_size: Vec<&Record> = of_tier.iter().copied().filter(|r| r.size() == *size).collect();
            line(&name, size, &of_size);
        }
        if sizes.len() > 1 {
            line(&name, "all", &of_tier);
        }
    }
    for record in records.iter().filter(|r| r.error.is_some()) {
        println!("{} #{}: {}", record.kind, record.seed, record.error.as_deref().unwrap_or_default());
    }
}

fn line(name: &str, size: &str, records: &[&Record]) {
    let share = |is: &dyn Fn(&Record) -> bool| {
        format!("{:.1}", 100.0 * records.iter().filter(|r| is(r)).count() as f64 / records.len() as f64)
    };
    let mean = |value: &dyn Fn(&Record) -> f64| records.iter().map(|r| value(r)).sum::<f64>() / records.len() as f64;
    let faulty = records.iter().any(|r| !r.blank());
    let only = |text: String| if faulty { text } else { "-".into() };
    let named = |part: &Option<String>, record: &Record| part.is_some() && *part == record.truth;
    println!(
        "{name:<16} {size:<9} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7} {:>8} {:>8} {:>6.2} {:>6.2}",
        records.len(),
        only(share(&|r| r.within(1))),
        only(share(&|r| r.within(3))),
        only(share(&|r| r.first.is_none())),
        share(&|r| r.false_spots > 0 || (r.blank() && r.most_probability >= ALARM)),
        only(share(&|r| named(&r.last_frame, r))),
        only(share(&|r| named(&r.difference, r))),
        only(median(records.iter().filter_map(|r| r.off_px))),
        only(median(records.iter().filter_map(|r| r.off_mm))),
        mean(&|r| r.simulate_s),
        mean(&|r| r.locate_s),
    );
}

fn median(values: impl Iterator<Item = f64>) -> String {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).map_or("-".into(), |v| format!("{v:.2}"))
}

/// Every board that went wrong, one line each.
pub fn failures(records: &[Record]) {
    for r in records.iter().filter(|r| if r.blank() { r.hot_spots > 0 } else { !r.within(1) || r.false_spots > 0 }) {
        println!(
            "{} #{} {} {:.0} Hz {}+{} frames, {:.0} mK noise, blur {:.1} px, {:.3} K, {:.2} mm/px, gap {:.2} mm: {} named {} \
             ({:.2}), rank {}, {} spots ({} false), {} px {} mm off",
            r.kind,
            r.seed,
            r.size(),
            r.rate_hz,
            r.frames_before,
            r.frames_during,
            1e3 * r.netd_k,
            r.blur_px,
            r.size_k,
            r.mm_per_px,
            r.gap_mm.unwrap_or(f64::NAN),
            r.truth.as_deref().unwrap_or("nothing"),
            r.first.as_deref().unwrap_or("nothing"),
            r.first_probability.unwrap_or(0.0),
            r.rank.map_or("-".into(), |rank| rank.to_string()),
            r.hot_spots,
            r.false_spots,
            r.off_px.map_or("-".into(), |v| format!("{v:.1}")),
            r.off_mm.map_or("-".into(), |v| format!("{v:.2}")),
        );
    }
}
