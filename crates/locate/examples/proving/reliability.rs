//! Are probabilities what they say? Ten bins of equally many boards, and the Brier score (Brier, Monthly Weather Review
//! 78 (1950) 1) of the first suspect being right.

use crate::record::Record;

const BINS: usize = 10;

/// Probability of the first suspect and whether it is right, in rising order; a suspect on a blank board is wrong.
fn named(records: &[Record]) -> Vec<(f64, bool)> {
    let mut named: Vec<(f64, bool)> =
        records.iter().filter_map(|r| Some((r.outcome.first_probability?, r.outcome.within(1)))).collect();
    named.sort_by(|a, b| a.0.total_cmp(&b.0));
    named
}

/// Per bin: boards, mean probability, share that is right.
fn bins(named: &[(f64, bool)]) -> Vec<(usize, f64, f64)> {
    (0..BINS)
        .map(|bin| &named[bin * named.len() / BINS..(bin + 1) * named.len() / BINS])
        .filter(|part| !part.is_empty())
        .map(|part| {
            let n = part.len() as f64;
            let right = part.iter().filter(|b| b.1).count() as f64;
            (part.len(), part.iter().map(|b| b.0).sum::<f64>() / n, right / n)
        })
        .collect()
}

/// Reliability error (mean distance of said from right over the bins) and Brier score, over all boards with a suspect.
pub fn figures(records: &[Record]) -> Option<(f64, f64)> {
    let named = named(records);
    if named.is_empty() {
        return None;
    }
    let n = named.len() as f64;
    let error = bins(&named).iter().map(|(count, said, right)| (said - right).abs() * *count as f64 / n).sum();
    let brier = named.iter().map(|b| (b.0 - f64::from(u8::from(b.1))).powi(2)).sum::<f64>() / n;
    Some((error, brier))
}

/// The bins.
pub fn print(records: &[Record]) {
    let named = named(records);
    println!("\nfirst suspect's probability, {} boards with a suspect in ten bins of equal size", named.len());
    println!("{:>6} {:>8} {:>8} {:>8}", "boards", "mean p", "right", "off");
    for (count, said, right) in bins(&named) {
        println!("{count:>6} {said:>8.3} {right:>8.3} {:>8.3}", said - right);
    }
}
