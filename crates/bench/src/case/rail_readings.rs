//! Readings of the case as the engine takes them, and what they say of a rail at one stage of the work.

use joulemark_locate::readings::{Measured, NetOhms, Polarity, Reading, Return, Shown};

use super::{
    Case,
    books::Books,
    reading::{Quantity, ReadingEntry},
};

impl From<&ReadingEntry> for Reading {
    fn from(entry: &ReadingEntry) -> Self {
        let value = Shown::from(entry.value);
        Self {
            rail: entry.rail.clone(),
            against: if entry.against.is_empty() { Return::Ground } else { Return::Rail(entry.against.clone()) },
            measured: match entry.quantity {
                Quantity::Ohms => Measured::Ohms(value),
                Quantity::DiodeRedOnGround => Measured::Diode(Polarity::RedOnGround, value),
                Quantity::DiodeRedOnRail => Measured::Diode(Polarity::BlackOnGround, value),
                Quantity::Volts => Measured::Volts(value),
            },
            face: entry.face.clone(),
            after: entry.after,
            good_board: entry.good_board,
            meter_lead_ohms: entry.meter_lead_ohms,
        }
    }
}

impl Case {
    /// Readings of a rail to ground on this device, at the latest stage that has any and is not later than `until`.
    pub fn latest_to_ground(&self, rail: &str, quantity: Quantity, until: u32) -> Vec<&ReadingEntry> {
        let here = |r: &&ReadingEntry| {
            r.rail == rail && r.against.is_empty() && r.quantity == quantity && !r.good_board && r.after <= until
        };
        let last = self.readings.iter().filter(here).map(|r| r.after).max();
        self.readings.iter().filter(here).filter(|r| Some(r.after) == last).collect()
    }

    /// Ohms of a rail to ground, meter leads taken off, after no more than `until` interventions (`u32::MAX` for the latest); the
    /// lowest where several were taken.
    pub fn net_ohms(&self, rail: &str, until: u32) -> Option<NetOhms> {
        let doubt = Books::in_force().ranges.leads;
        let readings = self.latest_to_ground(rail, Quantity::Ohms, until);
        let net = readings.into_iter().filter_map(|entry| Reading::from(entry).net_ohms(&doubt));
        net.min_by(|a, b| a.ohms.total_cmp(&b.ohms))
    }

    /// Its diode reading in volts, red on ground.
    pub fn diode_volts(&self, rail: &str, until: u32) -> Option<f64> {
        self.latest_to_ground(rail, Quantity::DiodeRedOnGround, until)
            .into_iter()
            .filter_map(|r| r.value)
            .reduce(f64::min)
    }

    /// Whether its ohms were read as open at that stage.
    pub fn reads_open(&self, rail: &str, until: u32) -> bool {
        let readings = self.latest_to_ground(rail, Quantity::Ohms, until);
        !readings.is_empty() && readings.iter().all(|r| r.value.is_none())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(quantity: Quantity, value: Option<f64>, after: u32) -> ReadingEntry {
        ReadingEntry {
            rail: "V12".into(),
            quantity,
            value,
            after,
            meter_lead_ohms: Some(0.1),
            ..ReadingEntry::default()
        }
    }

    #[test]
    fn each_stage_has_its_own_readings() {
        let case = Case {
            readings: vec![
                entry(Quantity::Ohms, Some(0.5), 0),
                entry(Quantity::Ohms, Some(0.4), 0),
                entry(Quantity::Ohms, None, 2),
                entry(Quantity::DiodeRedOnGround, Some(0.004), 0),
                entry(Quantity::DiodeRedOnGround, Some(0.35), 2),
                ReadingEntry { good_board: true, ..entry(Quantity::Ohms, Some(0.1), 2) },
            ],
            ..Case::default()
        };
        let ohms = |until| case.net_ohms("V12", until).map(|n| n.ohms);
        // The lower of two, leads of 0.1 ohm taken off.
        assert!((ohms(0).unwrap() - 0.3).abs() < 1e-12 && (ohms(1).unwrap() - 0.3).abs() < 1e-12);
        assert_eq!(ohms(2), None);
        assert!(case.reads_open("V12", 2) && !case.reads_open("V12", 1));
        assert_eq!((case.diode_volts("V12", 1), case.diode_volts("V12", 9)), (Some(0.004), Some(0.35)));
        assert_eq!(case.net_ohms("V5", 9), None);
    }
}
