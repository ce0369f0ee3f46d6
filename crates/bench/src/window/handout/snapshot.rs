//! What map or drawing show at this moment, as the view of a step.

use super::super::{
    map::texture,
    screen::{Range, Screen},
    session::Session,
    stage::Stage,
};
use crate::lesson::{Shows, View, Zoom};

/// The view that is on the screen, or was before this stage was opened.
pub fn this_view(session: &Session, screen: &Screen) -> View {
    if let Some(drawing) = &screen.drawing {
        let zoom = drawing.view.zip(drawing.canvas()).map(|(view, canvas)| Zoom {
            middle: view.centre_mm,
            across: f64::from(canvas.width() / view.points_per_mm),
        });
        let shows = Shows::Drawing { face: drawing.face.clone(), rail: drawing.rail.clone() };
        return View { shows, zoom, range: None };
    }
    let case = &session.document.case;
    if let Some(view) = session.view().filter(|_| screen.stage != Stage::Readings) {
        let zoom = screen
            .map
            .zip(screen.canvas)
            .map(|(map, canvas)| Zoom { middle: map.centre_px, across: f64::from(canvas.width() / map.points_per_px) });
        let answer = view.located.is_some() && matches!(screen.stage, Stage::HotSpots | Stage::Suspects);
        let (layer, frame) = (screen.layer, screen.frame);
        let shows =
            Shows::Map { take: view.take.name.clone(), layer, frame, outlines: view.alignment.is_some(), answer };
        let range = (screen.range != Range::Auto).then(|| texture::range(screen, view));
        return View { shows, zoom, range };
    }
    let face =
        session.board.face(&screen.readings.face).or_else(|| session.face()).or_else(|| session.board.faces.first());
    let Some(face) = face else {
        return View::default();
    };
    let rail = screen.selection.rail.clone().or_else(|| session.board.rail(&case.rail).map(|r| r.name.clone()));
    View { shows: Shows::Drawing { face: face.name.clone(), rail }, ..View::default() }
}
