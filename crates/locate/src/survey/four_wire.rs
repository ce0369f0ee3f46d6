//! Low resistance with four wires and the current reversed: thermal voltages and the meter's zero drop out.

/// What two readings with opposite current say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reversed {
    /// Resistance in ohms, `(V+ - V-) / 2I`.
    pub ohms: f64,
    /// What does not depend on the current, in volts, `(V+ + V-) / 2`: thermal voltages and the meter's zero.
    pub offset_volts: f64,
}

/// Resistance from the volts with the current one way and the other. Standard practice for low ohms.
///
/// # Errors
/// One line when the current is not above zero, a value is not finite, or the volts did not follow the current.
pub fn reversed(plus_volts: f64, minus_volts: f64, amps: f64) -> Result<Reversed, String> {
    if !(amps.is_finite() && amps > 0.0) {
        return Err("current: type the amps of one direction, above zero".into());
    }
    if !(plus_volts.is_finite() && minus_volts.is_finite()) {
        return Err("volts: type both readings as numbers".into());
    }
    let ohms = (plus_volts - minus_volts) / (2.0 * amps);
    if ohms < 0.0 {
        return Err("the volts fell when the current rose: exchange the two readings, or the sense leads".into());
    }
    Ok(Reversed { ohms, offset_volts: 0.5 * (plus_volts + minus_volts) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worked_example_of_low_ohm_practice() {
        // Standard low-ohm practice (current reversal), worked by hand: +5.012 mV and -4.988 mV at 0.1 A are 0.0500 ohm with
        // an offset of 12.0 uV; the first reading alone would say 0.05012 ohm.
        let read = reversed(5.012e-3, -4.988e-3, 0.1).expect("a value");
        assert!((read.ohms - 0.0500).abs() < 1e-12, "{read:?}");
        assert!((read.offset_volts - 12.0e-6).abs() < 1e-12, "{read:?}");
        assert!((5.012e-3 / 0.1 - 0.05012_f64).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        for (plus, minus, amps) in
            [(1e-3, -1e-3, 0.0), (1e-3, -1e-3, f64::NAN), (f64::NAN, 0.0, 1.0), (-1e-3, 1e-3, 1.0)]
        {
            assert_eq!(reversed(plus, minus, amps).expect_err("no value").lines().count(), 1);
        }
    }
}
