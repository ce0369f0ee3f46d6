//! What healthy rails read. Data, not code: `assets/rules/typical_readings.ron`, over which a shop lays its own file.

use serde::{Deserialize, Serialize};

use super::{LeadDoubt, RailFacts, RailUse};

/// The file that comes with the program, to be parsed by the caller (implicit `Some`).
pub const TYPICAL_READINGS_RON: &str = include_str!("../../../../assets/rules/typical_readings.ron");

/// A range; open upwards where `to` is left out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Lowest usual value, ohms or volts.
    pub from: f64,
    /// Highest usual value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<f64>,
}

impl Span {
    /// The smallest range that holds both.
    pub fn joined(self, other: Self) -> Self {
        Self { from: self.from.min(other.from), to: self.to.zip(other.to).map(|(a, b)| a.max(b)) }
    }
}

/// What is usual for one kind of rail.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// Its name; a shop's band takes the place of the one with the same name.
    pub name: String,
    /// The rails that it is for.
    pub used_for: RailUse,
    /// Nominal volts from here, sign left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_volts: Option<f64>,
    /// Nominal volts below this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_volts: Option<f64>,
    /// Usual ohms to ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ohms: Option<Span>,
    /// Shorted below this many ohms; never given for cores.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shorted_below_ohms: Option<f64>,
    /// Usual diode reading, red on ground, in volts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diode_volts: Option<Span>,
    /// Shorted below this diode reading, in volts; never given for cores.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shorted_below_diode_volts: Option<f64>,
    /// Where the numbers come from.
    pub source: String,
}

/// How far from a good board's reading still counts as like it. Common practice, no published source.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LikeGoodBoard {
    /// Factor on ohms, either way.
    pub ohms_factor: f64,
    /// Volts either way on a diode reading.
    pub diode_volts: f64,
}

/// All that is usual.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TypicalRanges {
    /// How far leads and contacts can be trusted.
    pub leads: LeadDoubt,
    /// Two rails that no part joins are shorted to each other below this.
    pub shorted_between_ohms: f64,
    /// What counts as like a good board.
    pub like_good_board: LikeGoodBoard,
    /// Share of nominal by which the volts of a working rail may be off.
    pub volts_share: f64,
    /// One per kind of rail.
    pub bands: Vec<Band>,
}

/// A shop's own file: whatever it says goes before the file of the program.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ShopRanges {
    /// Instead of [`TypicalRanges::leads`].
    pub leads: Option<LeadDoubt>,
    /// Instead of [`TypicalRanges::shorted_between_ohms`].
    pub shorted_between_ohms: Option<f64>,
    /// Instead of [`TypicalRanges::like_good_board`].
    pub like_good_board: Option<LikeGoodBoard>,
    /// Instead of [`TypicalRanges::volts_share`].
    pub volts_share: Option<f64>,
    /// Bands that are new or take another's place.
    pub bands: Vec<Band>,
}

impl TypicalRanges {
    /// With a shop's file laid over it.
    ///
    /// # Errors
    /// One line that names what makes no sense in the result, as [`Self::check`] does.
    pub fn layered(mut self, shop: &ShopRanges) -> Result<Self, String> {
        self.leads = shop.leads.unwrap_or(self.leads);
        self.shorted_between_ohms = shop.shorted_between_ohms.unwrap_or(self.shorted_between_ohms);
        self.like_good_board = shop.like_good_board.unwrap_or(self.like_good_board);
        self.volts_share = shop.volts_share.unwrap_or(self.volts_share);
        for band in &shop.bands {
            match self.bands.iter_mut().find(|own| own.name == band.name) {
                Some(own) => *own = band.clone(),
                None => self.bands.push(band.clone()),
            }
        }
        self.check()?;
        Ok(self)
    }

    /// Whether the numbers can be used.
    ///
    /// # Errors
    /// One line: the band, what is wrong and what to write instead.
    pub fn check(&self) -> Result<(), String> {
        let positive = |what: &str, value: f64| match value {
            v if v.is_finite() && v > 0.0 => Ok(()),
            v => Err(format!("{what} is {v}: write a number above zero")),
        };
        let not_negative = |what: &str, value: f64| match value {
            v if v.is_finite() && v >= 0.0 => Ok(()),
            v => Err(format!("{what} is {v}: write zero or more")),
        };
        not_negative("leads.contact_ohms", self.leads.contact_ohms)?;
        not_negative("leads.unknown_lead_ohms", self.leads.unknown_lead_ohms)?;
        positive("shorted_between_ohms", self.shorted_between_ohms)?;
        positive("like_good_board.diode_volts", self.like_good_board.diode_volts)?;
        positive("volts_share", self.volts_share)?;
        if !(self.like_good_board.ohms_factor.is_finite() && self.like_good_board.ohms_factor > 1.0) {
            return Err("like_good_board.ohms_factor: write a number above 1".into());
        }
        for band in &self.bands {
            band.check().map_err(|why| format!("band '{}': {why}", band.name))?;
        }
        Ok(())
    }

    /// What is usual for a rail: the last band that fits (so a shop's own goes before the program's), or all bands of its
    /// use joined where its volts are unknown.
    pub fn band_of(&self, rail: &RailFacts) -> Option<Band> {
        let used_for = rail.use_of()?;
        let volts = rail.nominal_volts.filter(|v| v.is_finite()).map(f64::abs);
        let fits = |band: &&Band| {
            let above = band.from_volts.zip(volts).is_none_or(|(from, v)| v >= from);
            let below = band.to_volts.zip(volts).is_none_or(|(to, v)| v < to);
            band.used_for == used_for && above && below
        };
        let mut fitting = self.bands.iter().filter(fits).cloned();
        if volts.is_some() { fitting.next_back() } else { fitting.reduce(Band::joined) }
    }
}

impl Band {
    /// Joined with another that may be meant as well: the wider range, and shorted only where both say so.
    fn joined(self, other: Self) -> Self {
        let both = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a.min(b));
        Self {
            name: format!("{} or {}", self.name, other.name),
            ohms: self.ohms.zip(other.ohms).map(|(a, b)| a.joined(b)),
            shorted_below_ohms: both(self.shorted_below_ohms, other.shorted_below_ohms),
            diode_volts: self.diode_volts.zip(other.diode_volts).map(|(a, b)| a.joined(b)),
            shorted_below_diode_volts: both(self.shorted_below_diode_volts, other.shorted_below_diode_volts),
            ..self
        }
    }

    fn check(&self) -> Result<(), String> {
        for (what, span) in [("ohms", self.ohms), ("diode_volts", self.diode_volts)] {
            let Some(span) = span else { continue };
            // Ranges of ohms are compared in decades, so they cannot start at zero.
            if !(span.from.is_finite() && span.from > 0.0 && span.to.is_none_or(|to| to.is_finite() && to > span.from))
            {
                return Err(format!("{what} must start above zero and end above its start"));
            }
        }
        let shorted = [
            ("shorted_below_ohms", self.shorted_below_ohms),
            ("shorted_below_diode_volts", self.shorted_below_diode_volts),
        ];
        for (what, value) in shorted {
            let Some(value) = value else { continue };
            if self.used_for == RailUse::Core {
                return Err(format!(
                    "{what} is not allowed: low values can be healthy on a core, compare a good board"
                ));
            }
            if !(value.is_finite() && value > 0.0) {
                return Err(format!("{what} is {value}: write a number above zero, or leave it out"));
            }
        }
        if self.source.trim().is_empty() {
            return Err("source is missing: write where the numbers come from".into());
        }
        Ok(())
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn parsed<T: serde::de::DeserializeOwned>(text: &str) -> T {
        let options = ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
        options.from_str(text).unwrap_or_else(|e| panic!("{e}"))
    }

    pub(crate) fn ranges() -> TypicalRanges {
        parsed(TYPICAL_READINGS_RON)
    }

    fn rail(volts: Option<f64>, stated_use: Option<RailUse>) -> RailFacts {
        RailFacts { nominal_volts: volts, stated_use, ..RailFacts::default() }
    }

    #[test]
    fn the_file_that_comes_along_holds_the_customary_ranges() {
        let ranges = ranges();
        ranges.check().expect("it makes sense");
        // Customary values of the trade; common practice, no published source.
        for (volts, use_of, ohms) in [
            (Some(12.0), RailUse::MainInput, (10e3, None)),
            (Some(5.0), RailUse::System, (500.0, Some(100e3))),
            (Some(3.3), RailUse::System, (500.0, Some(100e3))),
            (Some(1.8), RailUse::System, (100.0, Some(50e3))),
            (None, RailUse::System, (100.0, Some(100e3))),
            (Some(1.2), RailUse::Memory, (20.0, Some(500.0))),
            (Some(1.0), RailUse::Core, (0.3, Some(50.0))),
        ] {
            let span = ranges.band_of(&rail(volts, Some(use_of))).and_then(|b| b.ohms).expect("a range");
            assert_eq!((span.from, span.to), ohms, "{use_of:?}");
        }
        assert!(ranges.bands.iter().all(|b| b.source == "common practice, no published source"));
        assert_eq!(ranges.band_of(&rail(None, None)), None);
    }

    #[test]
    fn a_shop_lays_its_own_over_it() {
        let shop: ShopRanges = parsed(
            r#"(shorted_between_ohms: 3.0, bands: [
                (name: "memory", used_for: memory, ohms: (from: 30.0, to: 400.0), source: "ours"),
                (name: "5 V of the buoy", used_for: system, from_volts: 4.9, to_volts: 5.1, ohms: (from: 900.0), source: "ours"),
            ])"#,
        );
        let layered = ranges().layered(&shop).expect("fits");
        assert_eq!(layered.shorted_between_ohms, 3.0);
        assert_eq!(layered.volts_share, ranges().volts_share);
        assert_eq!(layered.bands.len(), ranges().bands.len() + 1);
        let five = layered.band_of(&rail(Some(5.0), None)).and_then(|b| b.ohms).expect("a range");
        assert_eq!(five, Span { from: 900.0, to: None });
        let memory = layered.band_of(&rail(None, Some(RailUse::Memory))).expect("a band");
        assert_eq!((memory.ohms.map(|s| s.from), memory.shorted_below_ohms), (Some(30.0), None));
    }

    #[test]
    fn nonsense_is_refused_by_name() {
        for (text, says) in [
            (r#"(bands: [(name: "x", used_for: core, shorted_below_ohms: 0.1, source: "s")])"#, "not allowed"),
            (r#"(bands: [(name: "x", used_for: memory, ohms: (from: 5.0, to: 2.0), source: "s")])"#, "end above"),
            (r#"(bands: [(name: "x", used_for: memory, ohms: (from: 0.0), source: "s")])"#, "start above zero"),
            (r#"(bands: [(name: "x", used_for: memory, source: " ")])"#, "source is missing"),
            (r"(volts_share: -1.0)", "volts_share"),
            (r"(like_good_board: (ohms_factor: 1.0, diode_volts: 0.1))", "above 1"),
        ] {
            let error = ranges().layered(&parsed(text)).expect_err(text);
            assert!(error.contains(says) && error.lines().count() == 1, "{error}");
        }
    }
}
