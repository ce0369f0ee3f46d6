//! What a shop has found before on boards of the same model and rail, and how far it moves the priors of new suspects.
//!
//! Which part is the short is a draw from unknown shares. The shares of the table of kinds are a Dirichlet prior worth
//! [`TABLE_CASES`] cases; with the earlier cases counted in, the mean of the posterior is `(n_i + a_i) / (N + A)` (Gelman et al.,
//! Bayesian Data Analysis, 3rd ed., section 3.4, multinomial model). No count, however large, makes another part impossible.

use std::collections::BTreeMap;

/// How many earlier cases the table of kinds is worth: after ten cases the shop's own counts weigh as much as the table. A
/// choice, no published source.
pub const TABLE_CASES: f64 = 10.0;

/// Parts that were proven to be the fault in earlier cases of one board model and rail.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct EarlierCases {
    /// How many cases there were.
    pub cases: usize,
    /// The parts, by designator.
    pub parts: BTreeMap<String, EarlierPart>,
}

/// One part in earlier cases.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EarlierPart {
    /// Cases in which it was the fault, alone or with others.
    pub cases: usize,
    /// The same, each case shared evenly among its parts, so that all parts together make up the cases.
    pub share: f64,
}

impl EarlierCases {
    /// Counts cases, each given by its proven parts. Cases without any do not count.
    pub fn of<'a>(cases: impl IntoIterator<Item = &'a [String]>) -> Self {
        let mut earlier = Self::default();
        for parts in cases {
            let mut parts: Vec<&String> = parts.iter().collect();
            parts.sort();
            parts.dedup();
            if parts.is_empty() {
                continue;
            }
            earlier.cases += 1;
            for part in &parts {
                let counted = earlier.parts.entry((*part).clone()).or_default();
                counted.cases += 1;
                counted.share += 1.0 / parts.len() as f64;
            }
        }
        earlier
    }

    /// "7 of 9 earlier cases on this rail: C12"; `None` for a part that never was the fault.
    pub fn words(&self, part: &str) -> Option<String> {
        let found = self.parts.get(part)?;
        let cases = if self.cases == 1 { "case" } else { "cases" };
        Some(format!("{} of {} earlier {cases} on this rail: {part}", found.cases, self.cases))
    }

    /// The share of cases that a part had; 0 for one that never was the fault.
    pub(super) fn share(&self, part: &str) -> f64 {
        self.parts.get(part).map_or(0.0, |p| p.share)
    }
}

/// Mean of the Dirichlet posterior, in the order of `priors`: these are worth `strength` cases, and `counts` were seen. Where
/// the priors sum to 1, so does the result.
pub fn smoothed(priors: &[f64], counts: &[f64], strength: f64) -> Vec<f64> {
    let seen: f64 = counts.iter().sum();
    priors.iter().zip(counts).map(|(prior, count)| (count + strength * prior) / (seen + strength)).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// By hand: ten cases' worth of 0.5, 0.3, 0.2 and nine cases seen as 7, 2, 0: 12/19, 5/19, 2/19.
    #[test]
    fn the_mean_of_the_posterior_by_hand() {
        let found = smoothed(&[0.5, 0.3, 0.2], &[7.0, 2.0, 0.0], 10.0);
        for (found, wanted) in found.iter().zip([12.0 / 19.0, 5.0 / 19.0, 2.0 / 19.0]) {
            assert!((found - wanted).abs() < 1e-15, "{found} is not {wanted}");
        }
        assert_eq!(smoothed(&[0.5, 0.5], &[0.0, 0.0], 10.0), [0.5, 0.5], "nothing seen changes nothing");
    }

    #[test]
    fn cases_are_counted_once_and_shared_among_their_parts() {
        let case = |parts: &[&str]| parts.iter().map(|p| (*p).to_owned()).collect::<Vec<_>>();
        let cases = [case(&["C12"]), case(&["C12", "C13", "C12"]), case(&[]), case(&["U2"])];
        let earlier = EarlierCases::of(cases.iter().map(Vec::as_slice));
        assert_eq!(earlier.cases, 3);
        assert_eq!(earlier.parts["C12"], EarlierPart { cases: 2, share: 1.5 });
        assert_eq!(earlier.words("C12").as_deref(), Some("2 of 3 earlier cases on this rail: C12"));
        assert_eq!(earlier.words("C14"), None);
        let one = EarlierCases::of([case(&["U2"]).as_slice()]);
        assert_eq!(one.words("U2").as_deref(), Some("1 of 1 earlier case on this rail: U2"));
    }

    proptest! {
        #[test]
        fn probabilities_sum_to_one(
            pairs in proptest::collection::vec((1e-6_f64..1.0, 0_u32..50), 1..40),
            strength in 0.01_f64..1000.0,
        ) {
            let sum: f64 = pairs.iter().map(|p| p.0).sum();
            let priors: Vec<f64> = pairs.iter().map(|p| p.0 / sum).collect();
            let counts: Vec<f64> = pairs.iter().map(|p| f64::from(p.1)).collect();
            let found = smoothed(&priors, &counts, strength);
            prop_assert!((found.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            prop_assert!(found.iter().all(|p| *p > 0.0));
        }
    }
}
