//! As few sources as explain the picture: added one at a time, taken out again where they no longer pay.
//!
//! Neighbouring parts warm the board almost alike, so plain least squares spreads one part's watts over its neighbours to
//! mend small faults of the templates. Each source has to pay for itself instead (orthogonal matching pursuit: Pati, Rezaiifar &
//! Krishnaprasad, Asilomar Conf. 1993, 40, here with groups of non-negative columns).

use super::equations::Reduced;

/// Most sources.
const MOST_SOURCES: usize = 10;
/// Candidates looked at in full per round, by the size of their gradient.
const LOOKED_AT: usize = 8;

/// Groups of columns with what entering costs, in units of the residuals' variance.
pub(super) struct Group {
    pub(super) columns: Vec<usize>,
    pub(super) cost: f64,
    /// And as a share of what all sources so far explain: faults of the templates grow with what they explain.
    pub(super) share: f64,
}

impl Group {
    fn cost(&self, explained: f64, variance: f64) -> f64 {
        (self.cost * variance).max(self.share * explained)
    }
}

/// Indices of the groups that take watts, in the order in which they entered.
pub(super) fn select(reduced: &Reduced, groups: &[Group], variance: f64) -> Vec<usize> {
    let mut chosen: Vec<usize> = Vec::new();
    let columns =
        |chosen: &[usize]| -> Vec<usize> { chosen.iter().flat_map(|&g| groups[g].columns.iter().copied()).collect() };
    let mut now = reduced.square;
    while chosen.len() < MOST_SOURCES {
        let solution = reduced.solve_among(&columns(&chosen));
        let gradient = &reduced.moment - &reduced.gram * &solution.watts;
        let promise = |g: &usize| {
            groups[*g]
                .columns
                .iter()
                .map(|&i| gradient[i].max(0.0).powi(2) / reduced.gram[(i, i)].max(f64::MIN_POSITIVE))
                .fold(0.0, f64::max)
        };
        let mut open: Vec<usize> = (0..groups.len()).filter(|g| !chosen.contains(g)).collect();
        open.sort_by(|a, b| promise(b).total_cmp(&promise(a)));
        let best = open
            .iter()
            .take(LOOKED_AT)
            .map(|&g| {
                let mut with = chosen.clone();
                with.push(g);
                let chi_square = reduced.solve_among(&columns(&with)).chi_square;
                (g, chi_square, now - chi_square - groups[g].cost(reduced.square - chi_square, variance))
            })
            .max_by(|a, b| a.2.total_cmp(&b.2));
        let Some((g, chi_square, _)) = best.filter(|b| b.2 > 0.0) else { break };
        chosen.push(g);
        now = chi_square;
        // What no longer pays leaves, the newest aside.
        while let Some((place, without)) = chosen[..chosen.len() - 1]
            .iter()
            .enumerate()
            .map(|(place, &g)| {
                let rest: Vec<usize> = chosen.iter().copied().filter(|c| *c != g).collect();
                (place, reduced.solve_among(&columns(&rest)).chi_square)
            })
            .find(|(place, without)| without - now < groups[chosen[*place]].cost(reduced.square - now, variance))
        {
            chosen.remove(place);
            now = without;
        }
    }
    chosen
}
