//! The tools of the stage.

/// What the hands do on the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tool {
    /// Select and move.
    #[default]
    Select,
    /// A number with words.
    Callout,
    /// An arrow.
    Arrow,
    /// An ellipse.
    Loop,
    /// Words.
    Text,
    /// A line with its length.
    Measure,
    /// Dim everything else.
    Dim,
}

impl Tool {
    /// All, with their keys.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::Select, "S"),
        (Self::Callout, "N"),
        (Self::Arrow, "A"),
        (Self::Loop, "O"),
        (Self::Text, "T"),
        (Self::Measure, "R"),
        (Self::Dim, "U"),
    ];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Select => "Select",
            Self::Callout => "Callout",
            Self::Arrow => "Arrow",
            Self::Loop => "Loop",
            Self::Text => "Text",
            Self::Measure => "Measuring line",
            Self::Dim => "Dim the surroundings",
        }
    }

    /// Its name within a sentence.
    pub fn in_sentence(self) -> &'static str {
        match self {
            Self::Select => "select",
            Self::Callout => "callout",
            Self::Arrow => "arrow",
            Self::Loop => "loop",
            Self::Text => "text",
            Self::Measure => "measuring line",
            Self::Dim => "dimming",
        }
    }

    /// How it is used.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Select => {
                "Click a mark to select it; drag it, or its handles, to move it. Drag beside marks to move the view."
            }
            Self::Callout => "Press at the place that is meant and drag to where the number is to stand.",
            Self::Arrow => "Drag from the tail to the thing that is meant.",
            Self::Loop => "Drag from one corner of the loop to the other.",
            Self::Text => "Click where the words begin; type them on the right.",
            Self::Measure => "Drag from one end to the other.",
            Self::Dim => "Drag over what stays bright, from corner to corner.",
        }
    }
}
