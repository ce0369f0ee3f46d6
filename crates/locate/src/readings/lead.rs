//! Taking the meter's own leads off a resistance. What is left near zero is mostly doubt, and is given as such.

use serde::{Deserialize, Serialize};

/// How far leads and contacts can be trusted. Common practice, no published source; the shop changes it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LeadDoubt {
    /// Ohms either way that contacts and the last figure leave, once the leads were measured.
    pub contact_ohms: f64,
    /// Ohms that leads may have when nobody measured them.
    pub unknown_lead_ohms: f64,
}

impl Default for LeadDoubt {
    fn default() -> Self {
        Self { contact_ohms: 0.05, unknown_lead_ohms: 0.5 }
    }
}

/// Ohms of the board alone.
#[derive(Clone, Debug, PartialEq)]
pub struct NetOhms {
    /// Best value; never negative.
    pub ohms: f64,
    /// At least this; never negative.
    pub low_ohms: f64,
    /// At most this.
    pub high_ohms: f64,
    /// What the reader should know, where there is something.
    pub note: Option<String>,
}

impl LeadDoubt {
    /// Takes leads of `lead_ohms` off what the display said. Unknown leads are not guessed: the value stays as it was
    /// and the doubt reaches down.
    pub fn net(&self, displayed_ohms: f64, lead_ohms: Option<f64>) -> NetOhms {
        let displayed_ohms = displayed_ohms.max(0.0);
        let Some(lead_ohms) = lead_ohms else {
            let low_ohms = (displayed_ohms - self.unknown_lead_ohms).max(0.0);
            // Far above the leads nobody needs to be told of them.
            let matters = self.unknown_lead_ohms > 0.1 * displayed_ohms;
            let note =
                matters.then(|| "the leads are in it: short their tips and type what the meter shows".to_owned());
            return NetOhms { ohms: displayed_ohms, low_ohms, high_ohms: displayed_ohms + self.contact_ohms, note };
        };
        let net = displayed_ohms - lead_ohms;
        let ohms = net.max(0.0);
        let (low_ohms, high_ohms) = ((net - self.contact_ohms).max(0.0), ohms + self.contact_ohms);
        let note = if net < 0.0 {
            Some(format!("less than the leads alone ({lead_ohms} ohms): taken as zero, measure the leads again"))
        } else if self.contact_ohms > 0.5 * ohms {
            Some("no more than the contacts leave in doubt: a millivolt survey tells more".to_owned())
        } else {
            None
        };
        NetOhms { ohms, low_ohms, high_ohms, note }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn leads_are_taken_off_and_what_is_left_is_in_doubt() {
        let net = LeadDoubt::default().net(0.35, Some(0.15));
        assert!((net.ohms - 0.2).abs() < 1e-12 && (net.low_ohms - 0.15).abs() < 1e-12, "{net:?}");
        assert!((net.high_ohms - 0.25).abs() < 1e-12 && net.note.is_none(), "{net:?}");
    }

    #[test]
    fn less_than_the_leads_is_zero_and_says_so() {
        let net = LeadDoubt::default().net(0.1, Some(0.2));
        assert_eq!((net.ohms, net.low_ohms, net.high_ohms), (0.0, 0.0, 0.05));
        assert!(net.note.expect("a note").contains("measure the leads again"));
    }

    #[test]
    fn unknown_leads_reach_down_and_matter_only_near_zero() {
        let near = LeadDoubt::default().net(0.4, None);
        assert_eq!((near.ohms, near.low_ohms), (0.4, 0.0));
        assert!(near.note.is_some());
        assert_eq!(LeadDoubt::default().net(4700.0, None).note, None);
    }

    proptest! {
        #[test]
        fn the_value_lies_within_its_doubt(shown in 0.0_f64..1e7, lead in proptest::option::of(0.0_f64..2.0)) {
            let net = LeadDoubt::default().net(shown, lead);
            prop_assert!(0.0 <= net.low_ohms && net.low_ohms <= net.ohms && net.ohms <= net.high_ohms);
            prop_assert!(net.ohms <= shown);
        }
    }
}
