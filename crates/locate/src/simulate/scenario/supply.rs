//! The bench supply: what it is set to, what then flows, and what it reads.

use joulemark_frames::{SupplyMode, Timeline};
use rand::{RngExt, rngs::ChaCha8Rng};

/// Settings of the supply and what hangs on it: leads, then the board, in series.
#[derive(Clone, Copy, Debug)]
pub struct Supply {
    /// Volts ceiling.
    pub set_volts: f64,
    /// Amps ceiling.
    pub set_amps: f64,
    /// Both leads together, ohms.
    pub lead_ohms: f64,
    /// What the rail shows towards ground, ohms.
    pub board_ohms: f64,
}

impl Supply {
    /// Amps that flow, and which ceiling holds them.
    pub fn amps(&self) -> (f64, SupplyMode) {
        let by_volts = self.set_volts / (self.lead_ohms + self.board_ohms);
        if by_volts > self.set_amps {
            (self.set_amps, SupplyMode::ConstantCurrent)
        } else {
            (by_volts, SupplyMode::ConstantVoltage)
        }
    }

    /// Fills in the readings: frames with `injecting` read volts at the supply and amps, the others an output that is
    /// off. The last digit (1 mV, 0.1 mA) flickers by one as on a bench supply.
    pub fn read_into(&self, timeline: &mut Timeline, rng: &mut ChaCha8Rng) {
        let (amps, mode) = self.amps();
        let volts = amps * (self.lead_ohms + self.board_ohms);
        for frame in 0..timeline.len() {
            let on = timeline.injecting[frame];
            let mut read = |value: f64, per_unit: f64| {
                let flicker = if on { rng.random_range(-1..=1) } else { 0 };
                ((value * per_unit).round() + f64::from(flicker)) / per_unit
            };
            timeline.volts[frame] = Some(if on { read(volts, 1e3) } else { 0.0 });
            timeline.amps[frame] = Some(if on { read(amps, 1e4) } else { 0.0 });
            timeline.set_volts[frame] = Some(self.set_volts);
            timeline.set_amps[frame] = Some(self.set_amps);
            timeline.mode[frame] = on.then_some(mode);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published check, section 8 "Joule and division": 1 V through 0.08 ohm lead and 0.05 ohm short: 7.692308 A, 2.958580 W
    /// in the short; limits of 1, 2, 3 A: 0.05, 0.2, 0.45 W.
    #[test]
    fn ohms_law_holds() {
        let supply = |set_amps| Supply { set_volts: 1.0, set_amps, lead_ohms: 0.08, board_ohms: 0.05 };
        let (amps, mode) = supply(20.0).amps();
        assert!((amps - 7.692308).abs() < 1e-6 && mode == SupplyMode::ConstantVoltage);
        assert!((amps * amps * 0.05 - 2.958580).abs() < 1e-6);
        for (set, watts) in [(1.0, 0.05), (2.0, 0.2), (3.0, 0.45)] {
            let (amps, mode) = supply(set).amps();
            assert!((amps * amps * 0.05 - watts).abs() < 1e-12 && mode == SupplyMode::ConstantCurrent);
        }
    }
}
