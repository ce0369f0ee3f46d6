//! Are probabilities what they say? Ten bins of equally many boards, and the Brier score (Brier, Monthly Weather Review
//! 78 (1950) 1) of the first suspect being right.

use crate::record::Record;

const BINS: usize = 10;

/// Over all boards with a suspect; a suspect on a blank board is wrong.
pub fn print(records: &[Record]) {
    let mut named: Vec<(f64, bool)> =
        records.iter().filter_map(|r| Some((r.outcome.first_probability?, r.outcome.within(1)))).collect();
    if named.is_empty() {
        return;
    }
    named.sort_by(|a, b| a.0.total_cmp(&b.0));
    println!("\nfirst suspect's probability, {} boards with a suspect in ten bins of equal size", named.len());
    println!("{:>6} {:>8} {:>8} {:>8}", "boards", "mean p", "right", "off");
    let mut error = 0.0;
    for bin in 0..BINS {
        let part = &named[bin * named.len() / BINS..(bin + 1) * named.len() / BINS];
        if part.is_empty() {
            continue;
        }
        let n = part.len() as f64;
        let said = part.iter().map(|b| b.0).sum::<f64>() / n;
        let right = part.iter().filter(|b| b.1).count() as f64 / n;
        error += (said - right).abs() * n / named.len() as f64;
        println!("{:>6} {said:>8.3} {right:>8.3} {:>8.3}", part.len(), said - right);
    }
    let loss = |b: &(f64, bool)| (b.0 - f64::from(u8::from(b.1))).powi(2);
    let sum: f64 = named.iter().map(loss).sum();
    println!(
        "reliability error {error:.3}; Brier score {:.3} over boards with a suspect, {:.3} over all (no suspect: said 0)",
        sum / named.len() as f64,
        sum / records.len() as f64
    );
}
