//! From logarithms of Bayes factors to probabilities that can be taken at their word.
//!
//! Position and templates see the same photons, and neither knows everything that can go wrong. Three numbers make up for it: how
//! much of each logarithm counts, and what is kept for a part nearby that both are wrong about. They were fitted by
//! `cargo run --release -p joulemark-locate --example calibrate`, on simulated boards that no test uses (see docs/proving.md).

/// Parts within this distance of a spot share the floor, besides something off the drawing.
const FLOOR_MM: f64 = 4.0;
/// What the templates say against a part counts no further than this.
const LEAST_LOG: f64 = -60.0;

/// The three numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    /// How much of the position's logarithm counts where templates were fitted; without them all of it does.
    pub position: f64,
    /// How much of the templates' logarithm counts.
    pub templates: f64,
    /// Share of probability that goes to parts nearby by their prior alone.
    pub floor: f64,
}

/// Both shares as fitted, rounded, on 683 boards. Simulated boards asked for no floor (under one in a million); the one here is a choice, for
/// what no simulator knows: wrong drawings, exchanged parts.
impl Default for Calibration {
    fn default() -> Self {
        Self { position: 0.8, templates: 0.1, floor: 0.002 }
    }
}

/// What is known of one hypothesis for one hot spot, before it is weighed against the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Considered {
    /// Designators: one part, two that make the spot together, or none for something off the drawing.
    pub parts: Vec<String>,
    /// Prior weight.
    pub prior: f64,
    /// Distance of the hot spot's centre from the footprint; zero inside, and for something off the drawing.
    pub distance_mm: f64,
    /// Natural logarithm of the Bayes factor of the position, against anywhere on the board.
    pub log_position: f64,
    /// The same of the joint template fit, against the best hypothesis; `None` where no templates were fitted at all.
    pub log_template: Option<f64>,
}

/// Probabilities of the hypotheses for one hot spot, in their order; they sum to 1.
pub fn probabilities(considered: &[Considered], calibration: &Calibration) -> Vec<f64> {
    let logs: Vec<f64> = considered.iter().map(|c| c.prior.ln() + evidence(c, calibration)).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weighed = shares(&logs.iter().map(|log| (log - most).exp()).collect::<Vec<_>>());
    let nearby = |c: &Considered| if c.distance_mm <= FLOOR_MM { c.prior } else { 0.0 };
    let floor = shares(&considered.iter().map(nearby).collect::<Vec<_>>());
    weighed.iter().zip(floor).map(|(w, f)| (1.0 - calibration.floor) * w + calibration.floor * f).collect()
}

fn evidence(considered: &Considered, calibration: &Calibration) -> f64 {
    considered.log_template.map_or(considered.log_position, |template| {
        calibration.position * considered.log_position + calibration.templates * template.max(LEAST_LOG)
    })
}

fn shares(weights: &[f64]) -> Vec<f64> {
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|w| if sum > 0.0 { w / sum } else { 0.0 }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(prior: f64, log_position: f64, log_template: Option<f64>) -> Considered {
        Considered { parts: vec!["C1".into()], prior, distance_mm: 1.0, log_position, log_template }
    }

    /// By hand: weights 0.2 e^1 and 0.1 e^2 without templates; with templates at shares 0.5 and 0.25, 0.2 e^(0.5 - 1) and
    /// 0.1 e^(1 + 0); then a tenth by priors 2 : 1.
    #[test]
    fn probabilities_by_hand() {
        let calibration = Calibration { position: 0.5, templates: 0.25, floor: 0.0 };
        let found = probabilities(&[part(0.2, 1.0, None), part(0.1, 2.0, None)], &calibration);
        let wanted = 0.2 * 1.0_f64.exp() / (0.2 * 1.0_f64.exp() + 0.1 * 2.0_f64.exp());
        assert!((found[0] - wanted).abs() < 1e-12 && (found[1] - (1.0 - wanted)).abs() < 1e-12, "{found:?}");
        let both = [part(0.2, 1.0, Some(-4.0)), part(0.1, 2.0, Some(0.0))];
        let found = probabilities(&both, &calibration);
        let wanted = 0.2 * (-0.5_f64).exp() / (0.2 * (-0.5_f64).exp() + 0.1 * 1.0_f64.exp());
        assert!((found[0] - wanted).abs() < 1e-12, "{found:?}");
        let floored = probabilities(&both, &Calibration { floor: 0.1, ..calibration });
        assert!((floored[0] - (0.9 * wanted + 0.1 * 2.0 / 3.0)).abs() < 1e-12, "{floored:?}");
    }
}
