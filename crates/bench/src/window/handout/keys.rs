//! Plain keys of the stage. Called while no text is typed and no dialog is open.

use egui::{Context, FocusDirection, Key, Modifiers};

use super::{HandoutCommand as C, HandoutScreen, Tool};

/// Arrow keys move a mark by so many points, with Shift by more.
const FINE: f32 = 1.0;
/// See [`FINE`].
const COARSE: f32 = 10.0;

/// Keys and what they do, for the list of keys.
pub const KEYS: [(&str, &str); 10] = [
    ("H", "handout: add a step of what map or drawing show"),
    ("F5", "handout: present the lesson from the step shown"),
    ("Page up, page down", "handout: the step before, the next one"),
    ("S N A O T R U", "handout: select, callout, arrow, loop, text, measuring line, dim"),
    ("Enter", "handout: put the mark of the tool in hand into the middle"),
    ("Arrows", "handout: move the selected mark (Shift: ten times as far)"),
    ("Tab", "handout: from mark to mark, and to the handles of the selected one"),
    ("Delete, Ctrl+D", "handout: delete the selected mark, copy it"),
    ("F, + and -", "handout: as the step shows it; look closer, look farther"),
    ("Space, left, P, B", "presenting: go on, go back, play, blank; Esc ends"),
];

/// What a key asks for, if it belongs to the stage.
pub fn plain(key: Key, modifiers: Modifiers, screen: &HandoutScreen, free: bool) -> Option<C> {
    let far = if modifiers.shift { COARSE } else { FINE };
    let chosen = screen.mark.is_some();
    let nudge = |x: f32, y: f32| chosen.then_some(C::Nudge { place: screen.handle, by: [x * far, y * far] });
    if let Some((tool, _)) = Tool::ALL.into_iter().find(|(_, name)| Key::from_name(name) == Some(key)) {
        return Some(C::Tool(tool));
    }
    match key {
        Key::ArrowLeft => nudge(-1.0, 0.0),
        Key::ArrowRight => nudge(1.0, 0.0),
        Key::ArrowUp => nudge(0.0, -1.0),
        Key::ArrowDown => nudge(0.0, 1.0),
        Key::Delete | Key::Backspace if chosen => Some(C::DeleteMark),
        Key::PageUp => Some(C::StepBy(-1)),
        Key::PageDown => Some(C::StepBy(1)),
        Key::Enter if free && screen.tool != Tool::Select => Some(C::AddInMiddle(screen.tool)),
        Key::F => Some(C::Look(None)),
        Key::Plus | Key::Equals => Some(C::ZoomBy(1.25)),
        Key::Minus => Some(C::ZoomBy(0.8)),
        _ => None,
    }
}

/// Keeps the arrows for the selected mark: they must not move the keyboard focus as well.
pub fn hold_arrows(ctx: &Context, screen: &HandoutScreen) {
    let arrows = [Key::ArrowLeft, Key::ArrowRight, Key::ArrowUp, Key::ArrowDown];
    if screen.mark.is_some() && ctx.input(|i| arrows.iter().any(|&k| i.key_pressed(k))) {
        ctx.memory_mut(|m| m.move_focus(FocusDirection::None));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_tool_has_the_key_that_it_is_listed_with() {
        for (tool, name) in Tool::ALL {
            let key = Key::from_name(name).unwrap();
            let asked = plain(key, Modifiers::NONE, &HandoutScreen::default(), true);
            assert_eq!(asked, Some(C::Tool(tool)));
        }
    }

    #[test]
    fn arrows_move_only_what_is_selected() {
        let none = HandoutScreen::default();
        assert_eq!(plain(Key::ArrowLeft, Modifiers::NONE, &none, true), None);
        let one = HandoutScreen { mark: Some(0), handle: Some(1), ..HandoutScreen::default() };
        let wanted = C::Nudge { place: Some(1), by: [-10.0, 0.0] };
        assert_eq!(plain(Key::ArrowLeft, Modifiers::SHIFT, &one, true), Some(wanted));
    }
}
