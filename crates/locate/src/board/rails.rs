//! Which rails are one and the same at DC, because a coil, ferrite, fuse or closed switch joins them.

use std::collections::VecDeque;

use super::Board;

/// A rail reached from the shorted one, and the parts on the way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JoinedRail {
    /// The rail's name.
    pub rail: String,
    /// Series parts between, in order; empty for the rail itself.
    pub via: Vec<String>,
}

impl Board {
    /// The rail itself, then every rail joined to it at DC by parts marked `series`, nearest first.
    pub fn joined_rails(&self, rail: &str) -> Vec<JoinedRail> {
        let mut found = vec![JoinedRail { rail: rail.to_owned(), via: Vec::new() }];
        let mut queue = VecDeque::from([0_usize]);
        while let Some(at) = queue.pop_front() {
            let here = found[at].clone();
            for part in self.faces.iter().flat_map(|f| &f.parts).filter(|p| p.series && p.rails.contains(&here.rail)) {
                for next in &part.rails {
                    if found.iter().all(|j| j.rail != *next) {
                        let mut via = here.via.clone();
                        via.push(part.designator.clone());
                        found.push(JoinedRail { rail: next.clone(), via });
                        queue.push_back(found.len() - 1);
                    }
                }
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Face, Part};
    use super::*;

    #[test]
    fn series_parts_chain_and_others_do_not() {
        let part = |designator: &str, series: bool, rails: &[&str]| Part {
            designator: designator.into(),
            series,
            rails: rails.iter().map(|r| (*r).to_owned()).collect(),
            ..Part::default()
        };
        let board = Board {
            faces: vec![Face {
                parts: vec![
                    part("L1", true, &["V12", "SW"]),
                    part("F1", true, &["V12", "VIN"]),
                    part("U1", false, &["V12", "V5"]),
                    part("FB2", true, &["SW", "VRF"]),
                ],
                ..Face::default()
            }],
            ..Board::default()
        };
        let joined = board.joined_rails("V12");
        let names: Vec<&str> = joined.iter().map(|j| j.rail.as_str()).collect();
        assert_eq!(names, ["V12", "SW", "VIN", "VRF"]);
        assert_eq!(joined[3].via, ["L1", "FB2"]);
    }
}
