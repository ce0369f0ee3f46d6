//! The comparison in the background: takes that were not read yet are read and located first.

use std::{path::Path, sync::Arc};

use anyhow::Context as _;
use joulemark_frames::Progress;
use joulemark_locate::{
    FootprintCurve, Scene,
    align::Alignment,
    board::{Board, Part},
    footprint_curve,
    repair_check::{self, Side},
};
use nalgebra::Point2;

use super::{
    super::{document::Document, session::TakeView, work},
    Compared,
};

/// What a comparison needs.
#[derive(Debug)]
pub struct Asked<'a> {
    /// The case's folder.
    pub folder: Option<&'a Path>,
    /// Its content.
    pub document: &'a Document,
    /// Its drawing.
    pub board: &'a Board,
    /// Takes before and after by name, with their views where they were located already.
    pub takes: [(String, Option<Arc<TakeView>>); 2],
    /// How often the document had changed.
    pub changes: u64,
}

/// Compares two takes.
///
/// # Errors
/// A take that cannot be read or located.
pub fn compare(asked: &Asked<'_>, progress: &dyn Progress) -> anyhow::Result<Compared> {
    let [before, after] = &asked.takes;
    let (before, after) = (view(asked, before, progress)?, view(asked, after, progress)?);
    progress.report("comparing", 0, 1);
    let entry = |v: &TakeView| asked.document.take(&v.take.name).context("the take is gone");
    let bench = asked.document.case.repair_bench(entry(&before)?, entry(&after)?);
    let sides = [located(asked.board, &before)?, located(asked.board, &after)?];
    let scenes = sides.each_ref().map(|(scene, _)| scene);
    let side = |i: usize, v: &'_ TakeView| (sides[i].1, scenes[i], v.take.timeline.clone());
    let (b, a) = (side(0, &before), side(1, &after));
    let check = repair_check::check(
        &Side { located: b.0, scene: b.1, timeline: &b.2 },
        &Side { located: a.0, scene: a.1, timeline: &a.2 },
        &bench,
    );
    let site = check.site.map(|s| (s.at_mm, s.sigma_mm));
    let curve = |v: &TakeView| site.and_then(|(at_mm, sigma_mm)| at_site(v, at_mm, sigma_mm));
    let curves = [curve(&before), curve(&after)];
    Ok(Compared { before, after, check: Arc::new(check), curves, changes: asked.changes })
}

fn view(
    asked: &Asked<'_>,
    (name, view): &(String, Option<Arc<TakeView>>),
    progress: &dyn Progress,
) -> anyhow::Result<Arc<TakeView>> {
    if let Some(view) = view.as_ref().filter(|v| v.located.is_some()) {
        return Ok(Arc::clone(view));
    }
    let read = view.as_ref().map(|v| Arc::clone(&v.take));
    let (view, fault) = work::view_take(asked.folder, asked.document, asked.board, name, read, progress)?;
    if view.located.is_none() {
        let why = fault.map(|f| f.message).or_else(|| view.alignment_fault.clone());
        anyhow::bail!(
            "take '{name}' was not located: {}",
            why.unwrap_or_else(|| "mark where injection starts, and line the picture up".to_owned())
        );
    }
    Ok(Arc::new(view))
}

fn located<'a>(board: &'a Board, view: &'a TakeView) -> anyhow::Result<(Scene<'a>, &'a joulemark_locate::Located)> {
    let alignment: &Alignment = view.alignment.as_ref().context("the picture is not lined up")?;
    let located = view.located.as_deref().context("the take was not located")?;
    let scene = view.inputs.scene(board, alignment);
    Ok((scene, located))
}

/// The rise over a square about the site, frame by frame.
fn at_site(view: &TakeView, at_mm: Point2<f64>, sigma_mm: f64) -> Option<FootprintCurve> {
    let side_mm = 2.0 * sigma_mm;
    let place = Part { x_mm: at_mm.x, y_mm: at_mm.y, width_mm: side_mm, height_mm: side_mm, ..Part::default() };
    footprint_curve(&view.take, view.alignment.as_ref()?, &place)
}
