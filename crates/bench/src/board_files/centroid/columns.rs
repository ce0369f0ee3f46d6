//! Which column of a list holds what, guessed from the header.

use std::path::Path;

use super::Table;
use crate::{board_files::text::fault, case::BadInput};

/// What a column of a list may hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Column {
    /// Reference designator.
    Designator,
    /// Centre.
    X,
    /// Centre, upwards.
    Y,
    /// Degrees, anticlockwise.
    Rotation,
    /// Top or bottom.
    Side,
    /// Name of the package.
    Package,
    /// Size along the part's own x axis.
    Width,
    /// Size along the part's own y axis.
    Height,
}

impl Column {
    /// All, in the order in which they are asked for.
    pub const ALL: [Self; 8] =
        [Self::Designator, Self::X, Self::Y, Self::Rotation, Self::Side, Self::Package, Self::Width, Self::Height];

    /// The name shown.
    pub fn words(self) -> &'static str {
        match self {
            Self::Designator => "designator",
            Self::X => "x of the centre",
            Self::Y => "y of the centre",
            Self::Rotation => "rotation",
            Self::Side => "side",
            Self::Package => "package",
            Self::Width => "width",
            Self::Height => "height",
        }
    }

    /// Whether a list without it is of no use.
    pub fn needed(self) -> bool {
        matches!(self, Self::Designator | Self::X | Self::Y)
    }

    /// Names that header lines use, best first; compared without case, spaces, signs and units.
    fn names(self) -> &'static [&'static str] {
        match self {
            Self::Designator => &[
                "designator",
                "refdes",
                "referencedesignator",
                "reference",
                "ref",
                "refdesignator",
                "part",
                "component",
                "name",
            ],
            Self::X => &[
                "centerx",
                "centrex",
                "midx",
                "xcenter",
                "xcentre",
                "posx",
                "positionx",
                "locationx",
                "xlocation",
                "xposition",
                "xcoordinate",
                "xcoord",
                "xpos",
                "x",
            ],
            Self::Y => &[
                "centery",
                "centrey",
                "midy",
                "ycenter",
                "ycentre",
                "posy",
                "positiony",
                "locationy",
                "ylocation",
                "yposition",
                "ycoordinate",
                "ycoord",
                "ypos",
                "y",
            ],
            Self::Rotation => &["rotation", "rot", "angle", "orientation", "rotationdeg"],
            Self::Side => &["side", "layer", "boardside", "mountside", "tb", "mirror", "face"],
            Self::Package => &["package", "footprint", "packagename", "case", "decal", "pattern", "shape"],
            Self::Width => &["width", "sizex", "bodywidth", "xsize"],
            Self::Height => &["height", "sizey", "length", "bodylength", "ysize"],
        }
    }
}

/// Index of each column, in the order of [`Column::ALL`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    at: [Option<usize>; 8],
}

impl Columns {
    /// The column that holds this.
    pub fn at(&self, column: Column) -> Option<usize> {
        self.at[column as usize]
    }

    /// States the column that holds this, or that none does.
    pub fn set(&mut self, column: Column, index: Option<usize>) {
        self.at[column as usize] = index;
    }

    /// The best known name wins; a header cell holds one thing only.
    pub fn guess(table: &Table) -> Self {
        let mut columns = Self::default();
        let header: Vec<String> = table.header.iter().map(|h| bare(h)).collect();
        for column in Column::ALL {
            let free = |i: usize| !columns.at.contains(&Some(i));
            let found =
                column.names().iter().find_map(|name| (0..header.len()).find(|&i| header[i] == *name && free(i)));
            columns.set(column, found);
        }
        columns
    }

    /// Refuses a mapping that lacks what is needed or points beyond the table.
    pub(super) fn check(&self, file: &Path, table: &Table) -> anyhow::Result<()> {
        for column in Column::ALL {
            match self.at(column) {
                None if column.needed() => {
                    return Err(fault(
                        file,
                        table.header_line,
                        format!("no column is known to hold the {}", column.words()),
                        "choose the column",
                    ));
                }
                Some(i) if i >= table.header.len() => {
                    return Err(BadInput::at(
                        file,
                        "",
                        format!("there is no column {}", i + 1),
                        "choose another column",
                    ));
                }
                _ => {}
            }
        }
        Ok(())
    }
}

/// How many of the columns a line names; 0 when it lacks one that is needed.
pub(super) fn header_score(cells: &[String]) -> usize {
    let cells: Vec<String> = cells.iter().map(|c| bare(c)).collect();
    let named = |column: Column| column.names().iter().any(|name| cells.iter().any(|c| c == name));
    if Column::ALL.into_iter().any(|c| c.needed() && !named(c)) {
        return 0;
    }
    Column::ALL.into_iter().filter(|c| named(*c)).count()
}

/// A header cell without case, spaces, signs and unit.
fn bare(cell: &str) -> String {
    let cell = cell.to_ascii_lowercase();
    let without = cell.split(['(', '[']).next().unwrap_or("");
    let mut words: Vec<&str> = without.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty()).collect();
    if words.len() > 1 && words.last().is_some_and(|w| super::LengthUnit::parse(w).is_some()) {
        words.pop();
    }
    words.concat()
}
