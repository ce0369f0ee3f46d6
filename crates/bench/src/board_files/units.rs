//! Units of length in design files, and the guess of one with its reason.

/// A unit of length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetre.
    Millimetre,
    /// A thousandth of an inch.
    Mil,
    /// 25.4 mm.
    Inch,
}

impl LengthUnit {
    /// All, for choosing.
    pub const ALL: [Self; 3] = [Self::Millimetre, Self::Mil, Self::Inch];

    /// Millimetres in one unit.
    pub fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Mil => 0.0254,
            Self::Inch => 25.4,
        }
    }

    /// The name shown.
    pub fn words(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Mil => "mil (thousandths of an inch)",
            Self::Inch => "inches",
        }
    }

    /// A unit by the way files write it.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().trim_end_matches('.').to_ascii_lowercase().as_str() {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" | "metric" => Some(Self::Millimetre),
            "mil" | "mils" | "thou" => Some(Self::Mil),
            "in" | "inch" | "inches" | "\"" | "imperial" => Some(Self::Inch),
            _ => None,
        }
    }
}

/// A unit and why it was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitGuess {
    /// The unit.
    pub unit: LengthUnit,
    /// Why, in words.
    pub reason: String,
    /// Whether the file states it; otherwise it is a guess to be confirmed.
    pub stated: bool,
}

impl UnitGuess {
    /// The user's word, or the file's.
    pub fn stated(unit: LengthUnit, reason: impl Into<String>) -> Self {
        Self { unit, reason: reason.into(), stated: true }
    }

    /// By the span of the positions alone. Boards are some 8 mm to 600 mm long (common practice, no published source).
    pub fn by_span(span: f64) -> Self {
        let (unit, reason) = if span > 600.0 {
            (LengthUnit::Mil, format!("positions span {span:.0}, more than a board has millimetres"))
        } else if span > 0.0 && span < 8.0 {
            (LengthUnit::Inch, format!("positions span {span:.2}, less than a board has millimetres"))
        } else {
            (LengthUnit::Millimetre, format!("positions span {span:.0}, a usual board in millimetres"))
        };
        Self { unit, reason, stated: false }
    }

    /// The note for the user, where nothing was stated.
    pub(super) fn note(&self) -> Option<String> {
        (!self.stated).then(|| format!("the unit is not stated; {} taken: {}", self.unit.words(), self.reason))
    }
}
