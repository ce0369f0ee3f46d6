//! What is known of the selected part: rails, limits, watts, and what the picture measures over it.

use egui::{Label, RichText, Ui};

use super::super::{command::Command, drawing::reading, screen::Screen, session::Session, words};
use crate::theme::{self, SMALL};

/// Draws the section when a part is selected.
pub fn show(ui: &mut Ui, session: &Session, screen: &Screen, out: &mut Vec<Command>) {
    let found = screen.selection.part.as_ref().and_then(|name| session.board.part(name));
    let Some((face, part)) = found else {
        return;
    };
    theme::section(ui, format!("Part {}", part.designator));
    let mut facts = reading::facts(session, part).into_iter().skip(1);
    let kind = part.kind.words();
    let here = session.face().is_some_and(|f| f.name == face.name);
    let place = if here { String::new() } else { format!(", on face {}", face.name) };
    let mut said = vec![format!("{kind} of {} by {} mm{place}", part.width_mm, part.height_mm)];
    said.extend(&mut facts);
    if let Some(view) = session.view() {
        said.extend(measured(screen, view.serial, view.take.unit));
    }
    for fact in said {
        ui.add(Label::new(RichText::new(fact).size(SMALL)).wrap());
    }
    ui.horizontal_wrapped(|ui| {
        for rail in &part.rails {
            let lit = screen.selection.rail.as_ref() == Some(rail);
            let button = ui.selectable_label(lit, format!("Rail {rail}"));
            if button.on_hover_text("Light every part on it").clicked() {
                out.push(Command::SelectRail(rail.clone()));
            }
        }
    });
    theme::hairline(ui);
}

/// The rise over the footprint at the moment shown.
fn measured(screen: &Screen, serial: u64, unit: joulemark_frames::Unit) -> Option<String> {
    let known = screen.part_curve.as_ref().filter(|c| c.of.0 == serial)?;
    let Some(curve) = &known.curve else {
        return Some("not seen in this picture".to_owned());
    };
    let now = *curve.rise.get(screen.frame)?;
    let value = match curve.sigma {
        _ if now.is_nan() => return Some("no pixel on it has a value".to_owned()),
        Some(sigma) => words::with_doubt(now, sigma, unit),
        None => words::plain(now, words::unit(unit)),
    };
    let pixels = if curve.pixels == 1 { "1 pixel".to_owned() } else { format!("{} pixels", curve.pixels) };
    Some(format!("{value} above its start at this moment, mean of {pixels}"))
}
