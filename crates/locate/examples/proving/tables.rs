//! The tables that are printed.

use std::collections::{BTreeMap, BTreeSet};

use joulemark_locate::simulate::proving::{Kind, Tier};

use crate::{
    job::SWITCHES,
    record::{ALARM, Outcome, Record},
};

/// Per tier and picture size: how often the fault is first, among the first three, missed; what is found besides.
pub fn tiers(records: &[Record]) {
    println!(
        "{:<16} {:<18} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7} {:>7} {:>7} {:>6} {:>6}",
        "tier",
        "boards with",
        "boards",
        "first",
        "in 3",
        "missed",
        "false",
        "last fr",
        "differ",
        "off px",
        "off mm",
        "sim s",
        "loc s"
    );
    for kind in Tier::ALL.map(Kind::Tier) {
        let name = kind.to_string();
        let of_tier: Vec<&Record> = records.iter().filter(|r| r.kind == name).collect();
        let pick = |is: &dyn Fn(&Record) -> bool| of_tier.iter().copied().filter(|r| is(r)).collect::<Vec<_>>();
        let sizes: BTreeSet<(usize, String)> = of_tier.iter().map(|r| (r.width_px, r.size())).collect();
        for (_, size) in &sizes {
            line(&name, size, &pick(&|r| r.size() == *size));
        }
        let gap_px = |r: &Record| r.gap_mm.map(|gap| gap / r.mm_per_px);
        line(&name, "gap under 2 px", &pick(&|r| gap_px(r).is_some_and(|gap| gap < 2.0)));
        line(&name, "gap of 2 px or more", &pick(&|r| gap_px(r).is_some_and(|gap| gap >= 2.0)));
        line(&name, "noise up to 50 mK", &pick(&|r| !r.blank() && r.netd_k <= 0.05));
        line(&name, "all", &of_tier);
    }
    let least_1_k: Vec<&Record> = records.iter().filter(|r| r.size_k >= 1.0).collect();
    line("1 K and more", "all", &least_1_k);
    println!(
        "shares in per cent; false: of boards with a hot spot that no true source explains; off: median of the first spot"
    );
}

fn line(name: &str, which: &str, records: &[&Record]) {
    if records.is_empty() {
        return;
    }
    let mean = |value: &dyn Fn(&Record) -> f64| records.iter().map(|r| value(r)).sum::<f64>() / records.len() as f64;
    let faulty = records.iter().any(|r| !r.blank());
    let only = |text: String| if faulty { text } else { "-".into() };
    println!(
        "{name:<16} {which:<18} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7} {:>7} {:>7} {:>6.2} {:>6.2}",
        records.len(),
        only(share(records, |r| r.outcome.within(1))),
        only(share(records, |r| r.outcome.within(3))),
        only(share(records, |r| r.outcome.first.is_none())),
        share(records, |r| r.outcome.false_spots > 0),
        only(share(records, |r| named(&r.last_frame, r))),
        only(share(records, |r| named(&r.difference, r))),
        only(median(records.iter().filter_map(|r| r.outcome.off_px))),
        only(median(records.iter().filter_map(|r| r.outcome.off_mm))),
        mean(&|r| r.simulate_s),
        mean(&|r| r.locate_s),
    );
}

fn named(part: &Option<String>, record: &Record) -> bool {
    part.is_some() && *part == record.truth
}

fn share(records: &[&Record], is: impl Fn(&Record) -> bool) -> String {
    format!("{:.1}", 100.0 * records.iter().filter(|r| is(r)).count() as f64 / records.len() as f64)
}

fn median(values: impl Iterator<Item = f64>) -> String {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).map_or("-".into(), |v| format!("{v:.2}"))
}

/// Records by kind, in the order in which kinds first come.
fn by_kind(records: &[Record]) -> Vec<(&str, Vec<&Record>)> {
    let mut kinds: Vec<(&str, Vec<&Record>)> = Vec::new();
    for record in records {
        match kinds.iter_mut().find(|(name, _)| *name == record.kind) {
            Some((_, list)) => list.push(record),
            None => kinds.push((&record.kind, vec![record])),
        }
    }
    kinds
}

fn count(records: &[&Record], is: impl Fn(&Record) -> bool) -> usize {
    records.iter().filter(|r| is(r)).count()
}

/// Per nuisance: blank boards that get a hot spot or a suspect, by what the log shows.
pub fn blanks(records: &[Record]) {
    println!(
        "\n{:<34} {:>6} {:>9} {:>9} {:>6} {:>15} {:>13}",
        "blank boards (numbers, not shares)",
        "boards",
        "hot spot",
        "suspect",
        "either",
        "of log: shorted",
        "of log: open"
    );
    for (kind, list) in by_kind(records) {
        println!(
            "{kind:<34} {:>6} {:>9} {:>9} {:>6} {:>8} in {:>3} {:>6} in {:>3}",
            list.len(),
            count(&list, |r| r.outcome.hot_spots > 0),
            count(&list, |r| r.outcome.most_probability >= ALARM),
            count(&list, |r| r.outcome.alarm()),
            count(&list, |r| r.outcome.alarm() && r.shorted_log),
            count(&list, |r| r.shorted_log),
            count(&list, |r| r.outcome.alarm() && !r.shorted_log),
            count(&list, |r| !r.shorted_log),
        );
    }
    println!(
        "a suspect counts from {ALARM} on; half of the logs show the current of a short that is not in the picture"
    );
}

/// Per disturbance: whether the fault is still named, and how often the disturbance is blamed instead.
pub fn disturbances(records: &[Record]) {
    println!(
        "\n{:<34} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7} {:>7}  repairs that acted",
        "faults of 0.5 to 5 K", "boards", "first", "in 3", "missed", "false", "blamed", "last fr", "differ"
    );
    for (kind, list) in by_kind(records) {
        let mut acted: BTreeMap<&str, usize> = BTreeMap::new();
        for what in list.iter().flat_map(|r| &r.outcome.repairs) {
            *acted.entry(what).or_default() += 1;
        }
        let acted: Vec<String> = acted.iter().map(|(what, n)| format!("{what} {n}")).collect();
        println!(
            "{kind:<34} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7} {:>7}  {}",
            list.len(),
            share(&list, |r| r.outcome.within(1)),
            share(&list, |r| r.outcome.within(3)),
            share(&list, |r| r.outcome.first.is_none()),
            share(&list, |r| r.outcome.false_spots > 0),
            share(&list, |r| r.outcome.blames),
            share(&list, |r| named(&r.last_frame, r)),
            share(&list, |r| named(&r.difference, r)),
            acted.join(", ")
        );
    }
    println!("blamed: the first suspect lies on the disturbance, per cent");
}

/// Shiny culprits and warm tracks.
pub fn special(records: &[Record]) {
    println!();
    for (kind, list) in by_kind(records) {
        println!(
            "{kind}: {} boards, first {} %, in the first three {} %, in the first three or named in a warning {} %, before \
             every other part along the track {} %, missed {} %",
            list.len(),
            share(&list, |r| r.outcome.within(1)),
            share(&list, |r| r.outcome.within(3)),
            share(&list, |r| r.outcome.within(3) || r.outcome.warned),
            share(&list, |r| r.outcome.end_above_path),
            share(&list, |r| r.outcome.first.is_none()),
        );
    }
}

/// Each repair off in turn: false alarms on blanks, faults named first and missed, disturbances blamed.
pub fn ablation(records: &[Record]) {
    println!("\nablation: each repair off in turn, difference to all on, in boards");
    print!("{:<34} {:>6} {:<9} {:>6}", "kind", "boards", "counted", "all on");
    for (name, _) in SWITCHES {
        print!(" {name:>12}");
    }
    println!();
    for (kind, list) in by_kind(records) {
        let row = |what: &str, is: fn(&Outcome) -> bool| {
            let on = count(&list, |r| is(&r.outcome));
            print!("{kind:<34} {:>6} {what:<9} {on:>6}", list.len());
            for (name, _) in SWITCHES {
                let off = count(&list, |r| r.without.get(name).is_some_and(is));
                print!(" {:>+12}", off as i64 - on as i64);
            }
            println!();
        };
        if list.iter().all(|r| r.blank()) {
            row("alarms", Outcome::alarm);
        } else {
            row("first", |o| o.within(1));
            row("false", |o| o.false_spots > 0);
        }
        if kind.starts_with("disturbed") {
            row("blamed", |o| o.blames);
        }
    }
}

/// What could not be located at all.
pub fn errors(records: &[Record]) {
    for record in records {
        if let Some(error) = &record.error {
            println!("{} #{}: {error}", record.kind, record.seed);
        }
    }
}

/// Every board that went wrong, one line each.
pub fn failures(records: &[Record]) {
    let wrong = |r: &&Record| {
        if r.blank() { r.outcome.alarm() } else { !r.outcome.within(1) || r.outcome.false_spots > 0 }
    };
    for r in records.iter().filter(wrong) {
        let o = &r.outcome;
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
            o.first.as_deref().unwrap_or("nothing"),
            o.first_probability.unwrap_or(0.0),
            o.rank.map_or("-".into(), |rank| rank.to_string()),
            o.hot_spots,
            o.false_spots,
            o.off_px.map_or("-".into(), |v| format!("{v:.1}")),
            o.off_mm.map_or("-".into(), |v| format!("{v:.2}")),
        );
    }
}
