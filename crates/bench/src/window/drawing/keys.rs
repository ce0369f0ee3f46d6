//! Plain keys of the drawing bench.

use egui::{Event, Key, Modifiers};

use super::{Along, Draw, Tool};

/// Whether this pressed key belongs to the bench, and what it asks for.
pub fn plain(key: Key, modifiers: Modifiers) -> Option<Draw> {
    let shift = modifiers.shift;
    let step = if shift { 10.0 } else { 1.0 };
    Some(match (key, shift) {
        (Key::S, _) => Draw::Tool(Tool::Select),
        (Key::P, _) => Draw::Tool(Tool::Part),
        (Key::O, false) => Draw::Tool(Tool::Outline),
        (Key::O, true) => Draw::OutlineAround,
        (Key::H, _) => Draw::Tool(Tool::Hole),
        (Key::Q, _) => Draw::Tool(Tool::Square),
        (Key::V, _) => Draw::Tool(Tool::Pan),
        (Key::R, false) => Draw::Rotate(90.0),
        (Key::R, true) => Draw::Rotate(15.0),
        (Key::M, shift) => Draw::Mirror { left_right: !shift },
        (Key::A, false) => Draw::Align(Along::Left),
        (Key::A, true) => Draw::Align(Along::Top),
        (Key::B, false) => Draw::Align(Along::Column),
        (Key::B, true) => Draw::Align(Along::Row),
        (Key::D, _) => Draw::Array { columns: 2, rows: 1, dx_mm: 0.0, dy_mm: 0.0 },
        (Key::Delete | Key::Backspace, _) => Draw::Delete,
        (Key::U, _) => Draw::Renumber,
        (Key::K, _) => Draw::NextKind,
        (Key::L, false) => Draw::NextRail,
        (Key::L, true) => Draw::NameRail,
        (Key::N, false) => Draw::NextFace,
        (Key::N, true) => Draw::AddFace,
        (Key::T, _) => Draw::Ghost,
        (Key::Enter, _) => Draw::Finish,
        (Key::F, _) => Draw::Fit,
        (Key::W, _) => Draw::Close,
        (Key::I, _) => Draw::Import,
        (Key::E, false) => Draw::ExportSvg,
        (Key::E, true) => Draw::ExportJson,
        (Key::G, false) => Draw::FromShelf,
        (Key::G, true) => Draw::ToShelf,
        (Key::ArrowLeft, _) => Draw::Nudge(-step, 0.0),
        (Key::ArrowRight, _) => Draw::Nudge(step, 0.0),
        (Key::ArrowUp, _) => Draw::Nudge(0.0, -step),
        (Key::ArrowDown, _) => Draw::Nudge(0.0, step),
        (Key::Plus | Key::Equals, _) => Draw::Zoom(1.25),
        (Key::Minus, _) => Draw::Zoom(0.8),
        _ => return None,
    })
}

/// Copy, paste and select all, as the desktop sends them.
pub fn clipboard(event: &Event) -> Option<Draw> {
    match event {
        Event::Copy => Some(Draw::Copy),
        Event::Paste(_) => Some(Draw::Paste),
        Event::Key { key, pressed: true, modifiers, .. } if modifiers.command => match key {
            Key::A => Some(Draw::SelectAll),
            Key::C => Some(Draw::Copy),
            Key::V => Some(Draw::Paste),
            _ => None,
        },
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The list that the help and the palette show must say what the keys do.
    #[test]
    fn every_listed_key_does_what_it_is_listed_for() {
        for (words, key, draw) in super::super::listed() {
            let (shift, name) = key.strip_prefix("Shift+").map_or((false, key), |k| (true, k));
            let modifiers = Modifiers { shift, ..Modifiers::NONE };
            let done = match name.strip_prefix("Ctrl+") {
                Some(name) => clipboard(&Event::Key {
                    key: Key::from_name(name).unwrap(),
                    physical_key: None,
                    pressed: true,
                    repeat: false,
                    modifiers: Modifiers::COMMAND,
                }),
                None => plain(Key::from_name(name).unwrap(), modifiers),
            };
            assert_eq!(done, Some(draw), "{words}");
        }
    }
}
