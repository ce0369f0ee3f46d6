//! Carries the commands of lining up out, and takes the answers of its background work in.

use super::{
    Lining, LiningCommand, Side, corners,
    work::{self, LinedUp},
};
use crate::window::{
    app::App,
    command::Command,
    document::Edit,
    screen::{Layer, Range},
    work::Outcome,
};
use joulemark_locate::align::{PointPair, Refinement};

/// Title of the work, as it is shown.
const REFINING: &str = "Refining on the board's edges";
const COMPARING: &str = "Looking whether the camera moved";

impl App {
    /// Carries a command of lining up out.
    pub fn line_up(&mut self, command: LiningCommand) {
        let Some(session) = &self.session else { return };
        let Some(entry) = session.document.take(&session.shown) else { return };
        let (take, pairs, refined) = (entry.name.clone(), entry.pairs.clone(), entry.refined.clone());
        if command == LiningCommand::Open {
            self.open_lining(take, pairs, refined);
            return;
        }
        let face_corners = session.face().map(corners).unwrap_or_default();
        let Some(lining) = &mut self.screen.lining else { return };
        // Other pairs have another mapping: what was refined from the old ones goes.
        let set = |pairs: Vec<PointPair>| Command::Edit(Edit::Pairs { take: take.clone(), pairs, refined: None });
        match command {
            LiningCommand::Open => {}
            LiningCommand::Done => {
                let (pairs_now, refined_now) = (pairs.len(), refined.is_some());
                let changed = lining.pairs_before != (pairs, refined);
                self.screen.lining = None;
                self.screen.map = None;
                if changed {
                    let (count, edges) = (pairs_now, if refined_now { ", refined on the board's edges" } else { "" });
                    self.note(format!("take {take} lined up by {count} point pairs{edges}"));
                    self.apply(Command::Locate);
                }
            }
            LiningCommand::Point(side, at) => {
                lining.said = None;
                let other = if side == Side::Picture { Side::Drawing } else { Side::Picture };
                lining.turn = other;
                lining.cursor[usize::from(side == Side::Drawing)] =
                    lining.cursor[usize::from(side == Side::Drawing)].map(|_| at);
                match lining.pending {
                    Some((pending, waiting)) if pending != side => {
                        lining.pending = None;
                        lining.turn = Side::Picture;
                        let (px, mm) = if side == Side::Picture { (at, waiting) } else { (waiting, at) };
                        let pair = PointPair { x_px: px[0], y_px: px[1], x_mm: mm[0], y_mm: mm[1] };
                        self.apply(set([pairs, vec![pair]].concat()));
                    }
                    // Clicked again on the same side: corrected.
                    _ => lining.pending = Some((side, at)),
                }
            }
            LiningCommand::RemoveLast => {
                if lining.pending.take().is_some() {
                    lining.turn = Side::Picture;
                } else if let Some((_, rest)) = pairs.split_last() {
                    self.apply(set(rest.to_vec()));
                }
            }
            LiningCommand::Remove(index) => {
                let mut rest = pairs;
                if index < rest.len() {
                    rest.remove(index);
                    self.apply(set(rest));
                }
            }
            LiningCommand::Clear => {
                lining.pending = None;
                self.apply(set(Vec::new()));
            }
            LiningCommand::Refine => self.start_refining(),
            LiningCommand::TakeOver(from) => self.start_comparing(from),
            LiningCommand::Look(look) => lining.look = look,
            LiningCommand::Shift(by) => match lining.look {
                super::Look::Opacity => lining.opacity = (lining.opacity + by).clamp(0.0, 1.0),
                _ => lining.wipe = (lining.wipe + by).clamp(0.0, 1.0),
            },
            LiningCommand::Step([dx, dy]) => self.step_cursor([dx, dy]),
            LiningCommand::Corner(by) => {
                let last = face_corners.len() as i64;
                if last > 0 {
                    lining.turn = Side::Drawing;
                    let here = lining.cursor[1].and_then(|c| face_corners.iter().position(|p| *p == c));
                    let next = here.map_or(0, |i| (i as i64 + by).rem_euclid(last));
                    lining.cursor[1] = Some(face_corners[next as usize]);
                }
            }
            LiningCommand::Set => {
                let side = lining.turn;
                if let Some(at) = lining.cursor[usize::from(side == Side::Drawing)] {
                    self.line_up(LiningCommand::Point(side, at));
                }
            }
            LiningCommand::Turn(side) => lining.turn = side,
        }
    }

    fn open_lining(&mut self, take: String, pairs: Vec<PointPair>, refined: Option<Refinement>) {
        let Some(session) = &self.session else { return };
        let Some(view) = session.view() else {
            self.screen.said = Some("read the take first, then line it up".into());
            return;
        };
        self.screen.layer = if view.located.is_some() { Layer::Before } else { Layer::Frame };
        (self.screen.range, self.screen.range_kept) = (Range::Auto, false);
        self.screen.map = None;
        let none = pairs.is_empty();
        self.screen.lining =
            Some(Lining { pairs_before: (pairs, refined), wipe: 0.5, opacity: 0.5, ..Lining::default() });
        // The newest other take of the same face that is lined up.
        let face = session.document.take(&take).map(|t| t.face.clone());
        let from = session
            .document
            .case
            .takes
            .iter()
            .rev()
            .find(|t| t.name != take && t.pairs.len() > 1 && Some(&t.face) == face.as_ref());
        if none && let Some(from) = from.map(|t| t.name.clone()) {
            self.start_comparing(from);
        }
    }

    fn step_cursor(&mut self, [dx, dy]: [f64; 2]) {
        let shape = self.session.as_ref().and_then(|s| s.view()).map(|v| v.take.stack.shape());
        let middle_mm = self.session.as_ref().and_then(|s| s.face()).and_then(|f| f.outline.first().copied());
        let Some(lining) = &mut self.screen.lining else { return };
        let predicted = lining.predicted();
        let side = lining.turn;
        let start = match (side, shape) {
            (Side::Picture, Some(shape)) => Some([shape.width_px as f64 / 2.0, shape.height_px as f64 / 2.0]),
            (Side::Drawing, _) => middle_mm,
            _ => None,
        };
        let start = predicted.filter(|(s, _)| *s == side).map(|(_, p)| p).or(start);
        let step = if side == Side::Picture { 1.0 } else { 0.5 };
        let cursor = &mut lining.cursor[usize::from(side == Side::Drawing)];
        // The first key shows the crosshair where it is, the next ones move it.
        *cursor = match *cursor {
            Some([x, y]) => Some([x + dx * step, y + dy * step]),
            None => start,
        };
    }

    fn start_refining(&mut self) {
        let Some(session) = &self.session else { return };
        let (Some(view), Some(entry)) = (session.view(), session.document.take(&session.shown)) else { return };
        let (take, pairs, serial) = (view.take.clone(), entry.pairs.clone(), session.serial);
        let (board, face) = (session.board.clone(), entry.face.clone());
        self.start(REFINING, move |_| Outcome::LinedUp(serial, Box::new(work::refine(&take, pairs, &board, &face))));
    }

    fn start_comparing(&mut self, from: String) {
        let Some(session) = &self.session else { return };
        let Some(view) = session.view() else { return };
        let (later, serial, document) = (view.take.clone(), session.serial, session.document.clone());
        let earlier = session.views.get(&from).map(|v| v.take.clone());
        let folder = session.folder.clone();
        self.start(COMPARING, move |progress| {
            let answer = work::take_over(&later, &from, earlier, folder, &document, progress);
            Outcome::LinedUp(serial, Box::new(answer))
        });
    }

    /// Takes an answer in. An answer about other pairs or another take than are shown now changes nothing.
    pub(in crate::window) fn lined_up(&mut self, serial: u64, answer: LinedUp) {
        let Some(session) = self.session.as_ref().filter(|s| s.serial == serial && s.shown == answer.take) else {
            return;
        };
        let Some(entry) = session.document.take(&answer.take) else { return };
        if entry.pairs != answer.from_pairs {
            return;
        }
        if let Some((pairs, refined)) = answer.pairs {
            self.apply(Command::Edit(Edit::Pairs { take: answer.take, pairs, refined }));
        }
        if let Some(lining) = &mut self.screen.lining {
            lining.said = Some(answer.words);
        }
    }
}
