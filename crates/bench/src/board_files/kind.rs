//! Which format a file has, by its content; and which kind of part a designator names.

use std::path::Path;

use joulemark_locate::board::PartKind;

/// A format of design files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// Centroid (pick-and-place) list, delimited text.
    Centroid,
    /// IPC-D-356 or IPC-D-356A netlist.
    Netlist,
    /// Gerber layer: profile or components.
    Gerber,
    /// SVG drawing.
    Svg,
    /// DXF drawing.
    Dxf,
}

impl FileKind {
    /// All.
    pub const ALL: [Self; 5] = [Self::Centroid, Self::Netlist, Self::Gerber, Self::Svg, Self::Dxf];

    /// The name shown.
    pub fn words(self) -> &'static str {
        match self {
            Self::Centroid => "centroid list (pick-and-place)",
            Self::Netlist => "IPC-D-356A netlist",
            Self::Gerber => "Gerber layer",
            Self::Svg => "SVG drawing",
            Self::Dxf => "DXF drawing",
        }
    }

    /// By the content; the name decides only for text that could be a list.
    pub fn of(file: &Path, bytes: &[u8]) -> Option<Self> {
        let head = String::from_utf8_lossy(&bytes[..bytes.len().min(64 << 10)]);
        let lines = || head.lines().map(str::trim_end).filter(|l| !l.trim().is_empty());
        if head.contains("<svg") {
            return Some(Self::Svg);
        }
        if head.starts_with("AutoCAD Binary DXF") {
            return Some(Self::Dxf);
        }
        if head.contains("%FS") || head.contains("%MO") || lines().any(|l| l.starts_with("G04 ") && l.ends_with('*')) {
            return Some(Self::Gerber);
        }
        let record = |l: &str| {
            ["317", "327", "307", "367", "017", "027", "389"].iter().any(|code| l.starts_with(code)) && l.len() > 30
                || l.starts_with("P  ")
        };
        if lines().take(40).any(record) {
            return Some(Self::Netlist);
        }
        // Group code 0 and SECTION open every DXF; 999 comments may come before.
        let pairs: Vec<&str> = head.lines().map(str::trim).take(64).collect();
        if pairs.windows(2).any(|w| w[0] == "0" && w[1] == "SECTION") {
            return Some(Self::Dxf);
        }
        let extension = file.extension().and_then(|e| e.to_str()).unwrap_or("").to_ascii_lowercase();
        let list = matches!(extension.as_str(), "csv" | "tsv" | "txt" | "pos" | "xy" | "mnt");
        let columns = lines().take(40).any(|l| l.split([',', ';', '\t']).count() >= 4);
        (list || columns).then_some(Self::Centroid)
    }
}

/// The kind of part by the letters of its designator: the class letters of ASME Y14.44 (formerly IEEE 315, clause 22)
/// where they are unambiguous, and FB, TP, SH as commonly used (common practice, no published source).
pub fn part_kind(designator: &str) -> PartKind {
    let letters: String =
        designator.chars().take_while(char::is_ascii_alphabetic).map(|c| c.to_ascii_uppercase()).collect();
    match letters.as_str() {
        "C" | "CP" => PartKind::Capacitor,
        "R" | "RN" | "RV" | "RT" => PartKind::Resistor,
        "L" => PartKind::Inductor,
        "FB" | "FER" => PartKind::Ferrite,
        "F" => PartKind::Fuse,
        "U" | "IC" => PartKind::Ic,
        "M" | "MOD" => PartKind::Module,
        "Q" | "T" => PartKind::Transistor,
        "D" | "CR" | "LED" | "ZD" => PartKind::Diode,
        "J" | "P" | "X" | "CN" | "CON" => PartKind::Connector,
        "Y" | "XTAL" => PartKind::Crystal,
        "TP" => PartKind::TestPoint,
        "SH" => PartKind::Shield,
        _ => PartKind::Other,
    }
}
