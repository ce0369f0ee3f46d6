//! What to do about a leak of tens of ohms, which makes too little heat below the junctions.

/// A short below this shows itself at the first step of injection; above the other it is no leak that a camera finds.
pub const LEAK_OHMS: (f64, f64) = (8.0, 100.0);

/// Whether a resistance to ground is that of a leak.
pub fn is_leak(ohms: f64) -> bool {
    (LEAK_OHMS.0..=LEAK_OHMS.1).contains(&ohms)
}

/// Advice for a rail that reads `ohms` to ground: the most power that its nominal volts allow, and how to film so little.
/// `None` where the resistance is that of a short, of a healthy rail, or the nominal volts are unknown.
pub fn leakage_advice(nominal_volts: Option<f64>, ohms: f64) -> Option<String> {
    let volts = nominal_volts.map(f64::abs).filter(|v| *v > 0.0 && v.is_finite())?;
    if !is_leak(ohms) {
        return None;
    }
    let milliwatts = 1e3 * volts * volts / ohms;
    Some(format!(
        "{ohms:.0} ohm is a leak, not a short: at the rail's nominal {volts} V at most {} can flow into it, never more volts; \
         pulse the output key (some seconds on, some off, ten times or more) so that drift cancels, and film a good board at the \
         same volts, because at nominal volts healthy parts draw and warm too",
        if milliwatts < 1e3 { format!("{milliwatts:.0} mW") } else { format!("{:.1} W", milliwatts / 1e3) }
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_leak_gets_the_power_that_nominal_volts_allow() {
        // V^2/R: 3.3 V over 47 ohm is 232 mW, -12 V over 30 ohm is 4.8 W.
        assert!(leakage_advice(Some(3.3), 47.0).unwrap().contains("at most 232 mW"));
        assert!(leakage_advice(Some(-12.0), 30.0).unwrap().contains("at most 4.8 W"));
    }

    #[test]
    fn shorts_healthy_rails_and_unknown_rails_get_none() {
        assert_eq!(leakage_advice(Some(3.3), 0.2), None);
        assert_eq!(leakage_advice(Some(3.3), 1e6), None);
        assert_eq!(leakage_advice(None, 47.0), None);
        assert_eq!(leakage_advice(Some(3.3), f64::NAN), None);
    }
}
