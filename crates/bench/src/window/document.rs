//! What the user can change about a case, as a list of edits that undoes. Holds no recordings and no results.

use std::sync::Arc;

use joulemark_frames::CountsLaw;
use joulemark_locate::{
    align::{PointPair, Refinement},
    board::Board,
};

use super::{bench_edit::BenchEdit, drawing::BoardEdit};
use crate::case::{Case, TakeEntry, connection::Connection};

/// The editable content of a case.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// The content of `case.ron`.
    pub case: Case,
    /// The drawing.
    pub board: Arc<Board>,
    /// Connections that were made before this case was opened: they are over, and the next one asks again.
    pub connections_over: usize,
}

/// One change to a [`Document`]. `take` is a take's name.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// Rename the case.
    Name(String),
    /// Free text.
    Notes(String),
    /// The shorted rail.
    Rail(String),
    /// Resistance of both leads together.
    LeadOhms(Option<f64>),
    /// The first injected frame.
    InjectFrom { take: String, frame: Option<usize> },
    /// The face in the picture.
    Face { take: String, face: String },
    /// Point pairs between picture and face.
    Pairs { take: String, pairs: Vec<PointPair>, refined: Option<Refinement> },
    /// What a count means.
    Counts { take: String, law: Option<CountsLaw> },
    /// Put a take at an index.
    AddTake { index: usize, entry: Box<TakeEntry> },
    /// Take it out again. The files stay.
    RemoveTake(String),
    /// Change the drawing.
    Board(BoardEdit),
    /// Change what was measured, planned and done at the bench.
    Bench(BenchEdit),
    /// Several changes that are one to the user.
    Several { words: String, edits: Vec<Edit> },
}

impl Edit {
    /// What the edit does, for "Undo: ...".
    pub fn words(&self) -> String {
        match self {
            Self::Name(_) => "rename the case".to_owned(),
            Self::Notes(_) => "change the notes".to_owned(),
            Self::Rail(rail) => format!("set the rail to {rail}"),
            Self::LeadOhms(Some(ohms)) => format!("set the leads to {ohms} ohms"),
            Self::LeadOhms(None) => "mark the leads' resistance as unknown".to_owned(),
            Self::InjectFrom { frame: Some(frame), .. } => format!("let injection start at frame {frame}"),
            Self::InjectFrom { frame: None, .. } => "let the log say when injection starts".to_owned(),
            Self::Face { face, .. } => format!("set the face to {face}"),
            Self::Pairs { refined: Some(_), .. } => "refine the mapping on the board's edges".to_owned(),
            Self::Pairs { pairs, .. } => format!("use {} point pairs", pairs.len()),
            Self::Counts { law: Some(law), .. } => format!("state the counts as {law}"),
            Self::Counts { law: None, .. } => "take back what a count means".to_owned(),
            Self::AddTake { entry, .. } => format!("add take {}", entry.name),
            Self::RemoveTake(name) => format!("remove take {name}"),
            Self::Board(edit) => edit.words(),
            Self::Bench(edit) => edit.words.clone(),
            Self::Several { words, .. } => words.clone(),
        }
    }

    /// What goes into the case log, when it is worth a line there.
    pub fn record(&self) -> Option<String> {
        match self {
            Self::Name(name) => Some(format!("case named {name}")),
            Self::Rail(rail) => Some(format!("rail {rail} chosen as the shorted one")),
            Self::LeadOhms(Some(ohms)) => Some(format!("leads of the supply set to {ohms} ohms")),
            Self::LeadOhms(None) => Some("resistance of the supply's leads marked as unknown".to_owned()),
            Self::InjectFrom { take, frame: Some(frame) } => {
                Some(format!("injection marked from frame {frame} of take {take}"))
            }
            Self::InjectFrom { take, frame: None } => Some(format!("injection of take {take} as its log says")),
            Self::Counts { take, law: Some(law) } => Some(format!("counts of take {take} stated as {law}")),
            Self::AddTake { entry, .. } => Some(format!("take {} added", entry.name)),
            Self::RemoveTake(name) => Some(format!("take {name} removed")),
            Self::Bench(edit) => edit.record.clone(),
            Self::Several { edits, .. } => {
                let records: Vec<String> = edits.iter().filter_map(Self::record).collect();
                (!records.is_empty()).then(|| records.join("; "))
            }
            Self::Notes(_) | Self::Face { .. } | Self::Pairs { .. } | Self::Counts { .. } | Self::Board(_) => None,
        }
    }
}

impl Document {
    /// Applies an edit and returns the one that takes it back, or `None` when nothing would change.
    pub fn apply(&mut self, edit: Edit) -> Option<Edit> {
        let before = self.clone();
        let inverse = match edit {
            Edit::Name(name) => Edit::Name(std::mem::replace(&mut self.case.name, name)),
            Edit::Notes(notes) => Edit::Notes(std::mem::replace(&mut self.case.notes, notes)),
            Edit::Rail(rail) => Edit::Rail(std::mem::replace(&mut self.case.rail, rail)),
            Edit::LeadOhms(ohms) => Edit::LeadOhms(std::mem::replace(&mut self.case.lead_ohms, ohms)),
            Edit::InjectFrom { take, frame } => {
                let entry = self.take_mut(&take)?;
                Edit::InjectFrom { frame: std::mem::replace(&mut entry.inject_from, frame), take }
            }
            Edit::Face { take, face } => {
                let entry = self.take_mut(&take)?;
                Edit::Face { face: std::mem::replace(&mut entry.face, face), take }
            }
            Edit::Pairs { take, pairs, refined } => {
                let entry = self.take_mut(&take)?;
                let pairs = std::mem::replace(&mut entry.pairs, pairs);
                Edit::Pairs { pairs, refined: std::mem::replace(&mut entry.refined, refined), take }
            }
            Edit::Counts { take, law } => {
                let entry = self.take_mut(&take)?;
                Edit::Counts { law: std::mem::replace(&mut entry.counts, law), take }
            }
            Edit::AddTake { index, entry } => {
                if self.take(&entry.name).is_some() {
                    return None;
                }
                let name = entry.name.clone();
                self.case.takes.insert(index.min(self.case.takes.len()), *entry);
                Edit::RemoveTake(name)
            }
            Edit::RemoveTake(name) => {
                let index = self.case.takes.iter().position(|t| t.name == name)?;
                Edit::AddTake { index, entry: Box::new(self.case.takes.remove(index)) }
            }
            Edit::Board(edit) => Edit::Board(edit.apply(Arc::make_mut(&mut self.board))?),
            Edit::Bench(edit) => Edit::Bench(edit.apply(&mut self.case)),
            // One that changes nothing is left out; there is nothing to take back.
            Edit::Several { words, edits } => {
                let mut back: Vec<Edit> = edits.into_iter().filter_map(|edit| self.apply(edit)).collect();
                back.reverse();
                Edit::Several { words, edits: back }
            }
        };
        (*self != before).then_some(inverse)
    }

    /// The connection in force: the last one made since the case was opened.
    pub fn connection(&self) -> Option<&Connection> {
        self.case.connections.get(self.connections_over..)?.last()
    }

    /// A take by name.
    pub fn take(&self, name: &str) -> Option<&TakeEntry> {
        self.case.takes.iter().find(|t| t.name == name)
    }

    fn take_mut(&mut self, name: &str) -> Option<&mut TakeEntry> {
        self.case.takes.iter_mut().find(|t| t.name == name)
    }
}

/// Edits that can be taken back and done again.
#[derive(Clone, Debug, Default)]
pub struct History {
    undo: Vec<(Edit, Edit)>,
    redo: Vec<(Edit, Edit)>,
}

impl History {
    /// Applies an edit and remembers how to take it back.
    pub fn apply(&mut self, document: &mut Document, edit: Edit) -> bool {
        let Some(inverse) = document.apply(edit.clone()) else {
            return false;
        };
        self.undo.push((edit, inverse));
        self.redo.clear();
        true
    }

    /// Applies an edit of the same words as the last one as its continuation: undoing takes both back. False when it is
    /// none.
    pub fn go_on(&mut self, document: &mut Document, edit: &Edit) -> bool {
        let Some((last, _)) = self.undo.last_mut().filter(|(last, _)| last.words() == edit.words()) else {
            return false;
        };
        if document.apply(edit.clone()).is_some() {
            *last = edit.clone();
            self.redo.clear();
        }
        true
    }

    /// Takes the last edit back.
    pub fn undo(&mut self, document: &mut Document) -> Option<String> {
        let (edit, inverse) = self.undo.pop()?;
        document.apply(inverse.clone());
        let words = edit.words();
        self.redo.push((edit, inverse));
        Some(words)
    }

    /// Does the edit taken back last again.
    pub fn redo(&mut self, document: &mut Document) -> Option<String> {
        let (edit, inverse) = self.redo.pop()?;
        document.apply(edit.clone());
        let words = edit.words();
        self.undo.push((edit, inverse));
        Some(words)
    }

    /// What undoing would take back.
    pub fn next_undo(&self) -> Option<String> {
        self.undo.last().map(|(edit, _)| edit.words())
    }

    /// What redoing would do.
    pub fn next_redo(&self) -> Option<String> {
        self.redo.last().map(|(edit, _)| edit.words())
    }
}

#[cfg(test)]
mod tests {
    use joulemark_locate::align::AlignmentKind;

    use super::*;

    fn document() -> Document {
        let entry = |name: &str| TakeEntry { name: name.into(), face: "top".into(), ..TakeEntry::default() };
        Document {
            case: Case { rail: "V12".into(), takes: vec![entry("a"), entry("b")], ..Case::default() },
            ..Document::default()
        }
    }

    #[test]
    fn every_kind_of_edit_undoes_and_redoes() {
        let edits = [
            Edit::Name("Buoy radio".into()),
            Edit::Notes("wet".into()),
            Edit::Rail("V5".into()),
            Edit::LeadOhms(Some(0.06)),
            Edit::InjectFrom { take: "a".into(), frame: Some(60) },
            Edit::Face { take: "a".into(), face: "bottom".into() },
            Edit::Pairs {
                take: "b".into(),
                pairs: vec![PointPair { x_px: 1.0, y_px: 2.0, x_mm: 3.0, y_mm: 4.0 }],
                refined: Some(Refinement {
                    kind: AlignmentKind::Similarity,
                    image_from_board: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
                    covariance: Vec::new(),
                }),
            },
            Edit::Counts { take: "a".into(), law: Some(CountsLaw::CENTIKELVIN) },
            Edit::RemoveTake("a".into()),
            Edit::Board(BoardEdit::Name("Buoy radio, upper half".into())),
            Edit::AddTake { index: 0, entry: Box::new(TakeEntry { name: "c".into(), ..TakeEntry::default() }) },
            Edit::Several {
                words: "add take d".into(),
                edits: vec![
                    Edit::AddTake { index: 1, entry: Box::new(TakeEntry { name: "d".into(), ..TakeEntry::default() }) },
                    Edit::Rail("V3".into()),
                    Edit::Face { take: "none such".into(), face: "top".into() },
                ],
            },
        ];
        let start = document();
        let (mut now, mut history) = (document(), History::default());
        let mut states = vec![now.clone()];
        for edit in edits {
            assert!(history.apply(&mut now, edit.clone()), "{edit:?} changed nothing");
            states.push(now.clone());
        }
        for wanted in states.iter().rev().skip(1) {
            assert!(history.undo(&mut now).is_some());
            assert_eq!(&now, wanted);
        }
        assert_eq!(now, start);
        assert_eq!(history.undo(&mut now), None);
        for wanted in &states[1..] {
            assert!(history.redo(&mut now).is_some());
            assert_eq!(&now, wanted);
        }
    }

    #[test]
    fn an_edit_that_changes_nothing_is_not_remembered() {
        let (mut now, mut history) = (document(), History::default());
        assert!(!history.apply(&mut now, Edit::Rail("V12".into())));
        assert!(!history.apply(&mut now, Edit::Face { take: "none such".into(), face: "top".into() }));
        assert_eq!(history.next_undo(), None);
    }

    #[test]
    fn what_goes_on_is_taken_back_together() {
        let notes = |text: &str| Edit::Notes(text.into());
        let (mut now, mut history) = (document(), History::default());
        assert!(!history.go_on(&mut now, &notes("w")), "there is nothing to go on with");
        history.apply(&mut now, Edit::Rail("V5".into()));
        assert!(!history.go_on(&mut now, &notes("w")), "the last one is something else");
        history.apply(&mut now, notes("w"));
        assert!(history.go_on(&mut now, &notes("we")) && history.go_on(&mut now, &notes("wet")));
        assert_eq!(now.case.notes, "wet");
        history.undo(&mut now);
        assert_eq!((now.case.notes.as_str(), now.case.rail.as_str()), ("", "V5"));
        history.redo(&mut now);
        assert_eq!(now.case.notes, "wet");
    }

    #[test]
    fn a_new_edit_forgets_what_was_undone() {
        let (mut now, mut history) = (document(), History::default());
        history.apply(&mut now, Edit::Rail("V5".into()));
        history.undo(&mut now);
        history.apply(&mut now, Edit::Rail("V3".into()));
        assert_eq!(history.redo(&mut now), None);
    }
}
