//! Designators by kind: C1, C2 ... and the next free one.

use joulemark_locate::board::{Board, PartKind};

/// The letters of a kind. Capacitor to crystal as in IEEE Std 315-1975 (from memory); the others are common practice
/// with no published source.
pub fn letters(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Capacitor => "C",
        PartKind::Resistor => "R",
        PartKind::Inductor => "L",
        PartKind::Ferrite => "FB",
        PartKind::Fuse => "F",
        PartKind::Ic => "U",
        PartKind::Module => "MOD",
        PartKind::Transistor => "Q",
        PartKind::Diode => "D",
        PartKind::Connector => "J",
        PartKind::Crystal => "Y",
        PartKind::TestPoint => "TP",
        PartKind::Shield => "SH",
        PartKind::Other => "X",
    }
}

/// `count` designators of a kind that the board does not use yet: the lowest free numbers.
pub fn free(board: &Board, kind: PartKind, count: usize) -> Vec<String> {
    let taken: std::collections::HashSet<&str> =
        board.faces.iter().flat_map(|f| &f.parts).map(|p| p.designator.as_str()).collect();
    (1_usize..)
        .map(|n| format!("{}{n}", letters(kind)))
        .filter(|name| !taken.contains(name.as_str()))
        .take(count)
        .collect()
}

#[cfg(test)]
mod tests {
    use joulemark_locate::board::{Face, Part};

    use super::*;

    #[test]
    fn gaps_are_filled_over_all_faces() {
        let part = |name: &str| Part { designator: name.into(), ..Part::default() };
        let face = |name: &str, parts: &[&str]| Face {
            name: name.into(),
            parts: parts.iter().map(|p| part(p)).collect(),
            ..Face::default()
        };
        let board =
            Board { faces: vec![face("top", &["C1", "C3", "R1"]), face("bottom", &["C4"])], ..Board::default() };
        assert_eq!(free(&board, PartKind::Capacitor, 3), ["C2", "C5", "C6"]);
        assert_eq!(free(&board, PartKind::Ic, 1), ["U1"]);
    }
}
